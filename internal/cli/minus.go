package cli

import (
	"regexp"

	"github.com/alecthomas/kong"
)

// negative is an argument that begins with a negative number, which is a value and
// never a flag: no flag is named by a digit.
var negative = regexp.MustCompile(`^-\s?\.?\d`)

// withNegatives joins a flag with the negative number that follows it, as in
// --at -12.5,3,4, so that the parser does not take the number for a flag. Flags
// without a value and all that follows "--" stay as they are.
func withNegatives(args []string, takesValue map[string]bool) []string {
	var out []string
	for i := 0; i < len(args); i++ {
		if args[i] == "--" {
			return append(out, args[i:]...)
		}
		if i+1 < len(args) && takesValue[args[i]] && negative.MatchString(args[i+1]) {
			out = append(out, args[i]+"="+args[i+1])
			i++
			continue
		}
		out = append(out, args[i])
	}
	return out
}

// valueFlags are the flags of all commands that take a value, as they are typed.
func valueFlags(n *kong.Node) map[string]bool {
	out := map[string]bool{}
	for _, f := range n.Flags {
		if !f.IsBool() && !f.IsCounter() {
			out["--"+f.Name] = true
		}
	}
	for _, c := range n.Children {
		for f := range valueFlags(c) {
			out[f] = true
		}
	}
	return out
}
