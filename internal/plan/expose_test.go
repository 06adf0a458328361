package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// exposeFront is a random front of five parts over four zones: parts in the way of one another
// by alternatives, also in circles; joints that destroy parts; parts used once; two parts that
// may come off as one piece; tasks that several parts bring with them; zones with shared parts,
// zones without an entry. All minutes at 60 an hour.
func exposeFront(rng *rand.Rand) *body.Body {
	b := &body.Body{Currency: "EUR", Castings: []body.Casting{{ID: "front", Name: "front casting", Part: "cast"}}}
	id := func(i int) body.PartID { return body.PartID(fmt.Sprintf("p%d", i)) }
	some := func(not body.PartID) []body.PartID {
		var out []body.PartID
		for range 1 + rng.IntN(2) {
			if p := id(rng.IntN(5)); p != not && !slices.Contains(out, p) {
				out = append(out, p)
			}
		}
		return out
	}
	entry := func(to string) {
		var needs [][]body.PartID
		for range 1 + rng.IntN(3) {
			if alt := some(body.PartID(to)); len(alt) > 0 {
				needs = append(needs, alt)
			}
		}
		if needs != nil {
			b.Access = append(b.Access, body.Access{To: to, Needs: needs})
		}
	}
	for i := range 5 {
		b.Parts = append(b.Parts, body.Part{ID: id(i), Name: string(id(i)), Skill: "body", Comes: body.Freely, Off: unit.Minutes(1 + rng.IntN(8)), On: unit.Minutes(1 + rng.IntN(8)),
			Price: eur(unit.Minor(100 * rng.IntN(30))), OneTime: rng.IntN(6) == 0, Delivery: unit.Some(unit.Minutes(0))})
		if rng.IntN(2) == 0 {
			entry(string(id(i)))
		}
	}
	b.Parts = append(b.Parts, body.Part{ID: "cast", Name: "front casting", Kind: "casting", Skill: "body"})
	for i := range 4 {
		z := body.ZoneID(fmt.Sprintf("Z%d", i))
		b.Castings[0].Zones = append(b.Castings[0].Zones, body.Zone{ID: z})
		if rng.IntN(4) > 0 {
			entry(string(z))
		} else if rng.IntN(2) > 0 {
			b.Access = append(b.Access, body.Access{To: string(z)})
		}
	}
	for i := range 3 {
		l := append(some(""), "cast")
		j := body.Joint{ID: body.JointID(fmt.Sprint("j", i)), Name: fmt.Sprint("j", i), Layers: l, Open: unit.Minutes(rng.IntN(20)), Skill: "body"}
		if rng.IntN(2) == 0 {
			j.Destroys = []body.PartID{id(rng.IntN(5))}
		}
		b.Joints = append(b.Joints, j)
	}
	if ps := some(""); len(ps) == 2 {
		b.Assemblies = []body.Assembly{{ID: "a0", Name: "a0", Parts: ps, Off: unit.Minutes(1 + rng.IntN(8)), On: unit.Minutes(1 + rng.IntN(8)), Skill: "body"}}
	}
	b.Tasks = []body.Task{{ID: "lock", When: "start", Safe: true, Step: body.Step{Name: "Lock out", Skill: "body", Fixed: 7}},
		{ID: "drain", When: "start", Step: body.Step{Name: "Drain", Skill: "body", Fixed: 5}},
		{ID: "fill", When: "end", Needs: []body.TaskID{"bleed"}, Step: body.Step{Name: "Fill", Skill: "body", Fixed: 3}},
		{ID: "bleed", When: "end", Step: body.Step{Name: "Bleed", Skill: "body", Fixed: 2}}}
	for range rng.IntN(4) {
		tr := body.Trigger{Part: id(rng.IntN(5))}
		if rng.IntN(2) == 0 {
			tr.Before = []body.TaskID{[]body.TaskID{"lock", "drain"}[rng.IntN(2)]}
		}
		if rng.IntN(2) == 0 {
			tr.After = []body.TaskID{"fill"}
		}
		b.Triggers = append(b.Triggers, tr)
	}
	return b
}

