package compare

import (
	"cmp"
	"fmt"
	"slices"
	"sort"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/sched"
	"fettle/internal/unit"
)

// Routes makes every route, plans and prices it, and ranks them. Every subset
// of the global actions (section lines, new castings) is looked at; inside it the
// treatments of the findings that no action covers are chosen together, since
// they share what comes off: the mix of least money, and every other mix that is
// quicker or has fewer open questions.
func Routes(in Input) (Result, []diag.Note) {
	in.Vehicle = in.Vehicle.While(in.Work)
	if in.Known == nil { // routes that are dated alike are dated once
		in.Known = &sched.Known{}
	}
	f := &finder{in: in, wards: wards(in), seams: map[body.LineID]float64{}, nested: map[[2]body.LineID]bool{}, known: map[string]choice{}, gaps: map[string][]plan.Gap{}, owns: map[job.FindingID][]choice{}}
	f.weigh = plan.NewWeigher(f.planInput(nil))
	f.packed = f.weigh.Packed()
	if len(f.wards) == 0 {
		return f.nothing()
	}
	var notes []diag.Note
	acts := f.actions()
	f.cutLines(acts)
	f.findNested(acts)
	if most := f.mostActions(); len(acts) > most {
		f.leftOut = len(acts) - most
		acts = f.foremost(acts)
		notes = append(notes, diag.Say("compare.too-many-actions", "more than {most} section lines and castings could be used; routes are made with the {most} that serve all findings together best", most).Note(diag.Note{Severity: diag.Caution, Where: "routes"}))
	}
	cands := f.candidates(acts)
	uncured := f.uncured(cands)
	for _, u := range uncured {
		notes = append(notes, u.note())
	}
	routes, said, more := f.plan(cands)
	notes = append(append(notes, more...), f.lookNotes()...)
	f.exclude(routes)
	routes = append(routes, f.totalLoss(routes))
	res := rank(routes)
	res.Uncured = uncured
	f.tellGap(&res)
	res.Worth = f.worth(res, said)
	res.Spread = f.spread(res)
	tellBlocked(res, &notes)
	notes = append(notes, notesOf(res, said)...)
	return res, notes
}

// nothing is the answer when there is no finding.
func (f *finder) nothing() (Result, []diag.Note) {
	p, notes := plan.Build(f.planInput(nil))
	bill, more := cost.Price(p, f.in.Body, f.in.Shop, f.in.Job)
	r := Route{ID: "nothing", Name: "Nothing to do", Feasible: true, Plan: p, Bill: bill, Rank: 1,
		Because: "no finding was entered and every control point is in tolerance and every area inspected, so there is nothing to repair"}
	r.Ask, r.Measure = f.pending(nil)
	if r.Open = len(r.Ask) + len(r.Measure); r.Open > 0 {
		r.Name = "No finding, but the vehicle is not shown to be sound"
		r.Because = "no finding was entered, but nothing is shown for " + list(r.OpenFor())
	}
	res := Result{Routes: []Route{r}, Best: r.ID}
	notes = append(notes, more...)
	tellBlocked(res, &notes)
	return res, notes
}

// cutLines measures every line once.
func (f *finder) cutLines(acts []action) {
	for _, a := range acts {
		if a.line != "" && f.in.Vehicle.Surface(a.casting) != nil {
			line, _ := f.in.Body.Line(a.line)
			if mm, err := plan.Seam(line, f.in.Vehicle); err == nil { // plan tells the error again where the line is used
				f.seams[a.line] = mm
			}
		}
	}
}

// candidates are the subsets of the actions, the empty one first, without those
// in which an action treats nothing and without repetitions.
func (f *finder) candidates(acts []action) []candidate {
	var out []candidate
	seen := map[string]bool{}
	for mask := range 1 << len(acts) {
		f.in.Work.Step()
		var chosen []action
		for k, a := range acts {
			if mask>>k&1 == 1 {
				chosen = append(chosen, a)
			}
		}
		c := f.candidate(chosen)
		if k := key(c.all()) + c.excluded; !c.silent && !seen[k] {
			seen[k] = true
			out = append(out, c)
		}
	}
	return out
}

