package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// A vehicle does not change its bay by itself. It comes from the yard, is moved from bay to
// bay, and goes back to the yard, each time by somebody, in the minutes that the shop gives
// for leaving the one and entering the other. Nothing is done on it meanwhile. What is off
// may keep it from rolling: then it is carried, if the shop has what that takes, or it stays.
//
// The order of its bays is that of a first schedule, in which the minutes of moves lie
// between steps in different bays and nobody does them; what that schedule cannot beat no
// plan beats. Then the moves become steps, and all is scheduled again in that order.

// Yard is where a vehicle stands that is in no bay.
const Yard = "yard"

// Move is what a step that moves the vehicle says beside its minutes.
type Move struct {
	From  string `json:"from"`  // kind of bay, or yard
	To    string `json:"to"`    // kind of bay, or yard
	Rolls bool   `json:"rolls"` // on its wheels; else it is carried
	Off   string `json:"notRolling,omitempty"`
}

// Stand is where the vehicle stands, from when to when.
type Stand struct {
	Place string    `json:"place"` // bay, or yard
	From  time.Time `json:"from"`
	To    time.Time `json:"to"` // the last one has no end: zero
}

// stillness is a time in which the vehicle does not roll: from the beginning of the first of
// some steps to the end of the last of others.
type stillness struct {
	name     string
	from, to []*node
}

// visit is a run of steps in one bay.
type visit struct {
	kind  string
	nodes []*node
}

// carryNever is what takes the place of the minutes to carry a vehicle where the shop cannot:
// an order of bays that needs it is taken only where there is no other.
const carryNever = 20000

// stills are the times in which the vehicle does not roll, by the parts that come off and by
// the steps that say so.
func (b *builder) stills() []stillness {
	var out []stillness
	for _, i := range b.open.order {
		id := b.open.model.ids[i]
		if !slices.ContainsFunc(b.whole(id), func(p body.PartID) bool { return b.part(p).Rolls == body.No }) && b.part(id).Rolls != body.No {
			continue
		}
		s := stillness{name: b.part(id).Name + " is off"}
		for _, n := range b.nodes {
			if n.step.Part != id {
				continue
			}
			switch word, _, _ := strings.Cut(n.step.Ref, " "); word {
			case "off", "open":
				s.from = append(s.from, n)
			case "on", "close", "bond":
				s.to = append(s.to, n)
			}
		}
		out = append(out, s)
	}
	for _, n := range b.nodes {
		if n.rolls != body.No {
			continue
		}
		s := stillness{name: fmt.Sprintf("since %q", n.step.Name), from: []*node{n}}
		for _, o := range b.nodes {
			if o.rolls == body.Yes && reaches(n, o) {
				s.to = []*node{o}
				break
			}
		}
		out = append(out, s)
	}
	return out
}

// reaches says that one node comes before another.
func reaches(from, to *node) bool {
	seen := map[*node]bool{}
	var back func(n *node) bool
	back = func(n *node) bool {
		if n == from {
			return true
		}
		if seen[n] {
			return false
		}
		seen[n] = true
		return slices.ContainsFunc(n.after, back)
	}
	return from != to && back(to)
}

// surely are the stillnesses that a step lies within whatever its date, a bit each.
func surely(stills []stillness, n *node) uint64 {
	var out uint64
	for k, s := range stills[:min(len(stills), 64)] {
		in := slices.ContainsFunc(s.from, func(f *node) bool { return reaches(f, n) })
		if in && (len(s.to) == 0 || slices.ContainsFunc(s.to, func(t *node) bool { return reaches(n, t) })) {
			out |= 1 << k
		}
	}
	return out
}

// mover plans the moves of one vehicle.
type mover struct {
	b      *builder
	stills []stillness
	ends   []*node // of the first schedule: from the yard, and to it
}

// inBay says that a step is done in a bay of the shop.
func (b *builder) inBay(n *node) bool {
	return n.step.Bay != "" && n.step.Minutes > 0 && slices.ContainsFunc(b.in.Shop.Bays, func(y shopBay) bool { return y.Kind == n.step.Bay })
}

// mover is nil where the vehicle comes into no bay.
func (b *builder) mover(dated []*node) *mover {
	if !slices.ContainsFunc(dated, b.inBay) {
		return nil
	}
	return &mover{b: b, stills: b.stills()}
}