// exposeCoverage is areas of these zones in every state there is: the zones, ribs in them, a
// joint in two zones, one whose place is not known.
func exposeCoverage(rng *rand.Rand, b *body.Body) inspect.Result {
	var r inspect.Result
	add := func(c inspect.Coverage) {
		c.Casting = "front"
		c.Needs = []body.InspectionMethod{body.Visual, body.Penetrant}[rng.IntN(2)]
		switch c.State = job.StateNotYet; rng.IntN(6) {
		case 0:
			c.State, c.Own = job.StateNotReachable, true
		case 1:
			c.State, c.Own, c.Covered = job.StatePenetrant, true, true
		case 2:
			c.State, c.Own, c.Fails = job.StateSeen, true, "too dark"
		}
		c.ImpactMM = float64(rng.IntN(3))
		r.Coverage = append(r.Coverage, c)
	}
	for _, z := range b.Castings[0].Zones {
		id := body.AreaOfZone(z.ID)
		add(inspect.Coverage{Area: id, Name: id, Zone: z.ID, Zones: []body.ZoneID{z.ID}, Of: body.AreaZone})
		add(inspect.Coverage{Area: body.AreaOfRibs(z.ID), Name: "ribs of " + id, Zone: z.ID, Zones: []body.ZoneID{z.ID}, Of: body.AreaRibs, Part: id})
	}
	add(inspect.Coverage{Area: "A-j0", Name: "j0", Of: body.AreaJoints, Zones: []body.ZoneID{"Z0", "Z1"}})
	add(inspect.Coverage{Area: "A-j1", Name: "j1", Of: body.AreaJoints, Zones: []body.ZoneID{"Z2", ""}})
	return r
}

// piece is a part, or several as one, that comes off.
type piece struct {
	id    body.PartID
	parts []body.PartID
}

func piecesOf(b *body.Body, away []body.PartID) []piece {
	var out []piece
	for _, p := range b.Parts {
		if p.ID != "cast" && !slices.Contains(away, p.ID) {
			out = append(out, piece{p.ID, []body.PartID{p.ID}})
		}
	}
	for _, a := range b.Assemblies {
		if !slices.ContainsFunc(a.Parts, func(p body.PartID) bool { return slices.Contains(away, p) }) {
			out = append(out, piece{a.ID, a.Parts})
		}
	}
	return out
}

// free says, by the words of the question alone, that what is in the way is off: an alternative
// of every entry, what is itself among what comes off left out.
func free(b *body.Body, to string, gone map[body.PartID]bool, inside []body.PartID) bool {
	for _, a := range b.Access {
		if a.To == to && len(a.Needs) > 0 && !slices.ContainsFunc(a.Needs, func(alt []body.PartID) bool {
			return !slices.ContainsFunc(alt, func(p body.PartID) bool { return !gone[p] && !slices.Contains(inside, p) })
		}) {
			return false
		}
	}
	return true
}

// judged takes pieces off one after the other as far as that goes. It is what is gone and the
// cost in minor units; false when they cannot all come off, or one is missing.
func judged(b *body.Body, away []body.PartID, off []piece) (gone map[body.PartID]bool, cost int64, fine bool) {
	gone, by := map[body.PartID]bool{}, map[body.PartID]body.PartID{}
	fine = true
	for _, p := range away {
		gone[p] = true
	}
	tasks := map[body.TaskID]bool{}
	for _, x := range off {
		for _, p := range x.parts {
			fine = fine && by[p] == ""
			by[p] = x.id
			for _, tr := range b.Triggers {
				if tr.Part == p {
					for _, k := range append(slices.Clone(tr.Before), tr.After...) {
						tasks[k] = true
						if k == "fill" {
							tasks["bleed"] = true
						}
					}
				}
			}
		}
		for _, p := range b.Parts {
			if p.ID == x.id {
				cost += 100 * int64(p.Off+p.On)
			}
			if p.OneTime && slices.Contains(x.parts, p.ID) {
				fine = fine && x.id == p.ID
			}
		}
		for _, a := range b.Assemblies {
			if a.ID == x.id {
				cost += 100 * int64(a.Off+a.On)
			}
		}
	}
	lost := map[body.PartID]bool{}
	for _, j := range b.Joints {
		pieces, open := map[body.PartID]bool{}, false
		for _, l := range j.Layers {
			pieces[by[l]] = true
			open = open || by[l] != ""
		}
		if !open || len(pieces) == 1 || slices.ContainsFunc(j.Layers, func(p body.PartID) bool { return slices.Contains(away, p) }) {
			continue // what is off already left it open
		}
		cost += 100 * int64(j.Open+j.Refit)
		for _, d := range j.Destroys {
			fine, lost[d] = fine && (by[d] == d || slices.Contains(away, d)), true
		}
	}
	for _, p := range b.Parts {
		if by[p.ID] != "" && (lost[p.ID] || p.OneTime) {
			cost += int64(p.Price.Minor)
		}
	}
	for _, tr := range b.Triggers {
		if slices.Contains(away, tr.Part) && slices.Contains(tr.Before, "lock") {
			tasks["lock"] = false // shown again anyway
		}
	}
	for _, k := range b.Tasks {
		if tasks[k.ID] {
			cost += 100 * int64(k.Step.Fixed)
		}
	}
	for range off {
		for _, x := range off {
			ready := true
			for _, p := range x.parts {
				inside := x.parts
				if len(x.parts) == 1 {
					inside = nil
				}
				ready = ready && free(b, string(p), gone, inside)
			}
			for _, p := range x.parts {
				gone[p] = gone[p] || ready
			}
		}
	}
	for p := range by {
		fine = fine && gone[p]
	}
	return gone, cost, fine
}