// plan plans and prices the candidates, each with every mix worth showing. An
// excluded one is kept with its reason and no plan.
func (f *finder) plan(cands []candidate) ([]Route, map[string][]diag.Note, []diag.Note) {
	said := map[string][]diag.Note{}
	var out []Route
	var notes []diag.Note
	for i, c := range cands {
		f.in.Work.Part(i, len(cands))
		if c.excluded != "" {
			x := f.with(c, c.first())
			out = append(out, Route{ID: c.id, Name: x.name, Items: x.items, Open: len(x.ask) + len(x.measure), Ask: x.ask, Measure: x.measure, Excluded: c.excluded})
			continue
		}
		h := f.hunt(c)
		for _, r := range slices.Concat(h.front, h.spares) {
			said[r.ID] = h.said[key(r.Items)]
			out = append(out, r)
		}
		notes = append(notes, h.notes(c)...)
		if !h.proven && (f.unseen == 0 || h.leastMoney < f.unseen) {
			f.unseen = h.leastMoney
		}
	}
	return out, said, notes
}

// dated says that the route's plan has a finish and its bill is complete.
func dated(r Route) bool { return !r.Plan.Finish.IsZero() && r.Bill.Complete }

// before orders routes: fewest open questions, then plans that could be
// finished, then money, days and identity.
func before(a, b Route) bool {
	return cmp.Or(soFirst(a.Feasible, b.Feasible), cmp.Compare(a.Open, b.Open), soFirst(dated(a), dated(b)),
		cmp.Compare(a.Bill.Total, b.Bill.Total), cmp.Compare(a.Plan.Calendar, b.Plan.Calendar), cmp.Compare(a.ID, b.ID)) < 0
}

// soFirst compares two of which the one that is so comes first.
func soFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

// rank orders the routes, names the best and says why each stands where it
// stands.
func rank(routes []Route) Result {
	sort.SliceStable(routes, func(i, j int) bool {
		return class(routes[i]) < class(routes[j]) || class(routes[i]) == class(routes[j]) && before(routes[i], routes[j])
	})
	repairs := func(loss bool) bool {
		return slices.ContainsFunc(routes, func(r Route) bool { return r.ID != lossID && r.Feasible && r.Bill.IsLoss == loss })
	}
	allLost := repairs(true) && !repairs(false)
	if k := slices.IndexFunc(routes, func(r Route) bool { return r.ID == lossID }); allLost && k > 0 && routes[k].Feasible {
		loss := routes[k]
		routes = slices.Insert(slices.Delete(routes, k, k+1), 0, loss)
	}
	res := Result{Routes: routes}
	if routes[0].Feasible {
		res.Best = routes[0].ID
	}
	dominate(routes)
	for i := range routes {
		r := &routes[i]
		r.Rank = i + 1
		r.Because = because(*r, i == 0 && r.Feasible, leastOfAll)
		if i > 0 && r.ID != lossID && routes[i-1].ID != lossID && r.Excluded == "" {
			r.Changes = changes(routes[i-1], *r)
		}
	}
	return res
}

// class puts what can be done before what is judged a total loss, that before
// the total loss itself, and what is excluded last.
func class(r Route) int {
	switch {
	case !r.Feasible:
		return 3
	case r.ID == lossID:
		return 2
	case r.Bill.IsLoss:
		return 1
	}
	return 0
}

// tellBlocked adds the notes about the best route, or that there is none.
func tellBlocked(res Result, notes *[]diag.Note) {
	block := func(said diag.Said, hint string) {
		*notes = append(*notes, said.Note(diag.Note{Severity: diag.Blocking, Where: "routes", Hint: hint}))
	}
	best := res.Routes[0]
	switch {
	case res.Best == "":
		block(diag.Say("compare.no-route", "no route can be taken: every one is excluded"), "see the reasons of the routes; ask the manufacturer")
	case best.ID == lossID && !slices.ContainsFunc(res.Routes, func(r Route) bool { return r.ID != lossID && r.Feasible }):
		block(diag.Say("compare.no-repair", "every repair is excluded, or none can be planned, so that nothing says whether it is a total loss; nothing may start"), "see why routes are excluded, and what the data of the body lack")
	case best.ID == lossID:
		block(diag.Say("compare.total-loss", "every route is a total loss by the rule that applies; nothing may start until law and insurer have decided"), "")
	case best.Open > 0:
		block(diag.Say("compare.open", "nothing may start yet: the best route {waits}", waits(best)), "see what each of them needs")
	}
}

