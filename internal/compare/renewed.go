package compare

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/plan"
)

// A part may be lost although nobody chose to change it: opening a joint destroys it, it is used
// once only, or it is changed for another finding. Then nothing is repaired on the old one: what
// was found on it goes with it, by one treatment that fits the new part and puts all of it right.

// planned plans and prices a mix, with what is lost on the way taken for changed.
func (h *hunt) planned(x candidate) (Route, []diag.Note) {
	f := h.f
	r := Route{ID: x.id, Name: x.name, Items: x.items, Feasible: true}
	p, notes := plan.Build(f.planInput(x.items))
	for {
		next, refusal := f.takenFor(r.Items, p)
		if refusal != "" {
			r.Excluded, r.Feasible = refusal, false
		}
		if next == nil || refusal != "" {
			break
		}
		r.Items, x = next, f.openAnew(x, next)
		p, notes = plan.Build(f.planInput(next))
		r.Name = f.name(h.c.chosen, next)
	}
	r.Ask, r.Measure = x.ask, x.measure
	for _, g := range p.Gaps {
		if len(g.To) > 0 { // somebody at the vehicle can say; once for each casting
			r.Measure = append(r.Measure, body.AccessOf(g.Casting))
			continue
		}
		r.Ask = append(r.Ask, without(names(g.For), r.Ask)...)
	}
	if p.Unplanned != "" && !slices.ContainsFunc(p.Gaps, func(g plan.Gap) bool { return len(g.To) == 0 }) { // where something is not known the route waits for that instead
		r.Excluded, r.Feasible = join(r.Excluded, "it cannot be planned: "+p.Unplanned), false
	}
	slices.Sort(r.Ask)
	slices.Sort(r.Measure)
	r.Open = len(r.Ask) + len(r.Measure)
	bill, more := cost.Price(p, f.in.Body, f.in.Shop, f.in.Job)
	r.Plan, r.Bill = p, bill
	return r, append(notes, more...)
}