// leastOff is the least cost of any choice of pieces with which all zones are reached, and which
// holds those that have to be in it.
func leastOff(b *body.Body, away []body.PartID, all, must []piece, zones []body.ZoneID) (best int64, ok bool) {
	for pick := range 1 << len(all) {
		var off []piece
		for i, x := range all {
			if pick>>i&1 == 1 {
				off = append(off, x)
			}
		}
		if slices.ContainsFunc(must, func(x piece) bool {
			return !slices.ContainsFunc(off, func(o piece) bool { return o.id == x.id })
		}) {
			continue
		}
		gone, cost, fine := judged(b, away, off)
		for _, z := range zones {
			fine = fine && free(b, string(z), gone, nil)
		}
		if fine && (!ok || cost < best) {
			best, ok = cost, true
		}
	}
	return best, ok
}

// The plan of an opening to inspect, held against every choice of parts: it is the cheapest to
// all areas, each area alone, and each next stage; walking through its steps nothing is in the
// way of what comes off or is inspected; what is destroyed is on the list; nothing comes before
// the vehicle is safe; and every area that is not covered stands in it once or stays open, for
// the reason that the data give.
func TestExposeAgainstEnumerationSeeds(t *testing.T) {
	met := map[string]int{}
	for seed := range uint64(draws(150, 600)) {
		rng := rand.New(rand.NewPCG(seed, 71))
		in := input()
		in.Body = exposeFront(rng)
		in.Inspect = exposeCoverage(rng, in.Body)
		var off []body.PartID
		if seed%3 == 0 {
			off = []body.PartID{"p0", body.PartID(fmt.Sprint("p", 1+rng.IntN(4)))}
			met["off already"]++
		}
		x, notes := Expose(in, off)
		if len(x.Stages) == 0 && blocking(notes) != "" {
			// Areas that exclude one another's assemblies; each area stays open.
			met["blocked"]++
		}
		exposeAreas(t, seed, in, x, met)
		exposeCosts(t, seed, in.Body, x, met)
		exposeWalk(t, seed, in.Body, x, met)
	}
	for _, want := range []string{"stages", "two stages", "lost", "as one piece", "no way", "barred", "no place", "alternatives", "safe first", "off already"} {
		if met[want] < 5 {
			t.Errorf("%s: only %d (%v)", want, met[want], met)
		}
	}
}