// minutes are those of leaving or entering a bay of a kind: the most of all of them, or the
// least. The yard takes none.
func (m *mover) minutes(kind string, of func(shop.Bay) unit.Minutes, least bool) float64 {
	out := 0.0
	for _, y := range m.b.in.Shop.Bays {
		if string(y.Kind) != kind {
			continue
		}
		if v := float64(of(y)); least && (out == 0 || v < out) || !least && v > out {
			out = v
		}
	}
	return out
}

func enter(y shop.Bay) unit.Minutes { return y.In }
func leave(y shop.Bay) unit.Minutes { return y.Out }

// open makes the nodes of the first schedule that stand for coming and going, and returns
// all of it.
func (m *mover) open(dated []*node) []*node {
	var in, out float64
	var stay []*node
	for _, n := range dated {
		if m.b.inBay(n) {
			stay = append(stay, n)
			kind := string(n.step.Bay)
			if v := m.minutes(kind, enter, true); in == 0 || v < in {
				in = v
			}
			if v := m.minutes(kind, leave, true); out == 0 || v < out {
				out = v
			}
		}
	}
	come, go_ := m.node(Yard, "", in), m.node("", Yard, out)
	come.after = m.safe(dated)
	go_.after = stay
	for _, n := range stay {
		n.after = append(slices.Clip(n.after), come)
	}
	m.ends = []*node{come, go_}
	return slices.Concat([]*node{come}, dated, []*node{go_})
}

// close takes those nodes out again.
func (m *mover) close(dated []*node) {
	for _, n := range dated {
		n.after = slices.DeleteFunc(slices.Clone(n.after), func(p *node) bool { return slices.Contains(m.ends, p) })
	}
	m.ends = nil
}

// safe are the steps that make the vehicle safe: it is not moved before, unless that is
// done in a bay.
func (m *mover) safe(dated []*node) []*node {
	var out []*node
	for _, n := range dated {
		if n.phase == safe && !slices.ContainsFunc(dated, func(o *node) bool { return m.b.inBay(o) && (o == n || reaches(o, n)) }) {
			out = append(out, n)
		}
	}
	return out
}

// node is a move as a step.
func (m *mover) node(from, to string, minutes float64) *node {
	s := Step{Minutes: minutes, Move: &Move{From: from, To: to, Rolls: true}}
	if to != Yard {
		s.Bay = body.BayKind(to)
	}
	if w := m.b.in.Shop.Moving; w != nil {
		s.Skill = w.Skill
	}
	return &node{step: s}
}

// visits are the runs of steps in one bay, by the first schedule.
func (m *mover) visits(dated []*node, runOf map[*node]int) []visit {
	var in []*node
	for _, n := range dated {
		if m.b.inBay(n) {
			in = append(in, n)
		}
	}
	slices.SortStableFunc(in, func(x, y *node) int { return x.step.From.Compare(y.step.From) })
	var out []visit
	for k, n := range in {
		if kind := string(n.step.Bay); k == 0 || out[len(out)-1].kind != kind || runOf[n] != runOf[in[k-1]] {
			out = append(out, visit{kind: kind})
		}
		v := &out[len(out)-1]
		v.nodes = append(v.nodes, n)
	}
	return out
}

// over is when a step, and the wait after it, is over.
func over(n *node) time.Time {
	return n.step.To.Add(time.Duration(whole(n.step.WaitMin)) * time.Minute)
}

// insert makes the moves between the visits of a first schedule into steps. all says that
// every step in a bay has a date, so that the vehicle leaves the last one.
func (m *mover) insert(vs []visit, dated []*node, all bool) bool {
	b := m.b
	var moves []*node
	for _, n := range b.nodes {
		n.needs = append([]*node{}, n.after...)
	}
	ok := true
	make1 := func(from, to string, before, behind []*node) {
		minutes := m.minutes(from, leave, false) + m.minutes(to, enter, false)
		n := m.node(from, to, minutes)
		n.after = slices.Clone(before)
		for _, x := range behind {
			x.after = append(slices.Clip(x.after), n)
		}
		for _, x := range before {
			if c := b.chain[x.step.Together]; c != nil && slices.ContainsFunc(behind, func(o *node) bool { return o.step.Together == x.step.Together }) {
				b.block(x.step.Name, diag.Say("plan.move-in-chain", "{step:q} and {next:q} are to be done in one go, and the vehicle would have to be moved in between", x.step.Name, behind[0].step.Name), "name one kind of bay for both in the body folder")
				n.unbegun, ok = true, false
			}
		}
		n.step.Name = fmt.Sprintf("Move %d: from %s to %s", len(moves)+1, m.called(from), m.called(to))
		n.step.Ref = fmt.Sprintf("move %d", len(moves)+1)
		n.step.Because, n.phase = "the vehicle leaves the bay when all is done for which it stands there", finish
		if len(behind) > 0 {
			n.step.Because, n.phase = fmt.Sprintf("%q is done there", behind[0].step.Name), behind[0].phase
		}
		n.step.Phase = phaseNames[n.phase]
		if len(behind) > 0 {
			n.step.Phase = behind[0].step.Phase
		}
		n.step.Sum = m.sum(from, to)
		if !m.rolling(n, before, behind) {
			ok = false
		}
		moves = append(moves, n)
	}
	at := Yard
	var before []*node
	for k, v := range vs {
		switch {
		case k == 0:
			make1(Yard, v.kind, m.safe(dated), v.nodes)
		case v.kind == at: // rolled out while something is waited for
			make1(at, Yard, before, nil)
			make1(Yard, v.kind, []*node{moves[len(moves)-1]}, v.nodes)
		default:
			make1(at, v.kind, before, v.nodes)
		}
		at, before = v.kind, v.nodes
	}
	if all {
		make1(at, Yard, before, nil)
	}
	for _, n := range moves {
		n.index = len(b.nodes)
		b.nodes = append(b.nodes, n)
	}
	return ok
}

