package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// noseBody is an invented front: a bumper with its grille clipped in, over a
// beam, over the goal Z1. Bumper and grille can come off as one piece.
func noseBody() *body.Body {
	return &body.Body{Currency: "EUR", Parts: []body.Part{
		{ID: "bumper", Name: "bumper", BoltOn: true, Skill: "body", Off: 6, On: 8, Mass: 5, Tool: "clip lifter", Side: "front", Lift: "down"},
		{ID: "grille", Name: "grille", BoltOn: true, Skill: "body", Off: 4, On: 5, Mass: 4, Tool: "clip lifter", Side: "front", Lift: "down"},
		{ID: "beam", Name: "beam", BoltOn: true, Skill: "body", Off: 5, On: 7, Mass: 6, Tool: "ratchet", Side: "front", Lift: "half"},
		{ID: "tray", Name: "tray", BoltOn: true, Skill: "body", Off: 3, On: 3, Tool: "ratchet", Side: "below", Lift: "up"},
	}, Joints: []body.Joint{
		{ID: "J-inner", Name: "bumper to grille", Layers: []body.PartID{"bumper", "grille"}, Open: 14, Refit: 17, Skill: "body"},
		{ID: "J-grille", Name: "grille to beam", Layers: []body.PartID{"grille", "beam"}, Open: 11, Refit: 13, Skill: "body"},
	}, Access: []body.Access{
		{To: "grille", Needs: [][]body.PartID{{"bumper"}}},
		{To: "beam", Needs: [][]body.PartID{{"grille"}}},
		{To: "Z1", Needs: [][]body.PartID{{"beam", "tray"}}},
	}, Assemblies: []body.Assembly{
		{ID: "nose", Name: "bumper with grille", Parts: []body.PartID{"bumper", "grille"}, Off: 9, On: 12, Skill: "body", Tool: "ratchet", Side: "front", Lift: "half"},
	}, Triggers: []body.Trigger{{Part: "bumper", Before: []body.TaskID{"airbag"}, After: []body.TaskID{"radar"}}},
		Tasks: []body.Task{{ID: "airbag", When: "start", Step: body.Step{Name: "Disarm", Skill: "body", Fixed: 10}},
			{ID: "radar", When: "end", Step: body.Step{Name: "Calibrate", Skill: "body", Fixed: 10}}},
		Castings:   []body.Casting{{ID: "front", Part: "cast", Zones: []body.Zone{{ID: "Z1"}}}},
		Treatments: []body.Treatment{{ID: "weld", Name: "weld", Kind: body.Weld, Steps: []body.Step{{ID: "w", Name: "Weld", Skill: "body", Fixed: 5}}}, {ID: "swap", Name: "swap", Kind: body.Exchange, Steps: []body.Step{{ID: "x", Name: "Look", Skill: "body", Fixed: 5}}}},
	}
}

func noseInput(items ...Item) Input {
	in := input(items...)
	in.Body = noseBody()
	in.Shop.Changes = &shop.Changes{Tool: 1, Side: 2, Lift: 5}
	return in
}

// Constructed: the bumper with its grille comes off as one piece, 21 min of
// handling and 24 of the joint to the beam instead of 23, 31 and 24; the joint
// between them stays closed; what taking the bumper off brings with it is done.
func TestAssemblyComesOffAsOnePiece(t *testing.T) {
	p, notes := Build(noseInput(weldF1))
	if got := removed(p); got != "nose tray beam" && got != "nose beam tray" || blocking(notes) != "" {
		t.Fatalf("removed %q, %v", got, notes)
	}
	r := p.Removal[0]
	if !slices.Equal(r.Parts, []body.PartID{"bumper", "grille"}) || !slices.Equal(r.Joints, []body.JointID{"J-grille"}) || r.Because != "bumper with grille is in the way of beam" {
		t.Errorf("%+v", r)
	}
	step(t, p, "Disarm")
	step(t, p, "Calibrate")
	if s := step(t, p, "Refit bumper with grille"); s.Minutes != 12+13 || slices.Contains(stepNames(p), "Refit bumper") {
		t.Errorf("%+v of %v", s, stepNames(p))
	}
	// 21 + 24 (joint) + 12 (beam) + 6 (tray) + 20 (tasks) min at 60 an hour.
	if p.OpeningCost != 8300 || p.OpeningBound != 8300 {
		t.Errorf("cost %d, bound %d", p.OpeningCost, p.OpeningBound)
	}
}

