package explain

import (
	"strings"

	"fettle/internal/diag"
)

// Column is how texts are laid out where they are read: the width of a line, in characters,
// and how what they ask for is done there. Whoever shows them gives it.
type Column struct {
	Width int
	How   diag.How
}

// Wrap breaks a text into lines. The first begins with first, the others with rest.
func (c Column) Wrap(text, first, rest string) string {
	var b strings.Builder
	line := first
	used := len([]rune(first))
	fresh := true
	for _, w := range strings.Fields(text) {
		n := len([]rune(w))
		if !fresh && used+1+n > c.Width {
			b.WriteString(line + "\n")
			line, used, fresh = rest, len([]rune(rest)), true
		}
		if !fresh {
			line += " "
			used++
		}
		line += w
		used += n
		fresh = false
	}
	b.WriteString(line + "\n")
	return b.String()
}
