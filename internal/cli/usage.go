package cli

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/alecthomas/kong"
)

// How the parser of the command line words what is wrong with a value.
var (
	badValue  = regexp.MustCompile(`^(--[\w-]+|<[\w-]+>): expected (?:an? )?(?:valid \d+ bit )?(\w+)(?: value)? but got ("(?:[^"\\]|\\.)*")`)
	notOneOf  = regexp.MustCompile(`^(--[\w-]+) must be one of (.*) but got (".*")$`)
	dashFirst = regexp.MustCompile(`^unknown flag (-[^-,]\S*)`)
	dashDigit = regexp.MustCompile(`^unknown flag -\.?\d.*`)
	noneGiven = regexp.MustCompile(`^expected "(<.*)"`)
)

// kinds of value in plain words.
var kinds = map[string]string{"float": "a number", "int": "a whole number", "uint": "a whole number from 0 on"}

// usageText is what is wrong with a command line and where help is, in plain
// words.
func usageText(err error) string {
	help := "fettle --help"
	var p *kong.ParseError
	if errors.As(err, &p) && p.Context != nil && p.Context.Selected() != nil {
		help = p.Context.Selected().FullPath() + " --help"
	}
	text := err.Error()
	if m := badValue.FindStringSubmatch(text); m != nil {
		kind := kinds[m[2]]
		if kind == "" {
			kind = "a value"
		}
		text = fmt.Sprintf("%s: %s is given where %s is needed", m[1], m[3], kind)
		if strings.HasPrefix(m[3], `"-`) {
			text += fmt.Sprintf("; a value that begins with a dash is written %s", forShell(m[1]+"="+strings.Trim(m[3], `"`)))
		}
	} else if m := notOneOf.FindStringSubmatch(text); m != nil {
		words := strings.ReplaceAll(strings.ReplaceAll(m[2], `"`, ""), ",", ", ")
		text = fmt.Sprintf("%s: %s is not one of %s", m[1], m[3], words)
	} else if m := noneGiven.FindStringSubmatch(text); m != nil {
		text = m[1] + " is missing"
	} else if dashDigit.MatchString(text) {
		text = "a number that belongs to no flag: a place is one argument, as in --at '-10,-3,4; 5,6,7'; a name that begins with a dash is written with its folder, as in ./-name"
	} else if dashFirst.MatchString(text) {
		text += "; a name that begins with a dash is written with its folder, as in ./-name, or after --"
	}
	return fmt.Sprintf("%s; '%s' says more", text, help)
}

// forShell quotes an argument where a shell would take it apart.
func forShell(arg string) string {
	if strings.ContainsAny(arg, " ;&|<>()$`\"\\*?[]#~!{}") && !strings.Contains(arg, "'") {
		return "'" + arg + "'"
	}
	return arg
}
