package compare

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// drawnPanels is a body drawn to make the program lie about parts: parts of every kind, joined in every
// way, in layers, some without minutes, joints, what closes them, price or delivery, some that never
// come off, are used once, or are lost when something else is opened; assemblies; lists of what is in
// the way with alternatives; rows for some kinds of finding on parts, and answers; treatments that cure
// some kinds only, or none at all.
func drawnPanels(seed uint64) Input {
	rng := rand.New(rand.NewPCG(seed, 1805))
	maybe := func(n int) bool { return rng.IntN(n) == 0 }
	known := maybe(2) // all that has to be known of an opening
	b := &body.Body{Name: "drawn", ID: "D", Currency: "EUR", Castings: []body.Casting{{ID: "front", Part: "cast", Name: "casting", Zones: []body.Zone{{ID: "Z"}}}}}
	b.Parts = []body.Part{
		{ID: "cast", Name: "casting", Kind: body.PartCasting, Skill: "alu", Off: 50, On: 60, Price: eur(200000), Delivery: unit.Some(unit.Minutes(5 * 1440))},
		{ID: "cell", Name: "cell", Kind: "other", Skill: "alu"},
	}
	if known || maybe(2) {
		b.Parts[1].Comes = body.Never
	}
	n := 4 + rng.IntN(3)
	id := func(i int) body.PartID { return body.PartID(fmt.Sprintf("p%d", i)) }
	for i := range n {
		p := body.Part{ID: id(i), Name: string(id(i)), Kind: []body.PartKind{"panel", "trim", "bracket", "piece", "module", "other"}[rng.IntN(6)], Skill: "alu", BoltOn: maybe(2),
			Off: unit.Minutes(1 + rng.IntN(20)), On: unit.Minutes(1 + rng.IntN(20)), Price: eur(unit.Minor(100 + rng.IntN(30000))), OneTime: maybe(8)}
		switch what := rng.IntN(14); {
		case known:
		case what == 0:
			p.Off = 0
		case what == 1:
			p.On = 0
		}
		if maybe(8) {
			p.Price = unit.Money{}
		}
		if !maybe(6) {
			p.Delivery = unit.Some(unit.Minutes(1440 * rng.IntN(4)))
		}
		b.Parts = append(b.Parts, p)
	}
	drawnJoints(rng, b, n, known)
	for i := range n {
		p, _ := b.Part(id(i))
		if len(b.HeldBy(id(i))) == 0 && (known || maybe(2)) {
			p.Comes = body.Freely
			b.Parts[2+i] = p
		}
		if i > 0 && maybe(2) {
			var needs [][]body.PartID
			for range 1 + rng.IntN(2) {
				needs = append(needs, []body.PartID{id(rng.IntN(i))})
			}
			b.Access = append(b.Access, body.Access{To: string(id(i)), Needs: needs})
		}
	}
	if maybe(2) {
		b.Access = append(b.Access, body.Access{To: "Z", Needs: [][]body.PartID{{id(rng.IntN(n))}, {id(rng.IntN(n))}}})
	}
	if x, y := rng.IntN(n), rng.IntN(n); x != y && !maybe(3) && !b.Parts[2+x].OneTime && !b.Parts[2+y].OneTime {
		b.Assemblies = []body.Assembly{{ID: "as", Name: "as", Parts: []body.PartID{id(x), id(y)}, Off: unit.Minutes(rng.IntN(3)), On: 1, Skill: "alu"}}
	}
	b.Materials = []body.Material{{ID: "rivet", Name: "rivet", Kind: body.Rivet, Pack: unit.Amount{Value: 1, Unit: "piece"}, Price: eur(10), OneTime: true},
		{ID: "glue", Name: "glue", Kind: body.Adhesive, Pack: unit.Amount{Value: 1, Unit: "ml"}, Price: eur(20), Cure: []body.CureRow{{Temp: 10, Working: 60, Handling: 300, Full: 900}}}}
	drawnTreatments(rng, b)
	in := Input{Body: b, Shop: testShop(), Job: &job.State{Start: unit.Date{Year: 2026, Month: time.March, Day: 2}, Vehicle: job.Vehicle{VIN: "V", Value: eur(100000000), Salvage: eur(100)}}}
	for i := range 1 + rng.IntN(4) {
		f := job.FindingID(fmt.Sprintf("F%d", i+1))
		part := b.Parts[rng.IntN(len(b.Parts))].ID
		if i > 0 && maybe(3) {
			part = in.Job.Findings[0].Part
		}
		kind := []body.FindingKind{body.Crack, body.Break, body.Bend, body.Dent, body.Torn}[rng.IntN(5)]
		x := inspect.Finding{ID: f, Kind: kind, Part: part}
		if part == "cast" {
			x.Casting, x.Zones, x.Length = "front", []inspect.ZoneShare{{Zone: "Z", LengthMM: 20}}, &inspect.Length{MM: 20}
		}
		in.Job.Findings = append(in.Job.Findings, job.Finding{ID: f, Kind: kind, Part: part})
		in.Inspect.Findings = append(in.Inspect.Findings, x)
	}
	in.Decide, _ = decide.Run(decide.Input{Body: b, Shop: in.Shop, Job: in.Job, Inspect: in.Inspect, Today: in.Job.Start})
	for i := range in.Decide.Findings {
		f := &in.Decide.Findings[i]
		if k := body.TreatmentKinds()[rng.IntN(8)]; maybe(4) && k != body.SectionOff { // an answer
			f.Options = slices.DeleteFunc(f.Options, func(o decide.Option) bool { return o.Kind == k })
			f.Options = append(f.Options, decide.Option{Kind: k, Verdict: []decide.Verdict{decide.Allowed, decide.Allowed, decide.Forbidden}[rng.IntN(3)], Answer: "AN"})
			f.Verdict = decide.Best(f.Options)
		}
	}
	return in
}