// exposeAreas: every area that is not covered is there once, and stays open only for a reason.
func exposeAreas(t *testing.T, seed uint64, in Input, x Exposed, met map[string]int) {
	b := in.Body
	count := map[string]int{}
	open := map[string]string{}
	tell := func(a ToInspect) {
		count[a.Area]++
		for _, c := range in.Inspect.Coverage {
			if slices.Contains(a.With, c.Name) {
				count[c.Area]++
				if c.Part != a.Area || c.Needs != a.Method || c.Own {
					t.Errorf("seed %d: %s is inspected with %s", seed, c.Area, a.Area)
				}
			}
		}
	}
	for _, s := range x.Stages {
		if !slices.IsSortedFunc(s.Steps, doc.Natural) {
			t.Errorf("seed %d: steps of a stage stand as %v", seed, s.Steps)
		}
		for _, a := range s.Areas {
			tell(a)
		}
	}
	for _, h := range x.Hidden {
		tell(h)
		open[h.Area] = h.Why
	}
	listed := func(z body.ZoneID) bool {
		return slices.ContainsFunc(b.Access, func(a body.Access) bool { return a.To == string(z) })
	}
	shut := map[body.ZoneID]bool{}
	bare := func(z body.ZoneID) bool {
		return slices.ContainsFunc(b.Access, func(a body.Access) bool { return a.To == string(z) && len(a.Needs) == 0 })
	}
	for _, c := range in.Inspect.Coverage {
		if c.Of == body.AreaZone && c.State == job.StateNotReachable {
			shut[c.Zone] = true
		}
	}
	for _, c := range in.Inspect.Coverage {
		if want := map[bool]int{true: 0, false: 1}[c.Covered]; count[c.Area] != want {
			t.Errorf("seed %d: %s stands in it %d times, want %d", seed, c.Area, count[c.Area], want)
		}
		if c.Covered || c.Part != "" && !c.Own && slices.ContainsFunc(in.Inspect.Coverage, func(o inspect.Coverage) bool { return o.Area == c.Part && !o.Covered && o.Needs == c.Needs }) {
			continue
		}
		why, want := open[c.Area], ""
		_, ok := leastOff(b, x.Away, piecesOf(b, x.Away), nil, c.Zones)
		switch {
		case slices.Contains(c.Zones, ""):
			want = "no place"
		case slices.ContainsFunc(c.Zones, func(z body.ZoneID) bool { return !listed(z) }):
			want = "no access"
		case slices.ContainsFunc(c.Zones, func(z body.ZoneID) bool { return bare(z) && (shut[z] || c.State == job.StateNotReachable) }):
			want = "barred"
		case !ok:
			want = "no way"
		}
		met[want]++
		if (why != "") != (want != "") && len(x.Stages) > 0 {
			t.Errorf("seed %d: %s stays open by %q, want %q", seed, c.Area, why, want)
		}
	}
}

// exposeCosts: the opening, each area alone and each stage are the cheapest of all.
func exposeCosts(t *testing.T, seed uint64, b *body.Body, x Exposed, met map[string]int) {
	var zones []body.ZoneID
	for _, s := range x.Stages {
		for _, a := range s.Areas {
			zones = append(zones, a.Zones...)
		}
	}
	if len(x.Stages) == 0 {
		return
	}
	all, whole := piecesOf(b, x.Away), []piece{}
	for _, r := range x.Plan.Removal {
		whole = append(whole, all[slices.IndexFunc(all, func(p piece) bool { return p.id == r.Part })])
		if len(r.Parts) > 0 {
			met["as one piece"]++
		}
	}
	best, ok := leastOff(b, x.Away, all, nil, zones)
	if !ok || int64(x.Plan.OpeningCost) != best || !x.Plan.OpeningProven {
		t.Errorf("seed %d: the opening costs %d (proven %v), the cheapest %d %v", seed, x.Plan.OpeningCost, x.Plan.OpeningProven, best, ok)
	}
	var gone []piece
	sum, left := int64(0), x.Stages
	for k, s := range x.Stages {
		before := sum
		sum += int64(s.Cost)
		next, found := int64(0), false // the cheapest way on to any area that is left
		for _, l := range left {
			for _, a := range l.Areas {
				if c, ok := leastOff(b, x.Away, whole, gone, a.Zones); ok && (!found || c < next) {
					next, found = c, true
				}
				if c, ok := leastOff(b, x.Away, all, nil, a.Zones); k == 0 && (!ok || int64(a.Alone) != c || !a.Proven) {
					t.Errorf("seed %d: %s alone costs %d, the cheapest %d", seed, a.Area, a.Alone, c)
				}
				if int64(a.Alone) > int64(x.Plan.OpeningCost) {
					t.Errorf("seed %d: %s alone is dearer than all", seed, a.Area)
				}
			}
		}
		if sum != next {
			t.Errorf("seed %d: stage %d goes on from %d to %d, the cheapest way to another area to %d", seed, k+1, before, sum, next)
		}
		for _, id := range s.Off {
			gone = append(gone, all[slices.IndexFunc(all, func(p piece) bool { return p.id == id })])
		}
		left = left[1:]
	}
	if sum != best || len(gone) != len(whole) {
		t.Errorf("seed %d: the stages cost %d of %d, with %d of %d pieces", seed, sum, best, len(gone), len(whole))
	}
	met["stages"]++
	if len(x.Stages) > 2 {
		met["two stages"]++
	}
}

