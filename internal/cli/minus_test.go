package cli

import (
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// Every flag of every command that takes a value takes one that begins with a minus:
// none is refused as a flag. What it means is for the command to judge.
func TestNegativeValuesOfEveryFlag(t *testing.T) {
	var g grammar
	parser, err := kong.New(&g, kong.Exit(func(int) {}))
	if err != nil {
		t.Fatal(err)
	}
	flags, asked := valueFlags(parser.Model.Node), 0
	var each func(n *kong.Node, path []string)
	each = func(n *kong.Node, path []string) {
		for _, f := range n.Flags {
			if f.IsBool() || f.Name == "help" {
				continue
			}
			for _, v := range []string{"-12.5,3,4", "-.5", "-3", "-1,2,3; -4,5,6"} {
				asked++
				args := append(append([]string{}, path...), "--"+f.Name, v)
				isFlag := func(err error) bool {
					return err != nil && (strings.Contains(err.Error(), "unknown flag") || strings.Contains(err.Error(), "flag)"))
				}
				_, err := parser.Parse(withNegatives(args, flags))
				if isFlag(err) {
					t.Errorf("%v: %v", args, err)
				}
				if _, err := parser.Parse(args); !isFlag(err) {
					t.Errorf("%v alone: %v", args, err)
				}
			}
		}
		for _, c := range n.Children {
			each(c, append(append([]string{}, path...), c.Name))
		}
	}
	each(parser.Model.Node, nil)
	if asked < 200 {
		t.Errorf("only %d asked", asked)
	}
	for _, args := range [][]string{{"mesh", "--json", "-5.obj"}, {"mesh", "--", "--at", "-5"}, {"trace", "--at", "-x"}, {"trace", "--at"}, {"trace", "--at=-1", "-2"}} {
		if got := withNegatives(args, flags); strings.Join(got, "|") != strings.Join(args, "|") {
			t.Errorf("%v became %v", args, got)
		}
	}
}