func drawnJoints(rng *rand.Rand, b *body.Body, n int, known bool) {
	ways := [][]body.JoinMethod{{"bolt"}, {"clip"}, {"plug"}, {body.JoinSelfPiercing}, {body.JoinBlindRivet}, {body.JoinAdhesive}, {body.JoinWeld}, {body.JoinHem}, {"bolt", body.JoinAdhesive}, {body.JoinHem, body.JoinAdhesive}}
	for i := range n + 2 {
		outer := body.PartID(fmt.Sprintf("p%d", rng.IntN(n)))
		inner := b.Parts[rng.IntN(len(b.Parts))].ID
		if outer == inner {
			continue
		}
		j := body.Joint{ID: body.JointID(fmt.Sprintf("j%d", i)), Name: fmt.Sprint("joint ", i), Layers: []body.PartID{outer, inner}, Methods: ways[rng.IntN(len(ways))], Count: 3, Length: 500,
			Open: unit.Minutes(rng.IntN(20)), Refit: unit.Minutes(rng.IntN(20)), Skill: "alu"}
		if rng.IntN(4) == 0 {
			j.Layers = []body.PartID{inner, outer} // a bracket behind the casting
		}
		if inner == "cell" && rng.IntN(2) == 0 {
			j.Layers = append([]body.PartID{outer}, "cast", "cell")
		}
		if rng.IntN(3) == 0 {
			j.Destroys = []body.PartID{[]body.PartID{outer, inner}[rng.IntN(5)/4]}
			if j.Destroys[0] == "cell" {
				j.Destroys = nil
			}
		}
		if known || rng.IntN(5) > 0 {
			j.Uses = []body.Use{{Material: "rivet", Each: unit.Amount{Value: 3, Unit: "piece"}}, {Material: "glue", Each: unit.Amount{Value: 2, Unit: "ml"}}}[:1+rng.IntN(2)]
		}
		if slices.Contains(j.Methods, body.JoinWeld) && rng.IntN(3) == 0 {
			j.Hold = "no pore"
		}
		b.Joints = append(b.Joints, j)
	}
}

