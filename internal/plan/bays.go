package plan

import (
	"fmt"
	"slices"
	"sort"

	"fettle/internal/sched"
	"fettle/internal/shop"
)

// A vehicle stands in one bay at a time, and its lift at one height: steps that need
// different ones are never done at once, and while something cures, cools or dries
// that was done in a bay, the vehicle stays there. A bay belongs to a job from its
// first step there to its last, since nobody knows of a vehicle that is opened up
// whether it can be moved. Two things part the steps in a bay, provided that all of the
// ones come before all of the others. Where a step in another bay lies between, the
// vehicle has left the bay when it stands in the other, and the bay is free from then
// on. Where the shop says that it rolls vehicles out of a bay (roll_out), the bay is
// free between the steps before a delivery or an answer and those after it.

// stood is a step as far as bays, waits and lifts are concerned.
type stood struct {
	bay, lift, chain string
	moves            bool // the vehicle is moved
	leaves           bool // to where no bay is
	wait             int
	after            []int    // indices of the steps before it
	gates            []string // deliveries and answers it waits for
}

// kept is a run of steps for which a job keeps one bay.
type kept struct {
	kind    string
	members []int
	until   []int // steps in other bays that come after all of them: the vehicle leaves with the first
	extra   int   // minutes the bay is taken after the last of them, to roll the vehicle out
}

// keptBays are the runs of steps for which bays are kept, in the order of the steps.
func keptBays(steps []stood, bays []shop.Bay) []kept {
	var kinds []string
	for i := range steps {
		if k := steps[i].bay; k != "" && !slices.Contains(kinds, k) {
			kinds = append(kinds, k)
		}
	}
	var out []kept
	before := ancestors(steps)
	for _, k := range kinds {
		var all []int
		for i := range steps {
			if steps[i].bay == k {
				all = append(all, i)
			}
		}
		p := &parting{steps: steps, before: before, all: all, part: map[int]int{}}
		p.moves(k)
		extra, rolls := rollOut(k, bays)
		rolls = rolls && !slices.ContainsFunc(steps, func(s stood) bool { return s.moves && s.bay != "" }) // then it is by steps
		if rolls {
			p.gates()
		}
		runs := p.runs()
		for n, run := range runs {
			x := kept{kind: k, members: run}
			if rolls && n+1 < len(runs) && p.rolled(runs[n+1]) {
				x.extra = extra
			} else {
				x.until = p.elsewhere(k, run)
			}
			out = append(out, x)
		}
	}
	return out
}

// rollOut is the time the shop takes to roll a vehicle out of every bay of a kind and
// back; false when it does not of one of them.
func rollOut(kind string, bays []shop.Bay) (int, bool) {
	most := 0
	for _, b := range bays {
		if string(b.Kind) == kind {
			if b.RollOut <= 0 {
				return 0, false
			}
			most = max(most, whole(float64(b.RollOut)))
		}
	}
	return most, most > 0
}

// ancestors are, for each step, those that come before it.
func ancestors(steps []stood) []stepSet {
	out := make([]stepSet, len(steps))
	words := (len(steps) + 63) / 64
	room := make(stepSet, words*len(steps))
	var of func(i int) stepSet
	of = func(i int) stepSet {
		if out[i] == nil {
			out[i] = room[i*words : (i+1)*words]
			for _, p := range steps[i].after {
				out[i][p/64] |= 1 << (p % 64)
				for w, bits := range of(p) {
					out[i][w] |= bits
				}
			}
		}
		return out[i]
	}
	for i := range steps {
		of(i)
	}
	return out
}

// stepSet is a set of steps by their index, a bit each.
type stepSet []uint64

func (s stepSet) has(i int) bool { return s[i/64]&(1<<(i%64)) != 0 }

// parting parts the steps in a bay.
type parting struct {
	steps  []stood
	before []stepSet
	all    []int // steps in the bay
	cuts   []string
	byGate []string    // of those, the ones where something arrives
	part   map[int]int // how many cuts a step comes after
}

// moves parts the steps where one in another bay lies between.
func (p *parting) moves(kind string) {
	for x := range p.steps {
		if b := p.steps[x].bay; b != "" && b != kind || p.steps[x].leaves {
			p.cut(func(i int) bool { return p.before[i].has(x) }, func(i int) bool { return p.before[x].has(i) })
		}
	}
}

// gates parts the steps where something has to arrive: those that do not wait for it,
// then those that do, be it through what is done in one go with them.
func (p *parting) gates() {
	var gates []string
	for i := range p.steps {
		for _, g := range p.steps[i].gates {
			if !slices.Contains(gates, g) {
				gates = append(gates, g)
			}
		}
	}
	for _, g := range gates {
		late := func(i int) bool {
			for j := range p.steps {
				same := i == j || p.before[i].has(j) || p.steps[i].chain != "" && p.steps[i].chain == p.steps[j].chain
				if same && slices.Contains(p.steps[j].gates, g) {
					return true
				}
			}
			return false
		}
		if text := p.cut(late, func(i int) bool { return !late(i) }); text != "" {
			p.byGate = append(p.byGate, text)
		}
	}
}

// cut parts the steps in two when each of them is late or early, and every early one
// comes before every late one. Its name says which are late.
func (p *parting) cut(late, early func(int) bool) string {
	var first, last []int
	for _, i := range p.all {
		switch {
		case late(i):
			last = append(last, i)
		case early(i):
			first = append(first, i)
		default:
			return ""
		}
	}
	for _, i := range first {
		for _, j := range last {
			if !p.before[j].has(i) || p.steps[i].chain != "" && p.steps[i].chain == p.steps[j].chain {
				return ""
			}
		}
	}
	text := fmt.Sprint(last)
	if len(first) == 0 || len(last) == 0 {
		return ""
	}
	if !slices.Contains(p.cuts, text) {
		p.cuts = append(p.cuts, text)
		for _, i := range last {
			p.part[i]++
		}
	}
	return text
}

