package plan

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/inspect"
)

// What the body does not say of reaching a zone or a section line is not taken for nothing in the way:
// it is unknown, until the body has an entry for it or somebody found at the vehicle that it can be
// reached. It is one gap for each casting.

// withFound is the body with what somebody found can be reached, where it does not say itself. Several
// entries for one place are alternatives.
func withFound(b *body.Body, found []inspect.Access) *body.Body {
	out := *b
	out.Access = slices.Clone(b.Access)
	for _, a := range found {
		for _, to := range a.To {
			if a.Fails != "" || b.SaysAccess(to) {
				continue
			}
			k := slices.IndexFunc(out.Access, func(x body.Access) bool { return x.To == to })
			switch {
			case k < 0:
				k = len(out.Access)
				out.Access = append(out.Access, body.Access{To: to})
			case len(out.Access[k].Needs) == 0: // nothing has to be off
				continue
			}
			if out.Access[k].Needs = append(out.Access[k].Needs, a.Off); len(a.Off) == 0 {
				out.Access[k].Needs = nil
			}
		}
	}
	return &out
}

// reachUnknown says why nobody knows how a zone or section line is reached; empty: it is known.
func (b *builder) reachUnknown(to string) string {
	if !b.hasAccess(to) {
		return "access to " + b.placeName(to) + " is not in the body"
	}
	if was := b.shut[body.ZoneID(to)]; was != "" && b.unhindered(to) {
		return b.placeName(to) + " " + was + ", and the body lists nothing in its way"
	}
	return ""
}

// unhindered says that the body has an entry for it by which nothing has to be off.
func (b *builder) unhindered(to string) bool {
	return slices.ContainsFunc(b.in.Body.Access, func(a body.Access) bool { return a.To == to && len(a.Needs) == 0 })
}

func (b *builder) placeName(to string) string {
	if _, ok := b.in.Body.Line(body.LineID(to)); ok {
		return "section line " + to
	}
	return "zone " + to
}

// shutZones is the zones of which it is on record that they could not be reached, and when.
func shutZones(r inspect.Result) map[body.ZoneID]string {
	out := map[body.ZoneID]string{}
	for _, c := range r.Coverage {
		if c.Shut() {
			out[c.Zone] = soFar(c)
		}
	}
	return out
}

// reachGaps is the places on castings that the items have to reach and of which nobody knows how:
// one gap for each casting.
func (b *builder) reachGaps() []Gap {
	var out []Gap
	_, _, goals := b.targets()
	for _, g := range goals {
		why := ""
		if g.casting != "" {
			why = b.reachUnknown(g.to)
		}
		if why == "" {
			continue
		}
		k := slices.IndexFunc(out, func(x Gap) bool { return x.Casting == g.casting })
		if k < 0 {
			k = len(out)
			casting, _ := b.in.Body.Casting(g.casting)
			out = append(out, Gap{Part: casting.Part, Name: casting.Name, Casting: g.casting})
		}
		x := &out[k]
		x.To, x.Lacks = append(x.To, g.to), append(x.Lacks, why)
		for _, f := range g.finds {
			if !slices.Contains(x.For, f) {
				x.For = append(x.For, f)
			}
		}
		slices.SortFunc(x.For, byName)
	}
	return out
}

// reachText is a gap of access in a sentence.
func (g Gap) reachText() string {
	return fmt.Sprintf("on %s %s: nobody knows what has to come off to work there for %s", g.Name, strings.Join(g.Lacks, "; "), findingsText(g.For))
}

// reachHint is what to enter.
const reachHint = "write under 'access' of the body what has to be off before each of them, 'needs: []' where nothing has to be; or record under 'access' of the job who found that they can be reached, and when"
