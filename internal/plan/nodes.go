package plan

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
)

// Phases of the work, in order.
const (
	first = iota // before anything else
	safe         // no work is done before it
	prepare
	openUp
	ready // tasks done when everything is off
	repair
	check
	closeUp
	finish
	last // after everything else
)

// Phase is a phase of the work as a step names it.
type Phase string

// Phases of steps.
const (
	PhasePrepare Phase = "prepare"
	PhaseOpen    Phase = "open"
	PhaseRepair  Phase = "repair"
	PhaseCheck   Phase = "check"
	PhaseClose   Phase = "close"
	PhaseFinish  Phase = "finish"
)

var phaseNames = []Phase{PhasePrepare, PhasePrepare, PhasePrepare, PhaseOpen, PhaseOpen, PhaseRepair, PhaseCheck, PhaseClose, PhaseFinish, PhaseFinish}

// phaseWords is when a phase is, in words.
var phaseWords = []string{"first", "before anything is touched", "before parts come off", "while parts come off", "when everything is off", "as repair", "before parts go back on", "while parts go back on", "when everything is back on", "last"}

// node is a step with what it waits for.
type node struct {
	step     Step
	phase    int
	index    int // in order of making
	rank     int // in order of work
	after    []*node
	needs    []*node // what it comes after by itself, where the order of bays adds to that
	critical bool
	undated  bool          // a time that follows it cannot be told
	unbegun  bool          // nor when it can begin
	looks    bool          // an area is inspected in it
	while    []body.TaskID // tasks in whose state it is done
	never    []body.TaskID // tasks in whose state it is not done
	rolls    body.YesNo    // of the body: no, from its beginning the vehicle does not roll; yes, when it is done it does
}

// chainWant is a run of steps to be done in one go: by the words of the body, or one step
// alone, which is not torn apart while its adhesive is open.
type chainWant struct {
	id      string
	word    string // of the body, and of the item
	nodes   []*node
	window  float64 // 0: no limit
	works   float64 // the shortest time its adhesives can be worked
	glue    string  // adhesive that sets the limit
	unknown bool    // the limit cannot be told
	loose   bool    // the limit is the step's own length: it is longer than its adhesive works, which is told
}

// release is the last of what a step waits to arrive; zero when nothing.
func (n *node) awaited() Awaited {
	var last Awaited
	for _, r := range n.step.Awaits {
		if r.Unknown {
			return r
		}
		if r.Minutes > last.Minutes {
			last = r
		}
	}
	return last
}

func (b *builder) add(phase int, s Step) *node {
	s.Phase = phaseNames[phase]
	n := &node{step: s, phase: phase, index: len(b.nodes)}
	b.nodes = append(b.nodes, n)
	return n
}

// fromStep is a step of the body as a step of the plan, without its minutes.
func fromStep(s body.Step) Step {
	out := Step{Name: s.Name, Text: s.Text, Skill: s.Skill, Bay: s.Bay, Equipment: s.Equipment,
		Cautions: s.Cautions, Hold: s.HoldPoint, Second: s.HoldPoint != "" && s.AsksSecond(), Records: s.Records, Faults: s.Faults, Qualified: s.Qualified}
	if s.Qualified != "" {
		out.Notes = append(out.Notes, "Done by somebody qualified for "+s.Qualified+".")
	}
	return out
}

// minutesOf is how long a step of the body takes along a length, with so many fasteners.
func minutesOf(s body.Step, mm float64, fasteners int) float64 {
	return float64(s.Fixed) + float64(float64(s.PerMetre)*mm/1000) + float64(float64(s.PerRivet)*float64(fasteners))
}

// minutes is how long a step of the body takes and how that came about.
func minutes(s body.Step, m measure, fasteners int, called string) (float64, string) {
	sum := minutesOf(s, m.mm, fasteners)
	var text []string
	if s.Fixed != 0 || s.PerMetre == 0 && s.PerRivet == 0 && s.PerArea == 0 {
		text = append(text, s.Fixed.String())
	}
	if s.PerMetre != 0 {
		v := float64(s.PerMetre) * m.mm / 1000
		text = append(text, fmt.Sprintf("%s for each metre x %s mm (%s) = %s min", s.PerMetre, num(m.mm), m.from, num(v)))
	}
	if s.PerRivet != 0 {
		v := float64(float64(s.PerRivet) * float64(fasteners))
		text = append(text, fmt.Sprintf("%s x %d %s = %s min", s.PerRivet, fasteners, called, num(v)))
	}
	if s.PerArea != 0 {
		v := float64(float64(s.PerArea) * m.m2)
		sum += v
		text = append(text, fmt.Sprintf("%s for each m2 x %s m2 (%s) = %s min", s.PerArea, num(m.m2), m.over, num(v)))
	}
	out := strings.Join(text, " + ")
	if len(text) > 1 {
		out += " = " + num(sum) + " min"
	}
	return sum, out
}