func drawnTreatments(rng *rand.Rand, b *body.Body) {
	kinds := []body.FindingKind{body.Crack, body.Break, body.Bend, body.Dent, body.Torn}
	for _, k := range []body.TreatmentKind{body.Leave, body.Dress, body.Weld, body.WeldBacking, body.Exchange, body.Exchange, body.ReplacePart, body.ReplacePart, body.ReplaceCasting} {
		if rng.IntN(3) == 0 {
			continue
		}
		t := body.Treatment{ID: body.TreatmentID(fmt.Sprintf("t%d", len(b.Treatments))), Name: string(k), Kind: k, Steps: []body.Step{{ID: "s", Name: "do", Skill: "alu", Fixed: unit.Minutes(5 + rng.IntN(90))}}}
		if rng.IntN(5) == 0 && k != body.Leave {
			t.Cures = kinds[rng.IntN(5):][:1]
		}
		if k.NewPart() && rng.IntN(3) == 0 {
			t.Steps[0].Cautions = []body.Caution{body.Welding}
		}
		b.Treatments = append(b.Treatments, t)
	}
	p := body.Procedure{ID: "P", Title: "drawn", Revision: "1", Casting: "front", Effective: unit.Date{Year: 2025, Month: 1, Day: 1}, Recheck: unit.Date{Year: 2030, Month: 1, Day: 1}}
	for i := range rng.IntN(7) {
		r := body.Row{ID: fmt.Sprint("r", i), Cite: "drawn", When: map[string]string{body.FactKind: string(kinds[rng.IntN(5)])}}
		if rng.IntN(3) > 0 {
			r.When[body.FactOnCasting] = "no"
		}
		if rng.IntN(4) == 0 {
			r.When[body.FactLength] = "<= 30 mm" // of a part no length is known
		}
		of := body.TreatmentKinds()
		k := of[rng.IntN(len(of))]
		for k == body.SectionOff {
			k = of[rng.IntN(len(of))]
		}
		switch rng.IntN(5) {
		case 0:
			r.Forbid = []body.TreatmentKind{k}
		case 1:
			r.Ask = "ask"
		default:
			r.Allow = []body.TreatmentKind{k, of[4+rng.IntN(3)]}
			r.Allow = slices.DeleteFunc(r.Allow, func(x body.TreatmentKind) bool { return x == body.SectionOff })
		}
		p.Rows = append(p.Rows, r)
	}
	if rng.IntN(2) == 0 { // much is allowed on parts
		for _, k := range kinds {
			p.Rows = append(p.Rows, body.Row{ID: "all " + string(k), Cite: "drawn", When: map[string]string{body.FactKind: string(k), body.FactOnCasting: "no"}, Allow: []body.TreatmentKind{body.Exchange, body.ReplacePart, body.Dress, body.Weld}[:2+rng.IntN(3)]})
			p.Rows = append(p.Rows, body.Row{ID: "casting " + string(k), Cite: "drawn", When: map[string]string{body.FactKind: string(k)}, Allow: []body.TreatmentKind{body.ReplaceCasting, body.Weld}})
			if rng.IntN(4) == 0 {
				p.Rows = append(p.Rows, body.Row{ID: "not " + string(k), Cite: "drawn", When: map[string]string{body.FactKind: string(k), body.FactOnCasting: "no"}, Forbid: []body.TreatmentKind{body.Exchange, body.ReplacePart}})
			}
		}
	}
	b.Procedures = []body.Procedure{p}
}

// judge holds routes against the documents (docs/methods/opening.md, routes.md, docs/formats/body.md),
// and shares no code with what makes them.
type judge struct {
	t    *testing.T
	seed uint64
	in   Input
	r    Result
	n    map[string]int

	blocking []diag.Note
}

func (j *judge) fault(x Route, format string, args ...any) {
	j.t.Helper()
	j.t.Errorf("seed %d, %s: %s", j.seed, x.ID, fmt.Sprintf(format, args...))
}

func (j *judge) finding(id job.FindingID) job.Finding {
	for _, f := range j.in.Job.Findings {
		if f.ID == id {
			return f
		}
	}
	return job.Finding{}
}

func (j *judge) verdict(id job.FindingID, k body.TreatmentKind) decide.Verdict {
	for _, f := range j.in.Decide.Findings {
		for _, o := range f.Options {
			if f.ID == id && o.Kind == k {
				return o.Verdict
			}
		}
	}
	return decide.Ask
}

