package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// drawJoints is the body with drawn steps at its joints, metals, isolating materials and pairs that
// have to be kept apart.
func drawJoints(b *body.Body, rng *rand.Rand) *body.Body {
	out := *b
	words := append(body.Metals(), "", body.Aluminium, body.Steel)
	metal := func() body.Metal { return words[rng.IntN(len(words))] }
	out.Parts, out.Materials, out.Joints = slices.Clone(b.Parts), slices.Clone(b.Materials), slices.Clone(b.Joints)
	for i := range out.Parts {
		out.Parts[i].Metal = metal()
	}
	for i := range out.Materials {
		m := &out.Materials[i]
		if m.Isolates = rng.IntN(4) == 0; m.Kind == body.Rivet || m.Kind == body.Plate {
			m.Metal = metal()
		}
	}
	out.Materials = append(out.Materials, body.Material{ID: "X-SEAL", Name: "Sealer", Kind: "sealer", Pack: amount(100, "ml"), Price: unit.Money{Minor: 900, Currency: b.Currency}, Isolates: rng.IntN(3) == 0,
		Cure: []body.CureRow{{Temp: 0, Working: 10, Handling: 45, Full: 90}, {Temp: 40, Working: 10, Handling: 45, Full: 90}}})
	out.Apart = nil
	if rng.IntN(5) > 0 {
		out.Apart = []body.Apart{}
		for _, x := range body.Metals()[:8] {
			for _, y := range body.Metals()[:8] {
				if x < y && rng.IntN(4) == 0 {
					out.Apart = append(out.Apart, body.Apart{Of: []body.Metal{x, y}, Cite: "drawn"})
				}
			}
		}
	}
	for i := range out.Joints {
		j := &out.Joints[i]
		j.Before, j.After = drawSteps(rng, "b", j.Skill), drawSteps(rng, "a", j.Skill)
		j.Isolates = rng.IntN(5) == 0
		if rng.IntN(2) == 0 {
			j.FastenerMetal = metal()
		}
	}
	return &out
}

func drawSteps(rng *rand.Rand, word string, skill body.SkillID) []body.Step {
	var out []body.Step
	for k := range rng.IntN(3) {
		st := body.Step{ID: fmt.Sprintf("%s%d", word, k), Name: "Do " + word, Skill: skill, Fixed: unit.Minutes(1 + rng.IntN(20)), PerMetre: unit.Minutes(rng.IntN(9)), PerRivet: unit.Minutes(rng.IntN(2)), Isolates: rng.IntN(8) == 0}
		if rng.IntN(3) == 0 {
			st.NewPart = body.Yes
		}
		if rng.IntN(2) == 0 {
			st.Uses = []body.Use{{Material: "X-SEAL", Each: amount(2, "ml"), PerMetre: amount(11, "ml")}}
		}
		switch rng.IntN(3) {
		case 0:
			st.Wait = &body.Wait{Name: "dries", Cure: "X-SEAL"}
		case 1:
			st.Wait = &body.Wait{Name: "airs", Elapsed: unit.Minutes(rng.IntN(50))}
		}
		out = append(out, st)
	}
	return out
}

// jointCheck holds a plan against the page of body folders: it knows the body, the parts that come
// off and what was chosen, and nothing of how the plan was made.
type jointCheck struct {
	in    Input
	p     Plan
	notes []diag.Note
	off   map[body.PartID]int // by the order of removal
	whole map[body.PartID]body.PartID
	bad   []string
	seen  map[string]int
}

func checkJoints(in Input, p Plan, notes []diag.Note) *jointCheck {
	c := &jointCheck{in: in, p: p, notes: notes, off: map[body.PartID]int{}, whole: map[body.PartID]body.PartID{}, seen: map[string]int{}}
	for k, r := range p.Removal {
		for _, id := range append([]body.PartID{r.Part}, r.Parts...) {
			c.off[id], c.whole[id] = k, r.Part
		}
	}
	for _, j := range in.Body.Joints {
		if c.closed(j) {
			c.joint(j)
		}
	}
	c.apart()
	return c
}

// closed: one of its parts comes off, and not all of them as one piece.
func (c *jointCheck) closed(j body.Joint) bool {
	pieces := map[body.PartID]bool{}
	any := false
	for _, l := range j.Layers {
		if _, ok := c.off[l]; ok {
			any, pieces[c.whole[l]] = true, true
		} else {
			pieces[l] = true
		}
	}
	return any && len(pieces) > 1
}