// setWait puts the wait of a step of the body on the node.
func (b *builder) setWait(n *node, w *body.Wait, where string) {
	if w == nil {
		return
	}
	n.step.WaitName, n.step.WaitMin = w.Name, float64(w.Elapsed)
	if w.Cure != "" {
		b.cureWait(n, w.Cure, w.Full, where)
	}
}

// cureWait adds the time until a material may be handled, or has its full
// strength; the longer wait counts.
func (b *builder) cureWait(n *node, id body.MaterialID, full bool, where string) {
	t, ok := b.curing(id, where)
	if n.step.WaitName == "" {
		n.step.WaitName = "cure of " + b.mats[id].Name
	}
	if !ok {
		n.undated = true // what follows has no date either
		return
	}
	wait := t.handling
	if full {
		wait = t.full
	}
	n.step.WaitMin = max(n.step.WaitMin, wait)
}

// orderPhases adds that a phase begins when those before it are done. Tasks
// that only one part brings with it are tied to that part instead.
func (b *builder) orderPhases(tied map[*node]bool) {
	for _, n := range b.nodes {
		for _, p := range b.nodes {
			free := !tied[n] && !tied[p] || p.phase <= safe || n.phase == last // nothing is done before the vehicle is safe
			if p.phase < n.phase && free && !b.inner(n) {
				n.after = append(n.after, p)
			}
		}
	}
}

// inner says that the step is not the first of its chain: nothing but the step
// before it leads there.
func (b *builder) inner(n *node) bool {
	c := b.chain[n.step.Together]
	return n.step.Together != "" && c != nil && c.nodes[0] != n
}

// sortNodes puts the nodes in an order in which each comes after what it waits
// for, phases and the order of making deciding ties, and drops waits that
// others imply. It reports false when nodes wait for one another.
func (b *builder) sortNodes() bool {
	var out []*node
	done := map[*node]bool{}
	for len(out) < len(b.nodes) {
		var next *node
		for _, n := range b.nodes {
			if done[n] || (next != nil && (n.phase > next.phase || n.phase == next.phase && n.index > next.index)) {
				continue
			}
			if !slices.ContainsFunc(n.after, func(p *node) bool { return !done[p] }) {
				next = n
			}
		}
		if next == nil {
			return false
		}
		done[next] = true
		next.rank = len(out)
		out = append(out, next)
	}
	b.nodes = out
	b.reduce()
	return true
}

// reduce keeps of the waits of each node only those that no other implies.
func (b *builder) reduce() {
	n := len(b.nodes)
	before := make([][]bool, n)
	for i, x := range b.nodes {
		before[i] = make([]bool, n)
		slices.SortFunc(x.after, func(p, q *node) int { return q.rank - p.rank })
		var keep []*node
		for _, p := range x.after {
			if before[i][p.rank] {
				continue
			}
			keep = append(keep, p)
			before[i][p.rank] = true
			for k, v := range before[p.rank] {
				before[i][k] = before[i][k] || v
			}
		}
		slices.Reverse(keep)
		x.after = keep
	}
}

// number names the steps in order of work.
func (b *builder) number() {
	for i, n := range b.nodes {
		n.rank = i
		n.step.ID = fmt.Sprintf("ST-%d", i+1)
	}
	for _, n := range b.nodes {
		n.step.After, n.step.Needs = nil, nil
		for _, p := range n.after {
			n.step.After = append(n.step.After, p.step.ID)
		}
		if n.step.Needs = n.step.After; n.needs == nil {
			continue
		}
		n.step.Needs = nil
		for _, p := range n.needs {
			n.step.Needs = append(n.step.Needs, p.step.ID)
		}
	}
}