// exposeWalk: going through the steps in order, nothing is in the way, and no more comes off
// before what is in sight is inspected.
func exposeWalk(t *testing.T, seed uint64, b *body.Body, x Exposed, met map[string]int) {
	gone, seen := map[body.PartID]bool{}, map[string]bool{}
	all, lost := piecesOf(b, x.Away), map[body.PartID]bool{}
	for _, p := range x.Away {
		gone[p] = true
	}
	stage := map[string]int{}
	for k, s := range x.Stages {
		for _, id := range s.Off {
			stage[string(id)] = k
		}
		for _, id := range s.Lost {
			lost[id] = true
		}
	}
	var off []piece
	for i, s := range x.Plan.Steps {
		word, what, _ := strings.Cut(s.Ref, " ")
		switch word {
		case "task":
			if what == "lock" {
				if met["safe first"]++; i != 0 {
					t.Errorf("seed %d: %s comes as step %d", seed, s.Name, i+1)
				}
			}
			first := len(x.Stages) // the stage that needs it
			for _, tr := range b.Triggers {
				for _, p := range all {
					if k, ok := stage[string(p.id)]; ok && what == "drain" && slices.Contains(tr.Before, "drain") && slices.Contains(p.parts, tr.Part) {
						first = min(first, k)
					}
				}
			}
			for k := range first {
				for _, a := range x.Stages[k].Areas {
					if what == "drain" && !seen[a.Area] {
						t.Errorf("seed %d: %s comes before %s is inspected", seed, s.Name, a.Area)
					}
				}
			}
		case "off":
			p := all[slices.IndexFunc(all, func(p piece) bool { return string(p.id) == what })]
			for _, id := range p.parts {
				inside := p.parts
				if len(inside) == 1 {
					inside = nil
				}
				if !free(b, string(id), gone, inside) {
					t.Errorf("seed %d: %s comes off with something in its way", seed, what)
				}
			}
			for _, id := range p.parts {
				gone[id] = true
			}
			for k := range stage[what] {
				for _, a := range x.Stages[k].Areas {
					if !seen[a.Area] {
						t.Errorf("seed %d: %s comes off before %s is inspected", seed, what, a.Area)
					}
				}
			}
			off = append(off, p)
		case "inspect":
			seen[what] = true
			for _, l := range x.Stages {
				for _, a := range l.Areas {
					for _, z := range a.Zones {
						if a.Area == what && !free(b, string(z), gone, nil) {
							t.Errorf("seed %d: %s is inspected with something in the way of %s", seed, what, z)
						}
					}
				}
			}
		}
	}
	for _, tr := range b.Triggers {
		if len(x.Stages) > 0 && slices.Contains(x.Away, tr.Part) && slices.Contains(tr.Before, "lock") && x.Plan.Steps[0].Ref != "task lock" {
			t.Errorf("seed %d: %s is off already, and nothing makes safe what that asks for", seed, tr.Part)
		}
	}
	if _, _, fine := judged(b, x.Away, off); !fine {
		t.Errorf("seed %d: %v cannot come off together", seed, off)
	}
	for _, l := range x.Plan.Lost {
		met["lost"]++
		if !lost[l.Part] {
			t.Errorf("seed %d: %s is lost, and no stage says so", seed, l.Part)
		}
	}
	if len(lost) != len(x.Plan.Lost) {
		t.Errorf("seed %d: lost are %v, bought %v", seed, lost, x.Plan.Lost)
	}
	for _, a := range b.Access {
		if len(a.Needs) > 1 && len(off) > 0 {
			met["alternatives"]++
		}
	}
}

// Where all is covered nothing comes off, and the plan is empty; a body that says of no zone
// what is in its way, or that has more parts in the way than are weighed, leaves every area open.
func TestExposeWithNothingToSee(t *testing.T) {
	in := input(weldF1) // the choice counts for nothing
	in.Inspect.Coverage = []inspect.Coverage{{Area: "A-Z1", Zone: "Z1", Zones: []body.ZoneID{"Z1"}, Casting: "front", Covered: true}}
	x, notes := Expose(in, nil)
	if len(x.Open()) != 0 || len(x.Plan.Steps) != 0 || x.Seen != 1 || !x.Plan.OpeningProven || notes != nil {
		t.Errorf("%+v, %v", x, notes)
	}
	in.Inspect.Coverage[0].Covered = false
	for name, c := range map[string]struct {
		spoil func(*body.Body)
		why   string
	}{
		"no access":  {func(b *body.Body) { b.Access = nil }, "access to no zone of front casting is in the body"},
		"no casting": {func(b *body.Body) { b.Castings = nil }, "no casting front"},
		"a circle": {func(b *body.Body) {
			b.Access = append(b.Access, body.Access{To: "bumper", Needs: [][]body.PartID{{"skin"}}})
		}, "wait for one another"},
		"too many parts": {manyInTheWay, "65 parts could be in its way"},
	} {
		in := in
		in.Body = testBody()
		c.spoil(in.Body)
		x, _ := Expose(in, nil)
		if len(x.Stages) != 0 || len(x.Hidden) != 1 || !strings.Contains(x.Hidden[0].Why, c.why) || x.Hidden[0].Hint == "" {
			t.Errorf("%s: %+v", name, x)
		}
	}
}