// renewed: a part of it is a new one, or a casting of which a piece is.
func (c *jointCheck) renewed(j body.Joint) bool {
	for _, l := range j.Layers {
		if k, ok := c.off[l]; ok && c.p.Removal[k].Lost {
			return true
		}
		for _, it := range c.in.Choice.Items {
			if line, ok := c.in.Body.Line(it.Line); ok && it.Kind == body.SectionOff {
				if k, _ := c.in.Body.Casting(line.Casting); k.Part == l || line.Piece == l {
					return true
				}
			}
		}
	}
	return false
}

func (c *jointCheck) fail(format string, args ...any) {
	c.bad = append(c.bad, fmt.Sprintf(format, args...))
}

// named are the steps of a reference.
func (c *jointCheck) named(ref string) []Step {
	return slices.DeleteFunc(slices.Clone(c.p.Steps), func(s Step) bool { return s.Ref != ref })
}

func dryAt(s Step) time.Time { return s.To.Add(time.Duration(s.WaitMin) * time.Minute) }

// before: a step and its wait are over before another begins.
func (c *jointCheck) before(a, b Step, why string) {
	if a.From.IsZero() || b.From.IsZero() {
		return
	}
	if c.seen["ordered"]++; b.From.Before(dryAt(a)) {
		c.fail("%s before %s: %s begins %s, the other is over %s", a.Ref, b.Ref, why, b.From.Format("Mon 15:04"), dryAt(a).Format("Mon 15:04"))
	}
}

// steps are the steps of a list that have to be there, each once, in their order.
func (c *jointCheck) steps(j body.Joint, list []body.Step) []Step {
	var out []Step
	for _, st := range list {
		got, want := c.named(fmt.Sprintf("joint %s/%s", j.ID, st.ID)), 1
		if st.NewPart == body.Yes && !c.renewed(j) {
			want = 0
			c.seen["left out"]++
		}
		if len(got) != want {
			c.fail("%s/%s is there %d times, want %d", j.ID, st.ID, len(got), want)
			continue
		}
		if want == 0 {
			continue
		}
		c.seen["steps"]++
		if m := float64(st.Fixed) + float64(st.PerMetre)*float64(j.Length)/1000 + float64(st.PerRivet)*float64(j.Count); got[0].Minutes < m-1e-9 || got[0].Minutes > m+1e-9 {
			c.fail("%s takes %g min, want %g", got[0].Ref, got[0].Minutes, m)
		}
		if len(out) > 0 {
			c.before(out[len(out)-1], got[0], "in their order")
		}
		out = append(out, got[0])
	}
	return out
}

func (c *jointCheck) joint(j body.Joint) {
	before, after := c.steps(j, j.Before), c.steps(j, j.After)
	var closing []Step
	for _, s := range c.p.Steps {
		if slices.Contains(s.Closes, j.ID) || s.Ref == "close "+string(j.ID) || s.Ref == "bond "+string(j.ID) {
			closing = append(closing, s)
		}
	}
	if len(closing) == 0 {
		c.fail("%s is not closed", j.ID)
	}
	first := len(c.p.Removal)
	for _, l := range j.Layers {
		k, ok := c.off[l]
		if !ok {
			continue
		}
		first = min(first, k)
		for _, s := range c.named("off " + string(c.whole[l])) {
			for _, b := range before {
				c.before(s, b, "its parts are off")
			}
		}
	}
	c.covered(j, before)
	for _, s := range closing {
		for _, b := range before {
			c.before(b, s, "before it is closed")
		}
		for _, a := range after {
			c.before(s, a, "after it is closed")
		}
	}
	for _, x := range c.p.Removal[first].Needs { // had to be off before the joint could be opened
		if slices.ContainsFunc(j.Layers, func(l body.PartID) bool { return c.whole[l] == x }) {
			continue
		}
		for _, on := range c.named("on " + string(x)) {
			for _, a := range after {
				c.seen["covered"]++
				c.before(a, on, "before it is covered")
			}
		}
	}
}