// runs are the parts, in order.
func (p *parting) runs() [][]int {
	out := make([][]int, len(p.cuts)+1)
	for _, i := range p.all {
		out[p.part[i]] = append(out[p.part[i]], i)
	}
	return out
}

// rolled says that the vehicle may be rolled out before the steps of a part.
func (p *parting) rolled(next []int) bool {
	var last []int
	for _, i := range p.all {
		if p.part[i] >= p.part[next[0]] {
			last = append(last, i)
		}
	}
	return slices.Contains(p.byGate, fmt.Sprint(last))
}

// elsewhere are the steps in other bays that come after every one of the part.
func (p *parting) elsewhere(kind string, run []int) []int {
	var out []int
	for x := range p.steps {
		b := p.steps[x].bay
		after := b != "" && b != kind || p.steps[x].leaves
		for _, i := range run {
			after = after && p.before[x].has(i)
		}
		if after {
			out = append(out, x)
		}
	}
	return out
}

// stands adds to a problem what a vehicle needs one of at a time. at is the activity
// of each step, -1: none is left of it; name says whose it is.
func stands(prob *sched.Problem, name string, steps []stood, at []int, runs []kept) {
	lift, bay, rest := len(prob.States), len(prob.States)+1, len(prob.States)+2
	prob.States = append(prob.States, name+" lift", name+" bay")
	moved := slices.ContainsFunc(steps, func(s stood) bool { return s.moves })
	if moved {
		prob.States = append(prob.States, name+" at rest")
	}
	for i, s := range steps {
		if at[i] < 0 {
			continue
		}
		a := &prob.Activities[at[i]]
		switch { // nothing is done on a vehicle while it is moved
		case s.moves:
			a.Sets = append(a.Sets, sched.Setting{State: rest, Value: "moved"})
		case moved:
			a.Sets = append(a.Sets, sched.Setting{State: rest, Value: "still"})
		}
		if s.lift != "" {
			a.Sets = append(a.Sets, sched.Setting{State: lift, Value: s.lift})
		}
		if a.Place != "" {
			a.Stay = s.wait
			a.Sets = append(a.Sets, sched.Setting{State: bay, Value: a.Place, Stay: s.wait})
		}
	}
	for _, r := range runs {
		h := sched.Hold{ID: name + " in " + r.kind, Owner: name, Kind: r.kind}
		for _, i := range r.members {
			if at[i] >= 0 && prob.Activities[at[i]].Place != "" {
				h.Members = append(h.Members, at[i])
				prob.Activities[at[i]].Stay += r.extra
			}
		}
		for _, i := range r.until {
			if at[i] >= 0 && (prob.Activities[at[i]].Place != "" || steps[i].leaves) {
				h.Until = append(h.Until, at[i])
			}
		}
		sort.Ints(h.Members)
		sort.Ints(h.Until)
		prob.Holds = append(prob.Holds, h)
	}
}

// stoodSteps are the steps of a plan as far as bays, waits and lifts are concerned.
func stoodSteps(steps []Step) []stood {
	at := map[string]int{}
	for i := range steps {
		at[steps[i].ID] = i
	}
	out := make([]stood, len(steps))
	for i := range steps {
		s := &steps[i]
		out[i] = stood{bay: string(s.Bay), lift: s.Lift, chain: s.Together, wait: whole(s.WaitMin), moves: s.Move != nil, leaves: s.Move != nil && s.Move.To == Yard}
		for _, id := range s.After {
			if k, ok := at[id]; ok {
				out[i].after = append(out[i].after, k)
			}
		}
		for _, r := range s.Awaits {
			out[i].gates = append(out[i].gates, string(r.Kind)+" "+r.Item())
		}
	}
	return out
}

// standing adds to the problem of one plan what its vehicle needs one of at a time. It
// returns the run each step belongs to, for which a bay is kept.
func (b *builder) standing(prob *sched.Problem, dated []*node, at map[*node]int, mv *mover) map[*node]int {
	steps, index := make([]stood, len(dated)), make([]int, len(dated))
	for i, n := range dated {
		index[i] = at[n]
		steps[i] = stood{bay: string(n.step.Bay), lift: n.step.Lift, chain: n.step.Together, wait: whole(n.step.WaitMin), moves: n.step.Move != nil, leaves: n.step.Move != nil && n.step.Move.To == Yard}
		for _, p := range n.after {
			steps[i].after = append(steps[i].after, at[p])
		}
		for _, r := range n.step.Awaits {
			steps[i].gates = append(steps[i].gates, string(r.Kind)+" "+r.Item())
		}
	}
	bays := b.in.Shop.Bays
	if w := b.in.Shop.Moving; mv != nil && w != nil && w.Carry == nil && len(mv.stills) > 0 {
		bays = slices.Clone(bays) // what may not roll stays
		for k := range bays {
			bays[k].RollOut = 0
		}
	}
	runs, runOf := keptBays(steps, bays), map[*node]int{}
	for k, r := range runs {
		for _, i := range r.members {
			runOf[dated[i]] = k
		}
	}
	bay := len(prob.States) + 1
	stands(prob, "vehicle", steps, index, runs)
	for i, n := range dated {
		for k := range prob.Activities[i].Sets {
			if s := &prob.Activities[i].Sets[k]; mv != nil && s.State == bay {
				mv.changes(n, s)
			}
		}
	}
	return runOf
}
