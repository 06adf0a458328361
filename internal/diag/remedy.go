package diag

// Deed is a kind of thing that can be done with the program. The packages that
// speak of one name it, and whoever shows their texts says how it is done there.
type Deed string

// Remedy is what can be done with the program about a note or a fault, told
// without a word of how: a terminal has a command for it, a page a button.
type Remedy struct {
	Do   Deed  `json:"do"`
	With []Arg `json:"with,omitempty"` // what is known of what it is done with
}

// Arg is one thing that it is done with.
type Arg struct {
	Name  string `json:"name"` // what it is: a file, a number
	Value string `json:"value"`
}

// Do is a remedy with arguments: names and values in turn.
func Do(d Deed, with ...string) *Remedy {
	r := Remedy{Do: d}
	for i := 0; i+1 < len(with); i += 2 {
		r.With = append(r.With, Arg{with[i], with[i+1]})
	}
	return &r
}

// All are the values of the arguments of a name, in order.
func (r Remedy) All(name string) []string {
	var out []string
	for _, x := range r.With {
		if x.Name == name {
			out = append(out, x.Value)
		}
	}
	return out
}

// How says how a remedy is done where its text is read: the command to type, the
// button to press; nothing where there is no way. Who knows none is nil.
type How func(Remedy) string

// Hint is a hint that ends in how its remedy is done.
func (h How) Hint(hint string, r *Remedy) string {
	if h == nil || r == nil {
		return hint
	}
	how := h(*r)
	if how == "" || hint == "" {
		return hint + how
	}
	return hint + ": " + how
}