// called is a place in words: the bay where there is one of its kind.
func (m *mover) called(kind string) string {
	if kind == Yard {
		return "the yard"
	}
	name, many := "", 0
	for _, y := range m.b.in.Shop.Bays {
		if string(y.Kind) == kind {
			name, many = y.Name, many+1
		}
	}
	if many == 1 {
		return name
	}
	return "a bay of the kind " + kind
}

// sum says how the minutes of a move come about.
func (m *mover) sum(from, to string) string {
	var parts []string
	if from != Yard {
		parts = append(parts, fmt.Sprintf("out of %s %s min", m.called(from), num(m.minutes(from, leave, false))))
	}
	if to != Yard {
		parts = append(parts, fmt.Sprintf("into %s %s min", m.called(to), num(m.minutes(to, enter, false))))
	}
	return strings.Join(parts, " + ")
}

// rolling settles whether the vehicle rolls when it is moved. Where it does, the move is kept
// out of the times in which it does not; where it cannot, it is carried, or the move and what
// follows have no date.
func (m *mover) rolling(n *node, before, behind []*node) bool {
	var lo, hi time.Time
	for _, x := range before {
		lo = latest(lo, over(x))
	}
	for _, x := range behind {
		if hi.IsZero() || x.step.From.Before(hi) {
			hi = x.step.From
		}
	}
	carry := m.b.in.Shop.Moving != nil && m.b.in.Shop.Moving.Carry != nil
	var off []string
	for _, s := range m.stills {
		if len(s.from) == 0 {
			continue
		}
		begin, end := m.spanOf(s)
		gone := begin.IsZero()
		ended := !end.IsZero() && !gone && begin.Before(lo) && (hi.IsZero() || !end.After(hi))
		switch {
		case ended && !slices.ContainsFunc(s.to, func(t *node) bool { return reaches(n, t) }):
			n.after = append(n.after, s.to...)
		case (gone || !begin.Before(lo)) && !slices.ContainsFunc(s.from, func(f *node) bool { return reaches(f, n) }):
			for _, f := range s.from {
				f.after = append(slices.Clip(f.after), n)
			}
		case !carry && !slices.ContainsFunc(s.from, func(f *node) bool { return reaches(f, n) }):
			for _, f := range s.from {
				f.after = append(slices.Clip(f.after), n)
			}
		case !carry && len(s.to) > 0 && !slices.ContainsFunc(s.to, func(t *node) bool { return reaches(n, t) }):
			n.after = append(n.after, s.to...)
		default:
			off = append(off, s.name)
			for _, f := range s.from {
				if !f.step.From.IsZero() && f.step.From.Before(lo) {
					n.after = append(n.after, f)
				}
			}
			if k := len(s.to) - 1; k >= 0 && !reaches(s.to[k], n) {
				s.to[k].after = append(slices.Clip(s.to[k].after), n)
			}
		}
	}
	if len(off) == 0 {
		return true
	}
	n.step.Move.Rolls, n.step.Move.Off = false, list(off)
	n.step.Because += "; it does not roll: " + list(off)
	if !carry {
		m.b.block(n.step.Name, diag.Say("plan.cannot-roll", "{step}: the vehicle does not roll ({why}), and the shop has nothing to move it all the same", n.step.Name, list(off)),
			"give 'carry' of 'moving' in the shop file, or name another bay for the steps in the body folder")
		n.unbegun = true
		return false
	}
	c := m.b.in.Shop.Moving.Carry
	n.step.Minutes += float64(c.More)
	n.step.Sum += fmt.Sprintf(" + carried %s min", num(float64(c.More)))
	n.step.Equipment, n.step.Cautions = slices.Clone(c.Equipment), []body.Caution{body.Lifting}
	return true
}