// Constructed: a part that is exchanged does not come off inside an assembly,
// nor does one that opening the assembly would destroy.
func TestAssemblyIsNotTornApart(t *testing.T) {
	swap := Item{Treatment: "swap", Kind: body.Exchange, Findings: weldF1.Findings, Part: "grille"}
	p, _ := Build(noseInput(weldF1, swap))
	if got := removed(p); strings.Contains(got, "nose") || !strings.Contains(got, "grille") {
		t.Errorf("removed %q", got)
	}
	in := noseInput(weldF1)
	in.Body.Joints[1].Destroys = []body.PartID{"grille"}
	p, _ = Build(in)
	if got := removed(p); strings.Contains(got, "nose") {
		t.Errorf("removed %q though the grille is destroyed", got)
	}
}

// wholeCost is the least cost of an opening with assemblies by the words of the
// question alone: every choice of parts and assemblies is tried.
func wholeCost(b *body.Body, goal string) (int64, bool) {
	n, k := len(b.Parts), len(b.Assemblies)
	best, ok := int64(0), false
	for pick := range 1 << (n + k) {
		gone, handled, cost, fine := map[body.PartID]bool{}, map[body.PartID]string{}, int64(0), true
		for i, p := range b.Parts {
			if pick>>i&1 == 1 {
				handled[p.ID] = string(p.ID)
				cost += int64(p.Off + p.On)
			}
		}
		for i, a := range b.Assemblies {
			if pick>>(n+i)&1 == 0 {
				continue
			}
			cost += int64(a.Off + a.On)
			for _, p := range a.Parts {
				fine = fine && handled[p] == ""
				handled[p] = string(a.ID)
			}
		}
		for _, j := range b.Joints { // opened unless it lies inside one piece
			pieces, off := map[string]bool{}, false
			for _, l := range j.Layers {
				pieces[handled[l]] = true
				off = off || handled[l] != ""
			}
			if off && len(pieces) > 1 {
				cost += int64(j.Open + j.Refit)
				for _, d := range j.Destroys {
					fine = fine && handled[d] == string(d)
				}
			}
		}
		access := func(to string, inside []body.PartID) bool {
			for _, a := range b.Access {
				if a.To == to && !slices.ContainsFunc(a.Needs, func(alt []body.PartID) bool {
					return !slices.ContainsFunc(alt, func(p body.PartID) bool { return !gone[p] && !slices.Contains(inside, p) })
				}) {
					return false
				}
			}
			return true
		}
		for range n + k { // off one after the other, as far as it goes
			for p, by := range handled {
				if by == string(p) && access(by, nil) {
					gone[p] = true
				}
			}
			for i, a := range b.Assemblies {
				free := pick>>(n+i)&1 == 1
				for _, p := range a.Parts {
					free = free && access(string(p), a.Parts)
				}
				for _, p := range a.Parts {
					gone[p] = gone[p] || free
				}
			}
		}
		for p := range handled {
			fine = fine && gone[p]
		}
		if fine && access(goal, nil) && (!ok || cost < best) {
			best, ok = cost, true
		}
	}
	return best, ok
}

// randomNose is a random opening of six parts with up to two assemblies; all
// minutes at 60 an hour.
func randomNose(rng *rand.Rand) *body.Body {
	b := noseBody()
	b.Parts, b.Joints, b.Access, b.Assemblies, b.Triggers = nil, nil, nil, nil, nil
	id := func(i int) body.PartID { return body.PartID(fmt.Sprintf("p%d", i)) }
	some := func() []body.PartID {
		out := []body.PartID{id(rng.IntN(6))}
		if k := id(rng.IntN(6)); k != out[0] {
			out = append(out, k)
		}
		return out
	}
	for i := range 6 {
		b.Parts = append(b.Parts, body.Part{ID: id(i), Name: string(id(i)), BoltOn: true, Skill: "body", Comes: body.Freely, Off: unit.Minutes(1 + rng.IntN(8)), On: unit.Minutes(1 + rng.IntN(8))})
		if rng.IntN(2) == 0 {
			needs := [][]body.PartID{some(), some()}[:1+rng.IntN(2)]
			for k := range needs {
				needs[k] = slices.DeleteFunc(needs[k], func(p body.PartID) bool { return p == id(i) })
			}
			if !slices.ContainsFunc(needs, func(n []body.PartID) bool { return len(n) == 0 }) {
				b.Access = append(b.Access, body.Access{To: string(id(i)), Needs: needs})
			}
		}
	}
	for i := range 3 {
		l := some()
		if len(l) == 2 {
			j := body.Joint{ID: body.JointID(fmt.Sprint("j", i)), Layers: l, Open: unit.Minutes(rng.IntN(20)), Skill: "body"}
			if rng.IntN(3) == 0 {
				j.Destroys = l[:1]
			}
			b.Joints = append(b.Joints, j)
		}
	}
	for i := range rng.IntN(3) {
		if ps := some(); len(ps) == 2 {
			b.Assemblies = append(b.Assemblies, body.Assembly{ID: body.PartID(fmt.Sprint("a", i)), Name: fmt.Sprint("a", i), Parts: ps, Off: unit.Minutes(1 + rng.IntN(8)), On: unit.Minutes(1 + rng.IntN(8)), Skill: "body"})
		}
	}
	b.Access = append(b.Access, body.Access{To: "Z1", Needs: [][]body.PartID{some(), some()}})
	return b
}