// right says by the words of the documents that an item puts a finding right.
func (j *judge) right(it plan.Item, f job.Finding) bool {
	t, ok := j.in.Body.Treatment(it.Treatment)
	if ok && len(t.Cures) > 0 {
		return slices.Contains(t.Cures, f.Kind)
	}
	return putsRight(it.Kind, f.Kind, f.Part == "cast")
}

// route judges one route that may be taken.
func (j *judge) route(x Route) {
	treated := map[job.FindingID]int{}
	for _, it := range x.Items {
		for _, id := range it.Findings {
			treated[id]++
			j.treatment(x, it, j.finding(id))
		}
	}
	for _, f := range j.in.Job.Findings {
		if treated[f.ID] != 1 {
			j.fault(x, "%s is treated %d times", f.ID, treated[f.ID])
		}
	}
	if len(x.Plan.Gaps) > 0 {
		j.n["gaps"]++
	}
	if len(x.Plan.Steps) == 0 && !slices.ContainsFunc(x.Items, func(it plan.Item) bool { return it.Kind != body.Leave }) {
		return // everything is left
	}
	if len(x.Plan.Steps) == 0 {
		if x.Open == 0 && len(j.blocking) == 0 {
			j.fault(x, "no plan, and nothing is asked")
		}
		return
	}
	j.opening(x)
	j.bought(x)
}

// treatment: it puts the finding right, or leaves it by permission; it is allowed, or the route waits.
func (j *judge) treatment(x Route, it plan.Item, f job.Finding) {
	v := j.verdict(f.ID, it.Kind)
	asked, measured := slices.Contains(x.Ask, string(f.ID)), slices.Contains(x.Measure, string(f.ID))
	if mayStay := it.Kind == body.Leave && (v == decide.Allowed || (asked || measured) && (f.Kind == body.Crack || f.Kind == body.Dent || v == decide.Undecided)); !mayStay && !j.right(it, f) {
		j.fault(x, "a %s of %s is not put right by %s (%s)", f.Kind, f.Part, it.Kind, it.Treatment)
	}
	switch {
	case v == decide.Forbidden:
		j.fault(x, "%s of %s is forbidden", it.Kind, f.ID)
	case v != decide.Allowed && !asked && !(v == decide.Undecided && measured):
		j.fault(x, "%s of %s is %s, and nobody is asked (ask %v, measure %v)", it.Kind, f.ID, v, x.Ask, x.Measure)
	}
	if v == decide.Ask && !(it.Open && it.Ask) {
		j.fault(x, "%s of %s is asked, and the plan does not wait", it.Kind, f.ID)
	}
	part, _ := j.in.Body.Part(f.Part)
	switch {
	case it.Kind == body.ReplaceCasting && f.Part != "cast",
		it.Kind == body.Exchange && (it.Part != f.Part || !part.BoltOn),
		it.Kind == body.ReplacePart && (it.Part != f.Part || part.BoltOn || part.Kind == body.PartCasting),
		it.Kind.NewPart() && part.Comes == body.Never:
		j.fault(x, "%s %s for %s on %s", it.Kind, it.Part, f.ID, f.Part)
	}
	if it.Kind.NewPart() {
		j.n["renewed"]++
	}
}

