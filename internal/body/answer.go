package body

// What is answered to a question of yes and no. A field that nobody filled is none of them.
const (
	Yes     = "yes"
	No      = "no"
	Unknown = "unknown"
)