// covered: two neighbours of a joint do not both lie in their places before it is prepared.
func (c *jointCheck) covered(j body.Joint, before []Step) {
	on := func(l body.PartID) time.Time {
		if _, ok := c.off[l]; !ok {
			return time.Time{}
		}
		for _, s := range c.named("on " + string(c.whole[l])) {
			return s.From
		}
		return time.Time{}
	}
	for k := 1; k < len(j.Layers); k++ {
		x, y := j.Layers[k-1], j.Layers[k]
		if c.whole[x] != "" && c.whole[x] == c.whole[y] {
			continue
		}
		met := on(x)
		if on(y).After(met) {
			met = on(y)
		}
		for _, b := range before {
			if !met.IsZero() && !b.From.IsZero() && met.Before(dryAt(b)) {
				c.fail("%s is over %s, %s and %s lie together from %s", b.Ref, dryAt(b).Format("Mon 15:04"), x, y, met.Format("Mon 15:04"))
			}
		}
	}
}

// apart: a joint with a pair that has to be kept apart, or that may be one, and nothing that
// isolates gives an open point, and no other joint does.
func (c *jointCheck) apart() {
	said := map[string]map[string]bool{}
	unlisted := 0
	for _, n := range c.notes {
		if said[n.Code] == nil {
			said[n.Code] = map[string]bool{}
		}
		said[n.Code][n.Where] = true
		if n.Code == "plan.pairs-unknown" {
			unlisted++
		}
		if strings.HasPrefix(n.Code, "plan.not-kept") || n.Code == "plan.metal-unknown" {
			if !n.Blocks() {
				c.fail("%s does not block", n.Code)
			}
		}
	}
	open := false
	for _, j := range c.in.Body.Joints {
		pair, unknown := false, false
		if c.closed(j) {
			pair, unknown = c.touches(j)
		}
		if c.in.Body.Apart == nil {
			open = open || unknown
			continue
		}
		c.seen["judged"]++
		for code, want := range map[string]bool{"plan.not-kept-apart": pair, "plan.metal-unknown": unknown} {
			if said[code][string(j.ID)] != want {
				c.fail("%s of %s: %t, want %t", code, j.ID, said[code][string(j.ID)], want)
			}
			asked := slices.ContainsFunc(c.p.Gaps, func(g Gap) bool {
				return strings.Contains(strings.Join(g.Lacks, " "), map[bool]string{true: "keeps apart", false: "made of"}[code == "plan.not-kept-apart"]) && len(g.For) > 0
			})
			if want {
				if c.seen[code]++; !asked {
					c.fail("%s of %s is no open point: %v", code, j.ID, c.p.Gaps)
				}
			}
		}
	}
	if c.in.Body.Apart == nil {
		c.seen["no list"]++
		if unlisted > 1 || open && unlisted == 0 {
			c.fail("%d notes that no list is given, something unlike may be joined: %t", unlisted, open)
		}
	} else if unlisted > 0 {
		c.fail("there is a list, and a note says that there is none")
	}
}

// touches judges a joint: a pair of the list, something of which nobody knows what it is.
func (c *jointCheck) touches(j body.Joint) (pair, unknown bool) {
	if j.Isolates {
		return
	}
	type piece struct {
		metal body.Metal
		layer bool
	}
	var all []piece
	for _, l := range j.Layers {
		p, _ := c.in.Body.Part(l)
		all = append(all, piece{p.Metal, true})
	}
	between, set, uses := false, 0, slices.Clone(j.Uses)
	for _, st := range slices.Concat(j.Before, j.After) {
		if st.NewPart != body.Yes || c.renewed(j) {
			if uses = append(uses, st.Uses...); st.Isolates {
				return
			}
		}
	}
	for k, u := range uses {
		m, _ := c.in.Body.Material(u.Material)
		switch fastener := m.Kind == "rivet" || m.Kind == "bolt" || m.Metal != ""; {
		case m.Kind == "plate" || fastener:
			if !m.Isolates {
				all = append(all, piece{m.Metal, m.Kind == "plate"})
			}
			if m.Kind != "plate" && k < len(j.Uses) {
				set++
			}
		case m.Isolates:
			between = true
		}
	}
	counted := 0
	for _, m := range j.Methods {
		if m != "adhesive" && m != "weld" && m != "hem" {
			counted++
		}
	}
	if j.FastenerMetal != "" || counted > set {
		all = append(all, piece{j.FastenerMetal, false})
	}
	for a, x := range all {
		for _, y := range all[a+1:] {
			if !x.layer && !y.layer || x.layer && y.layer && between || x.metal == "none" || y.metal == "none" || x.metal == y.metal && x.metal != "" && x.metal != "other" {
				continue
			}
			listed := x.metal != "" && y.metal != "" && slices.ContainsFunc(c.in.Body.Apart, func(p body.Apart) bool {
				return slices.Equal(p.Of, []body.Metal{x.metal, y.metal}) || slices.Equal(p.Of, []body.Metal{y.metal, x.metal})
			})
			pair = pair || listed
			unknown = unknown || !listed && (c.in.Body.Apart == nil && x.metal+y.metal != "" || c.in.Body.Apart != nil && (x.metal == "" || y.metal == "" || x.metal == "other" || y.metal == "other"))
		}
	}
	return pair, unknown
}