// lacks is what the documents want to be known of a part that comes off, and the body does not say.
func (j *judge) lacks(x Route, node body.PartID, members []body.PartID, joints []body.Joint) int {
	n := 0
	off, on, free := 0.0, 0.0, true
	for _, m := range members {
		p, _ := j.in.Body.Part(m)
		off, on, free = float64(p.Off), float64(p.On), free && p.Comes == body.Freely
	}
	for _, a := range j.in.Body.Assemblies {
		if a.ID == node {
			off, on = float64(a.Off), float64(a.On)
		}
	}
	if off <= 0 {
		n++
	}
	if on <= 0 {
		n++
	}
	held := 0
	for _, jt := range joints {
		if !slices.ContainsFunc(jt.Layers, func(p body.PartID) bool { return slices.Contains(members, p) }) {
			continue
		}
		held++
		anew := false
		for _, m := range jt.Methods {
			anew = anew || m == body.JoinSelfPiercing || m == body.JoinBlindRivet || m == body.JoinAdhesive || m == body.JoinWeld && jt.Hold == ""
		}
		brought := slices.ContainsFunc(x.Items, func(it plan.Item) bool {
			t, _ := j.in.Body.Treatment(it.Treatment)
			return (it.Kind.NewPart() || it.Kind == body.ReplaceCasting) && slices.Contains(jt.Layers, it.Part) && len(t.Steps) > 0 && len(t.Steps[0].Cautions) > 0
		})
		if anew && len(jt.Uses) == 0 && !brought {
			n++
		}
	}
	if held == 0 && !free {
		n++
	}
	if slices.ContainsFunc(x.Items, func(it plan.Item) bool { return it.Kind == body.ReplacePart && it.Part == node }) && !j.listed(string(node)) {
		for _, jt := range j.in.Body.Joints {
			for _, p := range jt.Layers[:max(slices.Index(jt.Layers, node), 0)] {
				if q, _ := j.in.Body.Part(p); q.Kind == body.PartCasting || q.Comes == body.Never {
					return n + 1
				}
			}
		}
	}
	return n
}

func (j *judge) listed(to string) bool {
	return slices.ContainsFunc(j.in.Body.Access, func(a body.Access) bool { return a.To == to })
}

// reached says that what a list asks for is off.
func (j *judge) reached(to string, off func(body.PartID) bool) bool {
	for _, a := range j.in.Body.Access {
		if a.To == to && !slices.ContainsFunc(a.Needs, func(alt []body.PartID) bool {
			return !slices.ContainsFunc(alt, func(p body.PartID) bool { return !off(p) })
		}) {
			return false
		}
	}
	return true
}

// opening walks the removal: what lies over a part is off before it, joints are opened once and closed
// once, what is destroyed comes off and is lost, what is not known is told and asked.
func (j *judge) opening(x Route) {
	b, members := j.in.Body, map[body.PartID][]body.PartID{}
	gone := map[body.PartID]bool{}
	off := func(p body.PartID) bool { return gone[p] }
	for _, r := range x.Plan.Removal {
		members[r.Part] = []body.PartID{r.Part}
		if len(r.Parts) > 0 {
			members[r.Part] = r.Parts
			j.n["as one piece"]++
		}
		within := func(p body.PartID) bool { return gone[p] || slices.Contains(members[r.Part], p) && len(r.Parts) > 0 }
		for _, p := range members[r.Part] {
			if q, _ := b.Part(p); q.Comes == body.Never {
				j.fault(x, "%s cannot be taken out, and comes off", p)
			}
			if !j.reached(string(p), within) {
				j.fault(x, "%s comes off before what is in its way: %v", p, x.Plan.Removal)
			}
		}
		for _, it := range x.Items {
			if it.Part == r.Part && (it.Kind == body.ReplaceCasting || it.Kind.NewPart() && !j.listed(string(r.Part))) {
				j.over(x, it, off)
			}
		}
		for _, p := range members[r.Part] {
			if gone[p] {
				j.fault(x, "%s comes off twice", p)
			}
			gone[p] = true
		}
	}
	for _, it := range x.Items {
		for _, id := range it.Findings {
			to := string(j.finding(id).Part)
			if to == "cast" {
				to = "Z"
			}
			switch {
			case it.Kind == body.Leave:
			case it.Kind.NewPart() || it.Kind == body.ReplaceCasting:
				if !gone[it.Part] {
					j.fault(x, "%s stays on, and is renewed", it.Part)
				}
			case !j.reached(to, off):
				j.fault(x, "%s is not reached", to)
			}
		}
	}
	var outer []body.Joint
	for _, jt := range b.Joints {
		if !slices.ContainsFunc(x.Plan.Removal, func(r plan.Removal) bool {
			return len(r.Parts) > 0 && !slices.ContainsFunc(jt.Layers, func(p body.PartID) bool { return !slices.Contains(r.Parts, p) })
		}) {
			outer = append(outer, jt)
		}
	}
	for _, jt := range b.Joints {
		open := slices.ContainsFunc(outer, func(o body.Joint) bool { return o.ID == jt.ID }) && slices.ContainsFunc(jt.Layers, off)
		opened, closed := 0, 0
		for _, r := range x.Plan.Removal {
			opened += strings.Count(" "+fmt.Sprint(r.Joints)+" ", string(jt.ID))
		}
		for _, s := range x.Plan.Steps {
			for _, c := range s.Closes {
				if c == jt.ID {
					closed++
				}
			}
		}
		if want := map[bool]int{true: 1}[open]; opened != want || closed != want {
			j.fault(x, "joint %s is opened %d times and closed %d times, want %d", jt.ID, opened, closed, want)
		}
		for _, d := range jt.Destroys {
			if open && !gone[d] {
				j.fault(x, "%s is destroyed by %s, and stays", d, jt.ID)
			}
		}
	}
	j.asked(x, members, outer)
}

