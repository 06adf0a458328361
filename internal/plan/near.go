package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// Opening is another set of parts to take off, nearly as cheap as the one of the
// plan.
type Opening struct {
	Parts []body.PartID `json:"parts"` // that come off
	Cost  unit.Minor    `json:"costMinor"`
	More  unit.Minor    `json:"moreMinor"`         // than the plan's
	Off   []body.PartID `json:"inAddition"`        // come off in addition
	Stay  []body.PartID `json:"stay"`              // stay on
	Lost  []body.PartID `json:"lost,omitempty"`    // lost only here
	Saved []body.PartID `json:"notLost,omitempty"` // lost only in the plan
	Text  string        `json:"text"`              // in words
}

// nearShare is how much dearer another opening may be to be shown: a planner may
// have reasons for it that no price tells.
const nearShare = 20 // one twentieth, 5 %

// maxNear is how many other openings are shown.
const maxNear = 6

// Alternatives is every smallest set of parts to take off that is at most 5 %
// dearer than the plan's, the cheapest first, at most six; none that only takes
// off more. The second result is false when the search was cut short, so that
// there may be others.
func Alternatives(in Input) ([]Opening, bool) {
	b := newBuilder(in)
	targets, _, goals := b.targets()
	qs, complete, _ := b.questions(targets, goals)
	best, _ := b.cheapest(targets, goals)
	if best.model == nil || !best.found.ok {
		return nil, complete
	}
	plan := b.openingOf(best, best.found.set)
	most := best.found.cost + best.found.cost/nearShare
	var all []Opening
	for _, q := range qs {
		b.gather(q.use)
		if best.found.vague == 0 {
			q.model.never |= q.model.vague
		}
		sets, whole := q.model.near(most)
		complete = complete && whole
		for _, s := range sets {
			all = append(all, b.openingOf(q, s))
		}
	}
	b.gather(best.use)
	all = smallest(all)
	slices.SortStableFunc(all, func(x, y Opening) int {
		return cmp.Or(cmp.Compare(x.Cost, y.Cost), cmp.Compare(len(x.Parts), len(y.Parts)), slices.Compare(x.Parts, y.Parts))
	})
	var out []Opening
	for _, o := range all {
		if slices.Equal(o.Parts, plan.Parts) {
			continue
		}
		if len(out) == maxNear {
			return out, false
		}
		out = append(out, b.against(o, plan))
	}
	return out, complete
}

// openingOf is a set of a question as identities.
func (b *builder) openingOf(q question, s set) Opening {
	o := Opening{Cost: minor(q.model.cost(s))}
	lost := (q.model.destroyed(s) | q.model.oneTime) & s
	for i, id := range q.model.ids {
		if s.has(i) {
			o.Parts = append(o.Parts, id)
		}
		if lost.has(i) {
			o.Lost = append(o.Lost, id)
		}
	}
	return o
}

// against says how an opening differs from the plan's.
func (b *builder) against(o, plan Opening) Opening {
	minus := func(x, y []body.PartID) []body.PartID {
		return slices.DeleteFunc(slices.Clone(x), func(p body.PartID) bool { return slices.Contains(y, p) })
	}
	o.More = o.Cost - plan.Cost
	o.Off, o.Stay = minus(o.Parts, plan.Parts), minus(plan.Parts, o.Parts)
	o.Lost, o.Saved = minus(o.Lost, plan.Lost), minus(plan.Lost, o.Lost)
	plain := o
	var words []string
	for _, a := range b.in.Body.Assemblies { // the same parts, in one piece or one by one
		switch held := len(minus(a.Parts, o.Off)) == 0; {
		case held && slices.Contains(o.Stay, a.ID):
			words = append(words, a.Name+" not as one piece, but part by part")
			plain.Off, plain.Stay = minus(plain.Off, a.Parts), minus(plain.Stay, []body.PartID{a.ID})
		case len(minus(a.Parts, o.Stay)) == 0 && slices.Contains(o.Off, a.ID):
			words = append(words, a.Name+" as one piece")
			plain.Stay, plain.Off = minus(plain.Stay, a.Parts), minus(plain.Off, []body.PartID{a.ID})
		}
	}
	say := func(what string, ids []body.PartID) {
		var names []string
		for _, id := range ids {
			names = append(names, b.nameOf(id))
		}
		if len(names) > 0 {
			words = append(words, what+" "+list(names))
		}
	}
	say("take off", plain.Off)
	say("leave on", plain.Stay)
	say("lost as well:", o.Lost)
	say("not lost:", o.Saved)
	if o.More > 0 {
		words = append(words, fmt.Sprintf("%s %s more", o.More.Grouped(), b.in.Shop.Currency))
	} else {
		words = append(words, "for the same money")
	}
	o.Text = strings.Join(words, "; ")
	return o
}

// nameOf is the name of a part or assembly, whichever are used now.
func (b *builder) nameOf(id body.PartID) string {
	for _, a := range b.in.Body.Assemblies {
		if a.ID == id {
			return a.Name
		}
	}
	return b.part(id).Name
}

// smallest drops what is there twice or holds another.
func smallest(all []Opening) []Opening {
	holds := func(x, y Opening) bool {
		return !slices.ContainsFunc(y.Parts, func(p body.PartID) bool { return !slices.Contains(x.Parts, p) })
	}
	var out []Opening
	for i, x := range all {
		if !slices.ContainsFunc(all[:i], func(y Opening) bool { return slices.Equal(x.Parts, y.Parts) }) &&
			!slices.ContainsFunc(all, func(y Opening) bool { return len(y.Parts) < len(x.Parts) && holds(x, y) }) {
			out = append(out, x)
		}
	}
	return out
}

// nearLimit is the number of sets the search for other openings may look at.
const nearLimit = 20000

// near is every set that costs at most so much, and from which no part can be
// left out; some others too. It branches as solve does: of the ways to go on,
// every feasible set contains one. False says that it was cut short.
func (r *removal) near(most int64) ([]set, bool) {
	var out []set
	seen, whole := map[set]bool{}, true
	var visit func(s set)
	visit = func(s set) {
		s = r.forced(s)
		if seen[s] || !whole || r.torn(s) || r.cost(s) > most {
			return
		}
		seen[s] = true
		if len(seen) > nearLimit {
			whole = false
			return
		}
		branches := r.open(s)
		if len(branches) == 0 {
			if _, _, stuck := r.off(s); stuck == 0 {
				out = append(out, s)
			}
			return
		}
		for _, x := range branches {
			visit(s | x)
		}
	}
	visit(r.targets)
	return out, whole
}