// dominate marks every route that another beats: no worse in money, days and
// questions, and better in one of them.
func dominate(routes []Route) {
	for i := range routes {
		a := &routes[i]
		for _, b := range routes {
			if a.ID == b.ID || a.ID == lossID || b.ID == lossID || !a.Feasible || !b.Feasible || !dated(*a) || !dated(b) {
				continue
			}
			if b.Bill.Total <= a.Bill.Total && b.Plan.Calendar <= a.Plan.Calendar && b.Open <= a.Open &&
				(b.Bill.Total < a.Bill.Total || b.Plan.Calendar < a.Plan.Calendar || b.Open < a.Open) {
				a.Dominated = b.ID
				break
			}
		}
	}
}

const leastOfAll = "the least money of the routes that may start now"

// tellGap puts to the best route how much cheaper one may be that was not looked at.
func (f *finder) tellGap(res *Result) {
	best := &res.Routes[0]
	if res.Best != best.ID || best.ID == lossID {
		return
	}
	least := leastOfAll
	if gap := best.Bill.Total - f.unseen; f.unseen > 0 && gap > 0 {
		least = fmt.Sprintf("the least money found of the routes that may start now; one that costs up to %s %s less (%s) is not excluded",
			gap.Grouped(), best.Bill.Currency, unit.Percent(float64(gap)/float64(best.Bill.Total)))
	}
	if f.leftOut > 0 {
		least += fmt.Sprintf("; %d section lines and castings were left out", f.leftOut)
	}
	best.Because = because(*best, true, least)
}

// because is one sentence on why the route stands where it stands. least says how far the
// money of the best route is known to be the least.
func because(r Route, best bool, least string) string {
	if r.ID == lossID {
		return r.Because
	}
	if !r.Feasible {
		return "excluded: " + r.Excluded
	}
	s := fmt.Sprintf("%s %s", r.Bill.Total.Grouped(), r.Bill.Currency)
	if r.Plan.WorkDays > 0 {
		s += ", " + unit.Count(r.Plan.WorkDays, "working day")
	}
	switch {
	case !dated(r):
		s += "; a date or price is missing, so it comes after those that have both"
	case best && r.Open == 0:
		s += "; " + least
	case best:
		s += "; " + waits(r) + ", the fewest open points of all routes"
	case r.Open > 0:
		s += "; " + waits(r)
	case r.Dominated != "":
		s += fmt.Sprintf("; %s is no worse in money, days and questions", r.Dominated)
		if len(r.avoids) > 0 {
			s += ", but here " + list(r.avoids)
		}
	default:
		s += "; dearer than the route before it"
	}
	if r.Bill.IsLoss {
		s += "; a total loss by the rule that applies"
	}
	return s
}

// waits says what a route waits for.
func waits(r Route) string {
	var parts []string
	if len(r.Ask) > 0 {
		parts = append(parts, "waits for the manufacturer's answer on "+list(r.Ask))
	}
	if len(r.Measure) > 0 {
		parts = append(parts, "has to be measured or inspected first: "+list(r.Measure))
	}
	return list(parts)
}

// notesOf are the notes of the best route as they are; those of the others are
// no more than cautions, since they block only their own route. Where no repair can be taken,
// what blocks one blocks all.
func notesOf(res Result, said map[string][]diag.Note) []diag.Note {
	none := !slices.ContainsFunc(res.Routes, func(r Route) bool { return r.ID != lossID && r.Feasible })
	out := slices.Clone(said[res.Best])
	seen := map[string]bool{}
	for _, n := range out {
		seen[n.Code+n.Where+n.Text] = true
	}
	for _, r := range res.Routes {
		for _, n := range said[r.ID] {
			if k := n.Code + n.Where + n.Text; r.ID != res.Best && !seen[k] {
				seen[k] = true
				if !none || r.Plan.Unplanned == "" {
					n.Severity = min(n.Severity, diag.Caution)
				}
				out = append(out, n.Said().Behind(diag.Say("compare.on-route", "on the route {route:q}: ", r.Name)).Note(n))
			}
		}
	}
	return out
}