// Openings with assemblies agree with every choice of parts and assemblies.
func TestAssembliesAgainstEnumerationSeeds(t *testing.T) {
	solved, used, of := 0, 0, draws(120, 300)
	for seed := range uint64(of) {
		in := noseInput(weldF1)
		in.Body = randomNose(rand.New(rand.NewPCG(seed, 31)))
		best, ok := wholeCost(in.Body, "Z1")
		p, notes := Outline(in)
		if found := !slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "plan.no-opening" }); found != ok || ok && int64(p.OpeningCost) != 100*best {
			t.Errorf("seed %d: found %v %d, enumeration %v %d", seed, found, p.OpeningCost, ok, 100*best)
		}
		if ok {
			solved++
		}
		if slices.ContainsFunc(p.Removal, func(r Removal) bool { return len(r.Parts) > 0 }) {
			used++
		}
	}
	if 3*solved < of || 15*used < of {
		t.Errorf("%d have an opening, %d use an assembly", solved, used)
	}
}

// Every smallest set at most 5 % dearer is told, and no other: against all sets.
func TestAlternativesAgainstEnumerationSeeds(t *testing.T) {
	told := 0
	for seed := range uint64(200) {
		r := randomRemoval(rand.New(rand.NewPCG(seed, 32)), 9)
		f := r.solve()
		if !f.ok {
			continue
		}
		most := f.cost + f.cost/2 // a wider share, so that more is told
		var want, got []string
		sets, whole := r.near(most)
		for s := range set(1) << len(r.ids) {
			if feasible(r, s) && r.cost(s) <= most && smallestOf(r, s) {
				want = append(want, r.names(s))
			}
		}
		for _, s := range sets {
			if !feasible(r, s) {
				t.Errorf("seed %d: %s does not hold", seed, r.names(s))
			}
			if smallestOf(r, s) {
				got = append(got, r.names(s))
			}
		}
		slices.Sort(want)
		slices.Sort(got)
		if !whole || !slices.Equal(slices.Compact(got), want) {
			t.Errorf("seed %d: told %v, there are %v", seed, got, want)
		}
		told += len(want) - 1
	}
	if told < 15 {
		t.Errorf("only %d others", told)
	}
}

// smallestOf says that no feasible set lies inside s.
func smallestOf(r *removal, s set) bool {
	for sub := (s - 1) & s; ; sub = (sub - 1) & s {
		if sub != s && feasible(r, sub) {
			return false
		}
		if sub == 0 {
			return true
		}
	}
}

// Constructed: the rail behind Z1 is reached by the beam, 100 minutes, or by the
// tray, 104: 4 % more. At 106 it is not told.
func TestAlternativesInWords(t *testing.T) {
	in := noseInput(weldF1)
	in.Body.Assemblies, in.Body.Joints, in.Body.Triggers = nil, nil, nil
	in.Body.Access = []body.Access{{To: "Z1", Needs: [][]body.PartID{{"beam"}, {"tray"}}}}
	in.Body.Parts[2].Off, in.Body.Parts[2].On, in.Body.Parts[3].Off, in.Body.Parts[3].On = 50, 50, 52, 52
	got, all := Alternatives(in)
	if !all || len(got) != 1 || got[0].Text != "take off tray; leave on beam; 4.00 EUR more" {
		t.Errorf("%v %+v", all, got)
	}
	in.Body.Parts[3].On = 54
	if got, _ := Alternatives(in); len(got) != 0 {
		t.Errorf("6 %% dearer is told: %+v", got)
	}
}