// spanOf is when a stillness begins and ends by the first schedule; zero: it has no date.
func (m *mover) spanOf(s stillness) (begin, end time.Time) {
	for _, f := range s.from {
		if !f.step.From.IsZero() && (begin.IsZero() || f.step.From.Before(begin)) {
			begin = f.step.From
		}
	}
	for _, t := range s.to {
		if t.step.From.IsZero() || t.undated {
			return begin, time.Time{}
		}
		end = latest(end, over(t))
	}
	return begin, end
}

// changes are the minutes between bays, for the first schedule.
func (m *mover) changes(n *node, s *sched.Setting) {
	w := m.b.in.Shop.Moving
	if w == nil {
		return
	}
	kind := string(n.step.Bay)
	s.Out, s.In = whole(m.minutes(kind, leave, true)), whole(m.minutes(kind, enter, true))
	s.Bits, s.More = surely(m.stills, n), carryNever
	if w.Carry != nil {
		s.More = whole(float64(w.Carry.More))
	}
}

// unmoved tells what a shop that does not say who moves vehicles leaves out of a plan; true
// when it does.
func (m *mover) unmoved(vs []visit) bool {
	b := m.b
	if len(vs) < 2 {
		return false
	}
	for k := 1; k < len(vs); k++ {
		n := m.node(vs[k-1].kind, vs[k].kind, 0)
		n.step.Name = fmt.Sprintf("Move from %s to %s before %q", m.called(vs[k-1].kind), m.called(vs[k].kind), vs[k].nodes[0].step.Name)
		n.after = slices.Clone(vs[k-1].nodes)
		keep := map[*node][]*node{}
		for _, s := range m.stills {
			for _, x := range slices.Concat(s.from, s.to) {
				keep[x] = x.after
			}
		}
		for _, x := range vs[k].nodes {
			keep[x] = x.after
			x.after = append(slices.Clip(x.after), n)
		}
		m.rolling(n, vs[k-1].nodes, vs[k].nodes)
		for x, after := range keep {
			x.after = after
		}
	}
	b.note(diag.Caution, "bays", diag.Say("plan.moves-unknown", "the vehicle changes its bay {times}, and nobody says how long that takes: the plan counts no minutes for it", diag.Counted(len(vs)-1, "time")), "give 'moving', and 'in' and 'out' of each bay, in the shop file")
	return true
}

// tellRolling says that the body tells of no part and of no step whether the vehicle rolls:
// then it is taken to roll when it changes its bay, whatever is off.
func (b *builder) tellRolling(moves int) {
	says := func(s body.Step) bool { return s.Rolls != "" }
	if moves < 1 || slices.ContainsFunc(b.in.Body.Parts, func(p body.Part) bool { return p.Rolls != "" }) ||
		slices.ContainsFunc(b.in.Body.Tasks, func(t body.Task) bool { return says(t.Step) }) ||
		slices.ContainsFunc(b.in.Body.Treatments, func(t body.Treatment) bool { return slices.ContainsFunc(t.Steps, says) }) {
		return
	}
	b.note(diag.Caution, "bays", diag.Say("plan.rolls-unknown", "the vehicle changes its bay {times}, and the body does not say with what off it does not roll: it is taken to roll", diag.Counted(moves, "time")),
		"give 'rolls' of parts and steps in the body")
}

// placesOf says where the vehicle stands, by the moves of a plan, and puts the place into
// each step.
func placesOf(steps []Step, start time.Time) []Stand {
	var order []*Step
	moved := false
	for i := range steps {
		if s := &steps[i]; !s.From.IsZero() {
			order = append(order, s)
			moved = moved || s.Move != nil
		}
	}
	if !moved {
		return nil
	}
	slices.SortStableFunc(order, func(x, y *Step) int { return x.From.Compare(y.From) })
	out := []Stand{{Place: Yard, From: start}}
	for _, s := range order {
		if s.Move != nil {
			place := s.BayID
			if s.Move.To == Yard {
				place = Yard
			}
			out[len(out)-1].To = s.From
			out = append(out, Stand{Place: place, From: s.From})
		}
		s.At = out[len(out)-1].Place
	}
	return out
}
