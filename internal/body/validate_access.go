package body

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/doc"
)

// access checks what has to be off before something can be reached.
func (c *checker) access() {
	targets := c.targets()
	for i, a := range c.b.Access {
		path := at("access", i, "to")
		switch {
		case !slices.Contains(targets, a.To):
			c.fault(path, fmt.Sprintf("there is no part, zone or section line %q", a.To), doc.DidYouMean(a.To, targets))
		case slices.ContainsFunc(c.b.Access[:i], func(o Access) bool { return o.To == a.To }):
			c.fault(path, fmt.Sprintf("access to %q is given twice", a.To), "put the alternatives into one list")
		}
		same(c, at("access", i, "needs"), a.Needs)
		for j, parts := range a.Needs {
			c.alternative(at("access", i, "needs")+fmt.Sprintf("[%d]", j), a.To, parts)
		}
	}
	if len(c.problems) == 0 {
		c.reach()
	}
}

// assemblies: several parts, none of them a casting or used once only.
func (c *checker) assemblies() {
	for i, a := range c.b.Assemblies {
		path := at("assemblies", i)
		refs(c, path+".parts", aPart, a.Parts)
		if len(a.Parts) < 2 {
			c.fault(path+".parts", "an assembly is at least two parts", "name all parts that come off as one piece")
		}
		for k, id := range a.Parts {
			p, ok := c.b.Part(id)
			switch part := fmt.Sprintf("%s.parts[%d]", path, k); {
			case !ok:
			case p.Kind == PartCasting:
				c.fault(part, fmt.Sprintf("%q is a casting", id), "a casting comes off by itself")
			case p.OneTime:
				c.fault(part, fmt.Sprintf("%q is used once only", id), "it is lost when it comes off, so it stays in no assembly")
			}
		}
		notNegative(c, path+".off", a.Off)
		notNegative(c, path+".on", a.On)
	}
	same(c, "refit", c.b.Refits)
	for i, r := range c.b.Refits {
		path := at("refit", i)
		c.ref(path+".part", aPart, string(r.Part))
		refs(c, path+".after", aPart, r.After)
		if len(r.After) == 0 {
			c.fault(path+".after", "no part is named", "name what has to be back on before, or leave the entry out")
		}
		if slices.Contains(r.After, r.Part) {
			c.fault(path+".after", fmt.Sprintf("%q would have to be on before itself", r.Part), "take it out")
		}
	}
}

// targets is everything access can lead to. One identity must not name two of
// them.
func (c *checker) targets() []string {
	out := slices.Clone(c.known[aPart])
	claim := func(path, id string) {
		if slices.Contains(out, id) {
			c.fault(path, fmt.Sprintf("%q is the name of another part, zone or section line", id), "the list 'access' needs different names for them")
		}
	}
	for i, k := range c.b.Castings {
		for j, z := range k.Zones {
			claim(at("castings", i, "zones", j, "id"), string(z.ID))
		}
	}
	for i, a := range c.b.Assemblies {
		claim(at("assemblies", i, "id"), string(a.ID))
	}
	out = append(out, c.known[anAssembly]...)
	out = append(out, c.known[aZone]...)
	for i, l := range c.b.Lines {
		claim(at("section_lines", i, "id"), string(l.ID))
	}
	return append(out, c.known[aLine]...)
}

func (c *checker) alternative(path, to string, parts []PartID) {
	refs(c, path, aPart, parts)
	if len(parts) == 0 {
		c.fault(path, "the alternative names no part", "write 'needs: []' when nothing has to be off")
	}
	if i := slices.Index(parts, PartID(to)); i >= 0 {
		c.fault(fmt.Sprintf("%s[%d]", path, i), fmt.Sprintf("%q would have to be off before it can be reached", to), "take it out of the list")
	}
}

// reach finds what can never be reached: from what needs nothing it goes
// forward until nothing new can be reached.
func (c *checker) reach() {
	needs := map[string][][]PartID{}
	for _, a := range c.b.Access {
		needs[a.To] = a.Needs
	}
	reached := map[string]bool{}
	free := func(p PartID) bool { return len(needs[string(p)]) == 0 || reached[string(p)] }
	for again := true; again; {
		again = false
		for to, alternatives := range needs {
			if !reached[to] && len(alternatives) == 0 || !reached[to] && slices.ContainsFunc(alternatives, func(parts []PartID) bool { return all(parts, free) }) {
				reached[to], again = true, true
			}
		}
	}
	for i, a := range c.b.Access {
		if !reached[a.To] {
			c.fault(at("access", i), fmt.Sprintf("%q can never be reached: every alternative leads back to a part that is in the way of itself", a.To),
				circle(a.To, needs, free))
		}
	}
}

func all[T any](items []T, ok func(T) bool) bool {
	return !slices.ContainsFunc(items, func(x T) bool { return !ok(x) })
}

// circle follows the first alternatives until it comes back to where it was:
// "A needs B, B needs A".
func circle(from string, needs map[string][][]PartID, free func(PartID) bool) string {
	var seen, words []string
	for at := from; !slices.Contains(seen, at); {
		seen = append(seen, at)
		parts := needs[at][0]
		i := slices.IndexFunc(parts, func(p PartID) bool { return !free(p) })
		next := string(parts[i])
		words = append(words, at+" needs "+next)
		at = next
	}
	return strings.Join(words, ", ")
}