// Law: one more panel over something never makes an opening cheaper, and what is
// told as least cost never passes what a whole search finds.
func TestOneMorePanelNeverCheaperSeeds(t *testing.T) {
	dearer := 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 33))
		r := randomRemoval(rng, 8)
		f := r.solve()
		more := *r
		more.ids = append(slices.Clone(r.ids), "panel")
		more.partCost = append(slices.Clone(r.partCost), int64(rng.IntN(9)))
		more.lossCost = append(slices.Clone(r.lossCost), 5)
		more.tasks = append(slices.Clone(r.tasks), 0)
		more.entries = append(slices.Clone(r.entries), nil)
		under := rng.IntN(8)
		more.entries[under] = append(slices.Clone(more.entries[under]), []set{1 << 8})
		g := more.solve()
		if g.ok && (!f.ok || g.cost < f.cost) {
			t.Errorf("seed %d: %d, with one more panel %d", seed, f.cost, g.cost)
		}
		if g.ok && g.cost > f.cost {
			dearer++
		}
		short := *r
		short.limit = 1
		if s := short.solve(); f.ok && s.bound > f.cost || s.ok && s.proven && s.cost != f.cost {
			t.Errorf("seed %d: cut short it says at least %d, the least is %d", seed, s.bound, f.cost)
		}
	}
	if dearer < 30 {
		t.Errorf("only %d got dearer", dearer)
	}
}

// Constructed: refit has its own precedence. The tray goes on after the bumper by
// the body's word; read backwards it would come first.
func TestRefitOnItsOwnPrecedence(t *testing.T) {
	in := noseInput(weldF1)
	in.Body.Assemblies = nil
	in.Body.Refits = []body.Refit{{Part: "tray", After: []body.PartID{"bumper"}}}
	p, notes := Build(in)
	var on []string
	for _, r := range p.Refit {
		on = append(on, string(r.Part))
	}
	if got := strings.Join(on, " "); got != "beam grille bumper tray" || blocking(notes) != "" {
		t.Errorf("refit %q, %v", got, notes)
	}
	if a, b := step(t, p, "Refit bumper"), step(t, p, "Refit tray"); a.To.After(b.From) {
		t.Errorf("the tray goes on at %v, before the bumper at %v", b.From, a.To)
	}
	if last := p.Refit[3]; last.Because != "goes on after bumper" || p.Refit[1].Joints[0] != "J-grille" {
		t.Errorf("%+v", p.Refit)
	}
	in.Body.Refits = append(in.Body.Refits, body.Refit{Part: "beam", After: []body.PartID{"tray"}})
	if _, notes := Build(in); blocking(notes) != "plan.refit-circle plan.circle" {
		t.Errorf("a circle: %v", notes)
	}
}

// Constructed: two on each side with the same tool: by name it would be left,
// right, left, right; the order changes side once, and says so.
func TestOrderSparesChanges(t *testing.T) {
	in := noseInput(weldF1)
	in.Body.Assemblies, in.Body.Joints, in.Body.Triggers, in.Body.Parts = nil, nil, nil, nil
	for i, side := range []string{"left", "right", "left", "right"} {
		id := body.PartID(fmt.Sprintf("p%d", i+1))
		in.Body.Parts = append(in.Body.Parts, body.Part{ID: id, Name: string(id), Skill: "body", Off: 5, On: 5, Side: side, Lift: "half", Tool: "ratchet"})
	}
	in.Body.Access = []body.Access{{To: "Z1", Needs: [][]body.PartID{{"p1", "p2", "p3", "p4"}}}, {To: "p4", Needs: [][]body.PartID{{"p3"}}}}
	p, _ := Build(in)
	if got := removed(p); got != "p1 p3 p2 p4" && got != "p2 p1 p3 p4" || p.OffChanges.Side != 1 && got == "p1 p3 p2 p4" {
		t.Errorf("removed %q", got)
	}
	if c := p.OffChanges; c != (Changes{Side: 1, Minutes: 2, Least: 2, Proven: true, Counted: true}) {
		t.Errorf("changes %+v", c)
	}
	if p.Removal[2].Change != "side: right" || step(t, p, "Take off p2").Change != "side: right" {
		t.Errorf("%+v", p.Removal)
	}
	in.Shop.Changes = nil
	if p, _ := Build(in); p.OffChanges.Side != 1 || p.OffChanges.Counted || p.OffChanges.Minutes != 0 {
		t.Errorf("without minutes %+v", p.OffChanges)
	}
}
