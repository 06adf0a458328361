package explain

import (
	"regexp"
	"slices"
	"strings"

	"fettle/internal/diag"
)

// figurePattern is a number with what stands directly after it.
var figurePattern = regexp.MustCompile(`[-+]?[0-9][0-9,]*(?:\.[0-9]+)?(?:\s?(?:%|°C|°|[A-Za-z]+(?:/[A-Za-z]+)?))?`)

// plainMarks takes out how pages set numbers.
var plainMarks = strings.NewReplacer("\u2212", "-", "\u00a0", " ", "\u2009", " ")

// FiguresIn are the figures of a text, each as its number without sign of plus
// and grouping, and the word after it.
func FiguresIn(s string) [][2]string {
	s = plainMarks.Replace(s)
	var out [][2]string
	for _, m := range figurePattern.FindAllString(s, -1) {
		i := strings.IndexFunc(m, func(r rune) bool { return !strings.ContainsRune("+-0123456789,.", r) })
		number, word := m, ""
		if i >= 0 {
			number, word = m[:i], strings.TrimSpace(m[i:])
		}
		number = strings.TrimLeft(strings.TrimRight(strings.ReplaceAll(number, ",", ""), "."), "+-")
		out = append(out, [2]string{number, word})
	}
	return out
}

// mostPlaces is how many things a figure is shown under.
const mostPlaces = 12

// figure is every thing whose reasons have a figure, each with the branches that
// have it.
func (n *Names) figure(what string) (Reason, bool) {
	asked := FiguresIn(what)
	if len(asked) == 0 || strings.TrimLeft(strings.TrimSpace(what), "+-≥≤±<>= \u2212") == "" {
		return Reason{}, false
	}
	if c := strings.TrimLeft(strings.TrimSpace(what), "+-≥≤±<>= \u2212")[0]; c < '0' || c > '9' {
		return Reason{}, false
	}
	out, places := n.places(asked, sameUnit)
	if places == 0 {
		out, places = n.places(asked, NoUnit)
	}
	if places == 0 {
		return Reason{}, false
	}
	head := diag.Say("explain.figure", "{figure} stands in the reasons of {things}.", strings.TrimSpace(what), diag.Counted(places, "thing"))
	if places > mostPlaces {
		head = diag.Say("explain.figure-in-many", "{figure} stands in the reasons of {things} things; the first {shown}:", strings.TrimSpace(what), places, mostPlaces)
	}
	return because(head, out...), true
}

// places is the branches of things that have the figures asked for, at most so
// many as are shown, and how many things there are.
func (n *Names) places(asked [][2]string, same func(have, asked string) bool) ([]Reason, int) {
	var out []Reason
	count := 0
	for _, t := range n.Reasoned() {
		if slices.ContainsFunc(asked, func(f [2]string) bool { return !t.Numbers[f[0]] }) {
			continue
		}
		branch, ok := WithFigures(t.Tree, asked, same)
		if !ok {
			continue
		}
		if count++; count <= mostPlaces {
			branch.Said = diag.Say("explain.of-thing", "{thing}: {sentence}", t.Title(), branch.Said)
			out = append(out, branch)
		}
	}
	return out, count
}

// sameUnit says that a figure has the unit asked for, or that none was asked for.
func sameUnit(have, asked string) bool { return asked == "" || have != "" && sameWord(have, asked) }

// NoUnit says that the same, or that a figure stands without a unit, as the first
// two of "1.0 / 2.0 / 3.0 mm" do.
func NoUnit(have, asked string) bool { return have == "" || sameUnit(have, asked) }

// ReasonedThing is a thing with its reasons.
type ReasonedThing struct {
	thing
	Tree    Reason
	Numbers map[string]bool // of all its figures
}

// Reasoned is every thing with its reasons, those of the route shown before
// others. They are made once.
func (n *Names) Reasoned() []ReasonedThing {
	if n.trees == nil {
		for _, t := range n.things {
			x := ReasonedThing{t, t.why(), map[string]bool{}}
			x.Tree.numbersInto(x.Numbers)
			n.trees = append(n.trees, x)
		}
	}
	return n.trees
}

// numbersInto notes the number of every figure of a tree.
func (r Reason) numbersInto(seen map[string]bool) {
	for _, f := range FiguresIn(r.Text + " " + r.Source + " " + r.At) {
		seen[f[0]] = true
	}
	for _, u := range r.Under {
		u.numbersInto(seen)
	}
}

// WithFigures is what is left of a tree when only branches stay that have all
// figures asked for in one text.
func WithFigures(t Reason, asked [][2]string, same func(have, asked string) bool) (Reason, bool) {
	out := Reason{Said: t.Said, Source: t.Source, At: t.At}
	for _, u := range t.Under {
		if branch, ok := WithFigures(u, asked, same); ok {
			out.Under = append(out.Under, branch)
		}
	}
	return out, len(out.Under) > 0 || hasFigures(t.Text+" "+t.Source+" "+t.At, asked, same)
}

// hasFigures says that a text has every figure asked for.
func hasFigures(text string, asked [][2]string, same func(have, asked string) bool) bool {
	for _, a := range asked {
		tail := a[0] // of a grouped number only what stands behind the last comma
		if whole, _, _ := strings.Cut(a[0], "."); len(whole) > 3 {
			tail = a[0][len(whole)-3:]
		}
		if !strings.Contains(text, tail) {
			return false
		}
	}
	have := FiguresIn(text)
	for _, a := range asked {
		if !slices.ContainsFunc(have, func(h [2]string) bool { return h[0] == a[0] && same(h[1], a[1]) }) {
			return false
		}
	}
	return true
}

// sameWord says that two words after a number mean the same: "1 day", "2 days".
func sameWord(a, b string) bool {
	return strings.TrimSuffix(a, "s") == strings.TrimSuffix(b, "s") || spelt(a) == spelt(b)
}

func spelt(s string) string {
	switch s {
	case "minute", "minutes":
		return "min"
	case "hour", "hours":
		return "h"
	case "day", "days":
		return "d"
	case "°C":
		return "C"
	}
	return s
}