// over: what lies outside a part in its joints is off before it, where no list says what is.
func (j *judge) over(x Route, it plan.Item, off func(body.PartID) bool) {
	me, _ := j.in.Body.Part(it.Part)
	for _, jt := range j.in.Body.Joints {
		at := slices.Index(jt.Layers, it.Part)
		for k, p := range jt.Layers {
			q, _ := j.in.Body.Part(p)
			must := at >= 0 && p != it.Part && k < at
			switch {
			case it.Kind == body.ReplaceCasting:
				must = must || at >= 0 && p != it.Part && q.BoltOn
			case q.Kind == body.PartCasting || q.Comes == body.Never || me.BoltOn && !q.BoltOn:
				must = false
			}
			if must && !off(p) {
				j.fault(x, "%s lies over %s and stays on", p, it.Part)
			}
		}
	}
}

// asked: each part of which something is not known is told, and the route waits for it.
func (j *judge) asked(x Route, members map[body.PartID][]body.PartID, joints []body.Joint) {
	for node, parts := range members {
		n := j.lacks(x, node, parts, joints)
		k := slices.IndexFunc(x.Plan.Gaps, func(g plan.Gap) bool { return g.Part == node })
		if n == 0 != (k < 0) || k >= 0 && len(x.Plan.Gaps[k].Lacks) != n {
			j.fault(x, "of %s %d things are not known; told are %v", node, n, x.Plan.Gaps)
			continue
		}
		if k < 0 {
			continue
		}
		g := x.Plan.Gaps[k]
		if len(g.For) == 0 || x.Open == 0 {
			j.fault(x, "nobody is asked about %s: %v", node, g)
		}
		for _, id := range g.For {
			text := strings.Join(AskLines(j.r, id), " ")
			if !slices.Contains(x.Ask, string(id)) || !strings.Contains(text, string(g.Part)) || !strings.Contains(text, g.Lacks[0]) {
				j.fault(x, "%s comes off for %s, %v is not known, and it is not asked: %v, %q", node, id, g.Lacks, x.Ask, text)
			}
		}
	}
}