// Areas that can be reached one by one and not together: 33 parts are in the way of each of two, and
// the search takes 64. All of them stay open, each with what to do.
func TestExposeWhereAllTogetherIsTooMuch(t *testing.T) {
	in := input()
	in.Body = testBody()
	in.Body.Access = []body.Access{{To: "Z1", Needs: [][]body.PartID{nil}}, {To: "Z2", Needs: [][]body.PartID{nil}}}
	for i := range 66 {
		id := body.PartID(fmt.Sprintf("x%d", i))
		in.Body.Parts = append(in.Body.Parts, body.Part{ID: id, Skill: "body"})
		in.Body.Access[i/33].Needs[0] = append(in.Body.Access[i/33].Needs[0], id)
	}
	in.Inspect.Coverage = []inspect.Coverage{{Area: "A-Z1", Zone: "Z1", Zones: []body.ZoneID{"Z1"}, Casting: "front", Needs: body.Visual}, {Area: "A-Z2", Zone: "Z2", Zones: []body.ZoneID{"Z2"}, Casting: "front", Needs: body.Visual}}
	x, notes := Expose(in, nil)
	if len(x.Stages) != 0 || len(x.Hidden) != 2 || blocking(notes) == "" {
		t.Fatalf("%+v, %v", x, notes)
	}
	for _, h := range x.Hidden {
		if !strings.Contains(h.Why, "no plan that reaches all areas") || h.Hint == "" || len(h.Off) != 33 {
			t.Errorf("%+v", h)
		}
	}
}

func manyInTheWay(b *body.Body) {
	b.Access[0].Needs[0] = nil
	for i := range maxParts + 1 {
		id := body.PartID(fmt.Sprintf("x%d", i))
		b.Parts = append(b.Parts, body.Part{ID: id, Skill: "body"})
		b.Access[0].Needs[0] = append(b.Access[0].Needs[0], id)
	}
}

// Inspecting takes the shop's minutes, and what comes off for the next area waits until penetrant
// and developer have acted; where the shop gives no time the step has none, and where nobody has
// the skill it blocks. Constructed: Z1 lies behind the seal, the bumper and the skin; Z2 is in sight.
func TestInspectingTakesTheShopsTime(t *testing.T) {
	in := input()
	in.Inspect.Coverage = []inspect.Coverage{
		{Area: "A-Z1", Zone: "Z1", Zones: []body.ZoneID{"Z1"}, Casting: "front", Needs: body.Visual},
		{Area: "A-Z2", Zone: "Z2", Zones: []body.ZoneID{"Z2"}, Casting: "front", Needs: body.Penetrant}}
	in.Shop.Inspecting = []shop.Inspecting{{Method: body.Penetrant, Minutes: 35, Skill: "alu", Wait: 20}}
	x, notes := Expose(in, nil)
	if len(x.Stages) != 2 || blocking(notes) != "" {
		t.Fatalf("%+v, %v", x.Stages, notes)
	}
	z2, z1 := step(t, x.Plan, "Inspect A-Z2 with penetrant"), step(t, x.Plan, "Inspect A-Z1 by eye")
	if z2.Minutes != 35 || z2.Skill != "alu" || z2.Person != "p2" || z2.WaitMin != 20 || z1.Minutes != 0 || z1.Person != "" {
		t.Errorf("%+v\n%+v", z2, z1)
	}
	for _, s := range x.Plan.Steps {
		if strings.HasPrefix(s.Ref, "off ") && s.From.Before(z2.To.Add(20*time.Minute)) {
			t.Errorf("%s begins at %s, before the developer has acted on what is inspected until %s", s.Name, s.From, z2.To)
		}
	}
	in.Shop.Inspecting[0].Skill = "paint"
	if _, notes := Expose(in, nil); blocking(notes) != "plan.no-person" {
		t.Errorf("nobody has the skill: %v", notes)
	}
}
