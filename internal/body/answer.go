package body

// YesNo is what is answered to a question of yes and no. A field that nobody filled is none of
// its words.
type YesNo string

// What is answered to a question of yes and no.
const (
	Yes     YesNo = "yes"
	No      YesNo = "no"
	Unknown YesNo = "unknown"
)
