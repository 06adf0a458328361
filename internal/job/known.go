package job

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/doc"
)

// known is the identities that may be referred to. A job may refer to each of
// many from each of many: none is looked for by going through all.
type known struct {
	list []string
	in   map[string]bool
}

func knownOf(list []string) known {
	k := known{list, make(map[string]bool, len(list))}
	for _, id := range list {
		k.in[id] = true
	}
	return k
}

// names is the identities of items.
func names[T any](items []T, id func(T) string) known {
	list := make([]string, len(items))
	for i, x := range items {
		list[i] = id(x)
	}
	return knownOf(list)
}

// maxHints is how many faults of a job look for the word that was meant: it is
// looked for among all there are.
const maxHints = 100

// ref checks that what is referred to exists; an empty reference is none.
func (c *checker) ref(path, what, id string, k known) {
	if id == "" || k.in[id] {
		return
	}
	hint := ""
	if c.hints++; c.hints <= maxHints {
		hint = doc.DidYouMean(id, k.list)
	}
	if hint == "" {
		hint = "enter it first, or see whether the name is right"
	}
	c.fault(path, fmt.Sprintf("%s %q does not exist", what, id), hint)
}

// person checks that a person is in the shop file.
func (c *checker) person(path, id string, people known) {
	if id == Erased { // nothing rests on it any more
		return
	}
	n := len(c.problems)
	if c.ref(path, "person", id, people); len(c.problems) > n && !strings.HasPrefix(c.problems[n].Hint, "did you mean") {
		p := &c.problems[n]
		p.Hint += "; somebody who has left stays in the shop file, with an absence ('absences')"
	}
}

// unique checks the form of identities and finds repeats; it returns them.
func unique[T any](c *checker, list, field string, items []T, id func(T) string) known {
	out := known{in: map[string]bool{}}
	for i, item := range items {
		v, at := id(item), fmt.Sprintf("%s[%d].%s", list, i, field)
		switch {
		case !idForm.MatchString(v):
			c.fault(at, fmt.Sprintf("%q is not an identity", v), "use letters, digits, '-', '_' and '.', beginning with a letter or digit")
		case out.in[v]:
			c.fault(at, fmt.Sprintf("%q is there twice", v), "give each its own")
		}
		out.list, out.in[v] = append(out.list, v), true
	}
	return out
}

func (c *checker) findingIDs() known {
	return names(c.s.Findings, func(f Finding) string { return string(f.ID) })
}

func (c *checker) evidenceIDs() known {
	return names(c.s.Evidence, func(e Evidence) string { return e.ID })
}

func (c *checker) lookIDs() known {
	return names(c.s.Looks, func(l Inspection) string { return l.ID })
}

func (c *checker) setupIDs() known {
	return names(c.s.Setups, func(x Setup) string { return x.ID })
}

// byName is the findings by their identities; of two with the same, the first.
func byName(findings []Finding) map[FindingID]Finding {
	out := make(map[FindingID]Finding, len(findings))
	for _, f := range slices.Backward(findings) {
		out[f.ID] = f
	}
	delete(out, "")
	return out
}