// Laws over drawn bodies, sources: docs/formats/body.md ("Kept apart and sealed").
func TestJointLawsSeeds(t *testing.T) {
	seen := map[string]int{}
	bad := 0
	for _, v := range lawVehicles(t) {
		for seed := range uint64(draws(25, 400)) {
			in := lawJob(v, seed)
			in.Body = drawJoints(v.body, rand.New(rand.NewPCG(seed, 77)))
			p, notes := Build(in)
			if len(p.Steps) == 0 {
				t.Fatalf("%s seed %d: no steps: %v", v.name, seed, notes)
			}
			c := checkJoints(in, p, notes)
			for k, n := range c.seen {
				seen[k] += n
			}
			if bad += len(c.bad); len(c.bad) > 0 && bad < 12 {
				t.Errorf("%s seed %d: %s", v.name, seed, c.bad[0])
			}
		}
	}
	for _, k := range []string{"steps", "left out", "ordered", "covered", "judged", "plan.not-kept-apart", "plan.metal-unknown", "no list"} {
		if seen[k] < 8 {
			t.Errorf("%s: tried %d times", k, seen[k])
		}
	}
	t.Logf("broken %d times; tried %v", bad, seen)
}

// The order in which a body names its parts, joints, materials and pairs, and which word stands for
// which metal, change no step, time, amount or open point.
func TestShuffledJointsChangeNothingSeeds(t *testing.T) {
	said := func(in Input) string {
		p, notes := Build(in)
		var out []string
		for _, s := range p.Steps {
			out = append(out, fmt.Sprint(s.ID, s.Ref, s.Minutes, s.From, s.To, s.After))
		}
		for _, x := range p.Takeoff {
			out = append(out, fmt.Sprint(x.Material, x.Net))
		}
		var told []string
		for _, n := range notes {
			told = append(told, n.Code+" "+n.Where)
		}
		slices.Sort(told)
		return strings.Join(append(out, told...), "\n")
	}
	v := lawVehicles(t)[0]
	for seed := range uint64(draws(4, 60)) {
		in := lawJob(v, seed)
		rng := rand.New(rand.NewPCG(seed, 79))
		in.Body = drawJoints(v.body, rng)
		want := said(in)
		other := *in.Body
		other.Parts, other.Joints, other.Materials, other.Apart = slices.Clone(other.Parts), slices.Clone(other.Joints), slices.Clone(other.Materials), slices.Clone(other.Apart)
		words, to := body.Metals()[:7], map[body.Metal]body.Metal{"": "", body.OtherMetal: body.OtherMetal, body.NoMetal: body.NoMetal}
		for i, k := range rng.Perm(len(words)) {
			to[words[i]] = words[k]
		}
		for i := range other.Parts {
			other.Parts[i].Metal = to[other.Parts[i].Metal]
		}
		for i := range other.Joints {
			other.Joints[i].FastenerMetal = to[other.Joints[i].FastenerMetal]
		}
		for i := range other.Materials {
			other.Materials[i].Metal = to[other.Materials[i].Metal]
		}
		for i, a := range other.Apart {
			other.Apart[i].Of = []body.Metal{to[a.Of[1]], to[a.Of[0]]}
		}
		rng.Shuffle(len(other.Parts), func(i, j int) { other.Parts[i], other.Parts[j] = other.Parts[j], other.Parts[i] })
		rng.Shuffle(len(other.Joints), func(i, j int) { other.Joints[i], other.Joints[j] = other.Joints[j], other.Joints[i] })
		rng.Shuffle(len(other.Materials), func(i, j int) { other.Materials[i], other.Materials[j] = other.Materials[j], other.Materials[i] })
		rng.Shuffle(len(other.Apart), func(i, j int) { other.Apart[i], other.Apart[j] = other.Apart[j], other.Apart[i] })
		in.Body = &other
		if got := said(in); got != want {
			t.Errorf("seed %d:\n%s\nwas\n%s", seed, got, want)
		}
	}
}