// bought: each part that is renewed, destroyed or used once is bought once and fitted once, and nothing
// else; nothing is repaired on what is lost; what closes joints is used as often as they are closed.
func (j *judge) bought(x Route) {
	want := map[body.PartID]bool{}
	for _, it := range x.Items {
		if it.Kind.NewPart() || it.Kind == body.ReplaceCasting {
			if want[it.Part] {
				j.fault(x, "%s is renewed by two treatments", it.Part)
			}
			want[it.Part] = true
		}
	}
	uses := map[body.MaterialID]float64{}
	for _, r := range x.Plan.Removal {
		if p, _ := j.in.Body.Part(r.Part); p.OneTime {
			want[r.Part] = true
		}
		for _, id := range r.Joints {
			jt, _ := j.in.Body.Joint(id)
			for _, d := range jt.Destroys {
				want[d] = true
			}
			for _, u := range jt.Uses {
				uses[u.Material] += u.Each.Value
			}
		}
	}
	for p := range want {
		if !slices.ContainsFunc(x.Plan.Lost, func(l plan.Lost) bool { return l.Part == p && l.Quantity == 1 }) {
			j.fault(x, "%s is not bought once: %v", p, x.Plan.Lost)
		}
		fitted := 0
		for _, s := range x.Plan.Steps {
			if s.Ref == "on "+string(p) {
				fitted++
			}
		}
		if fitted != 1 {
			j.fault(x, "%s is fitted %d times", p, fitted)
		}
		for _, f := range j.in.Job.Findings {
			if f.Part != p {
				continue
			}
			j.n["found on what is lost"]++
			for _, it := range x.Items {
				if slices.Contains(it.Findings, f.ID) && it.Part != p && !(it.Kind == body.Leave && j.verdict(f.ID, body.Leave) == decide.Allowed) {
					j.fault(x, "%s is lost, and %s on it is treated by %s", p, f.ID, it.Kind)
				}
			}
		}
	}
	lines := 0
	for _, l := range x.Bill.Lines {
		if l.Kind == cost.LineParts {
			lines++
		}
	}
	if len(x.Plan.Lost) != len(want) || lines != len(want) {
		j.fault(x, "%d parts are bought in %d lines, want %d: %v", len(x.Plan.Lost), lines, len(want), x.Plan.Lost)
	}
	for m, n := range uses {
		got := 0.0
		for _, k := range x.Plan.Takeoff {
			if k.Material == m {
				got = k.Net
			}
		}
		if got != n {
			j.fault(x, "%g of %s are used, want %g", got, m, n)
		}
	}
}

// whole judges what is said of the job: something is planned or asked of every finding.
func (j *judge) whole() {
	planned := map[job.FindingID]bool{}
	for _, x := range j.r.Routes {
		if x.Feasible && x.ID != lossID {
			j.n["routes"]++
			if x.Open == 0 && len(x.Plan.Gaps) == 0 && len(x.Plan.Steps) > 0 {
				j.n["all known"]++
			}
			j.route(x)
		}
		for _, it := range x.Items {
			for _, id := range it.Findings {
				planned[id] = planned[id] || x.Feasible
			}
		}
	}
	for _, u := range j.r.Uncured {
		j.n["uncured"]++
		f := j.finding(u.Findings[0])
		told := slices.ContainsFunc(j.blocking, func(n diag.Note) bool { return n.Code == "compare.no-cure" && n.Where == string(f.ID) })
		if !told {
			j.t.Errorf("seed %d: nobody is told of %s", j.seed, f.ID)
		}
		if text := strings.Join(AskLines(j.r, f.ID), " "); u.Ask && !strings.Contains(text, "right") {
			j.t.Errorf("seed %d: the question about %s: %q", j.seed, f.ID, text)
		}
		if u.Ask && !slices.ContainsFunc(j.r.Routes, func(x Route) bool { return slices.Contains(x.Ask, string(f.ID)) }) {
			j.t.Errorf("seed %d: no route asks about %s", j.seed, f.ID)
		}
		part, _ := j.in.Body.Part(f.Part)
		for _, t := range j.in.Body.Treatments {
			fits := t.Kind == body.Exchange && part.BoltOn || t.Kind == body.ReplacePart && !part.BoltOn && part.Kind != body.PartCasting || !t.Kind.NewPart() && t.Kind != body.ReplaceCasting && t.Kind != body.Leave
			if v := j.verdict(f.ID, t.Kind); fits && part.Comes != body.Never && v == decide.Allowed && j.right(plan.Item{Kind: t.Kind, Treatment: t.ID}, f) {
				j.t.Errorf("seed %d: %s (%s of %s) could be treated by %s, which is allowed", j.seed, f.ID, f.Kind, f.Part, t.ID)
			}
		}
	}
	for _, f := range j.in.Job.Findings {
		excluded := slices.ContainsFunc(j.r.Routes, func(x Route) bool { return x.Excluded != "" })
		if !planned[f.ID] && !(excluded && len(j.blocking) > 0) {
			j.t.Errorf("seed %d: nothing is said of %s", j.seed, f.ID)
		}
	}
}