// without is what of a list is not in another, each once.
func without(list, other []string) []string {
	var out []string
	for _, x := range list {
		if !slices.Contains(other, x) && !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	return out
}

// openAnew is a candidate with other items, and what is open of them.
func (f *finder) openAnew(x candidate, items []plan.Item) candidate {
	out := candidate{id: x.id, name: x.name, chosen: x.chosen, items: items}
	out.ask, out.measure = f.pending(items)
	for _, it := range items {
		if it.Kind == body.SectionOff || it.Kind == body.ReplaceCasting { // of these some may be open and others not
			in := func(list []string) []string {
				return slices.DeleteFunc(slices.Clone(list), func(n string) bool { return !slices.Contains(names(it.Findings), n) })
			}
			out.ask, out.measure = append(out.ask, in(x.ask)...), append(out.measure, in(x.measure)...)
			continue
		}
		if !it.Kind.NewPart() || f.unknown(it) {
			out.opens(it)
			continue
		}
		for k := range f.wards {
			w := &f.wards[k]
			o, ok := w.verdict(it.Kind, "")
			switch {
			case !slices.Contains(it.Findings, w.findings[0]) || ok && o.verdict == decide.Allowed:
			case ok && o.verdict == decide.Undecided:
				out.measure = append(out.measure, names(w.findings)...)
			default:
				out.ask = append(out.ask, names(w.findings)...)
			}
		}
	}
	return out
}

// takenFor is the items with one treatment for each part that the plan loses and that something was
// found on; nil where they are so already. It is refused where the new part may not be fitted for
// what was found, or does not put it right.
func (f *finder) takenFor(items []plan.Item, p plan.Plan) ([]plan.Item, string) {
	for _, l := range p.Lost {
		w, mine := f.foundOn(l.Part, items)
		fits := func(it plan.Item) bool {
			return it.Part == l.Part && (it.Kind.NewPart() || it.Kind == body.ReplaceCasting)
		}
		if len(mine) == 0 || len(mine) == 1 && fits(items[mine[0]]) {
			continue
		}
		if w.casting != "" {
			if slices.ContainsFunc(mine, func(k int) bool { return fits(items[k]) }) {
				continue
			}
			return nil, fmt.Sprintf("the casting %s is lost on the way (%s), and this route does not replace it", l.Part, l.Because)
		}
		it, refusal := f.renewal(w, items, mine)
		if refusal != "" {
			return nil, refusal
		}
		out := []plan.Item{it}
		for k, x := range items {
			if !slices.Contains(mine, k) {
				out = append(out, x)
			}
		}
		return plan.Merge(out), ""
	}
	return nil, ""
}

// foundOn is all that was found on a part and is not left as it is by permission, as one ward, and
// the places of the items that treat it.
func (f *finder) foundOn(part body.PartID, items []plan.Item) (ward, []int) {
	all := ward{part: part}
	var mine []int
	for k := range f.wards {
		w := &f.wards[k]
		at := slices.IndexFunc(items, func(it plan.Item) bool { return slices.Contains(it.Findings, w.findings[0]) })
		if w.part != part || at < 0 || items[at].Kind == body.Leave && !items[at].Open {
			continue
		}
		all.casting = w.casting
		all.findings = append(all.findings, w.findings...)
		for _, kind := range w.kinds {
			if !slices.Contains(all.kinds, kind) {
				all.kinds = append(all.kinds, kind)
			}
		}
		if !slices.Contains(mine, at) {
			mine = append(mine, at)
		}
	}
	return all, mine
}

// renewal is the item that fits a new part for all that was found on the old one: by the treatment
// that is chosen already where it puts all of it right, else by the first that does.
func (f *finder) renewal(w ward, items []plan.Item, mine []int) (plan.Item, string) {
	p, _ := f.in.Body.Part(w.part)
	kind := p.Change()
	could := f.items(&w, kind)
	if len(could) == 0 {
		return plan.Item{}, fmt.Sprintf("%s is lost on the way, and no treatment of the body says that a new one puts a %s right (%s)", w.part, list(w.kinds), list(names(w.findings)))
	}
	it := could[0]
	for _, k := range mine {
		if at := slices.IndexFunc(could, func(c plan.Item) bool { return c.Treatment == items[k].Treatment && c.Kind == items[k].Kind }); at >= 0 {
			it = could[at]
			break
		}
	}
	slices.SortFunc(it.Findings, byName)
	for k := range f.wards {
		x := &f.wards[k]
		if !slices.Contains(w.findings, x.findings[0]) {
			continue
		}
		o, ok := x.verdict(kind, "")
		switch {
		case ok && o.verdict == decide.Forbidden:
			return it, fmt.Sprintf("%s is lost on the way, and %s is forbidden for %s (%s)", w.part, kind, list(names(x.findings)), o.because)
		case !ok || o.verdict == decide.Ask:
			it.Open, it.Ask = true, true
		case o.verdict == decide.Undecided:
			it.Open = true
		}
	}
	return it, ""
}

// mayGo says that the part of a finding may be lost whatever is done about that finding: then its
// treatment is not sure to be carried out, and weighs nothing.
func (f *finder) mayGo(it plan.Item) bool {
	if it.Kind.NewPart() || it.Kind == body.Leave || it.Kind == body.SectionOff || it.Kind == body.ReplaceCasting {
		return false
	}
	k := slices.IndexFunc(f.wards, func(w ward) bool { return slices.Contains(it.Findings, w.findings[0]) })
	if k < 0 || f.wards[k].casting != "" {
		return false
	}
	part := f.wards[k].part
	p, _ := f.in.Body.Part(part)
	changed := slices.ContainsFunc(f.wards, func(w ward) bool {
		return w.part == part && w.findings[0] != f.wards[k].findings[0] && f.mayRenew(&w)
	})
	return p.OneTime || changed || slices.ContainsFunc(f.in.Body.Joints, func(j body.Joint) bool { return slices.Contains(j.Destroys, part) })
}

// mayRenew says that the part may be changed for a ward, for all that is known.
func (f *finder) mayRenew(w *ward) bool {
	for _, kind := range []body.TreatmentKind{body.Exchange, body.ReplacePart} {
		if o, spoken := w.verdict(kind, ""); f.renews(w, kind) && (!spoken || o.verdict != decide.Forbidden) {
			return true
		}
	}
	return false
}