// Every kind of finding on every kind of part: a treatment that is allowed, puts it right and whose
// opening is known, or a question.
func TestEveryPanelSeeds(t *testing.T) {
	n := map[string]int{}
	for seed := range uint64(draws(800, 4000)) {
		in := drawnPanels(seed)
		r, notes := Routes(in)
		j := &judge{t: t, seed: seed, in: in, r: r, n: n}
		for _, x := range notes {
			if x.Blocks() {
				j.blocking = append(j.blocking, x)
			}
		}
		j.whole()
	}
	for what, least := range map[string]int{"routes": 400, "gaps": 120, "all known": 80, "renewed": 400, "found on what is lost": 400, "uncured": 100, "as one piece": 3} {
		if n[what] < least {
			t.Errorf("only %d %s: %v", n[what], what, n)
		}
	}
	t.Log(n)
}

// Constructed: a dent is dressed quickly, behind a panel of which no minutes are known, or its part is
// exchanged for more: what is known in full comes first, and the other is told as worth deciding.
func TestWhatIsKnownComesFirst(t *testing.T) {
	in := input(verdicts{"swap": decide.Allowed})
	in.Body.Parts = append(in.Body.Parts, body.Part{ID: "cover", Name: "cover", BoltOn: true, Skill: "alu"}, body.Part{ID: "flap", Name: "flap", BoltOn: true, Comes: body.Freely, Off: 300, On: 300, Skill: "alu"})
	in.Body.Treatments = append(in.Body.Treatments, body.Treatment{ID: "dress", Name: "dress", Kind: body.Dress, Steps: []body.Step{{ID: "s", Name: "do", Skill: "alu", Fixed: 1}}})
	in.Job.Findings[0].Kind, in.Inspect.Findings[0].Kind = body.Dent, body.Dent
	in.Decide.Findings[0].Options = append(in.Decide.Findings[0].Options, decide.Option{Kind: body.Dress, Verdict: decide.Allowed})
	for _, c := range []struct {
		needs [][]body.PartID
		open  int
		off   string
	}{
		{[][]body.PartID{{"cover"}, {"flap"}}, 0, "flap bracket"}, // of two ways the one that is known, though it is dearer
		{[][]body.PartID{{"cover"}}, 1, "cover bracket"},
	} {
		in.Body.Access = []body.Access{{To: "bracket", Needs: c.needs}}
		r, notes := Routes(in)
		best := r.Routes[0]
		off := map[body.PartID]bool{}
		for _, x := range best.Plan.Removal {
			off[x.Part] = true
		}
		told := slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "plan.opening-unknown" && n.Where == "cover" })
		if best.Open != c.open || !off["flap"] && strings.HasPrefix(c.off, "flap") || told != (c.open == 1) || c.open == 1 && !slices.Equal(best.Ask, []string{"F1"}) {
			t.Errorf("%v: %s, %v off, open %v, told %v", c.needs, best.ID, off, best.Ask, told)
		}
	}
	// exchanged without taking the cover off, dressed only behind it: dearer, and known
	in.Body.Access, in.Body.Parts[1].Comes = nil, ""
	in.Body.Joints = []body.Joint{{ID: "j", Name: "j", Layers: []body.PartID{"bracket", "cell"}, Methods: []body.JoinMethod{"bolt"}, Open: 1, Refit: 1, Skill: "alu"}}
	r, _ := Routes(in)
	if b := r.Routes[0]; b.Open != 0 || len(b.Items) != 1 {
		t.Errorf("%+v", b.Items)
	}
	in.Body.Joints = nil // now exchanging is not known, and dressing is
	if b := first0(Routes(in)); b.Open != 0 || b.Items[0].Kind != body.Dress {
		t.Errorf("%d open, %+v", b.Open, b.Items)
	}
	in.Body.Treatments[len(in.Body.Treatments)-1].Steps[0].Fixed = 6000 // though it is dearer by far
	if b := first0(Routes(in)); b.Open != 0 || b.Items[0].Kind != body.Dress {
		t.Errorf("%d open, %+v", b.Open, b.Items)
	}
}

func first0(r Result, _ []diag.Note) Route { return r.Routes[0] }
