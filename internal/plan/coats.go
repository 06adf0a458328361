package plan

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// What has to be coated follows from the job: every new part all over, what a treatment worked
// on as its data say, and the neighbours into which the colour runs out. Each surface counts
// once, whatever asks for it. An area that nobody gives is unknown, never none.

// Area is a surface of one part that a step works on.
type Area struct {
	Part    body.PartID `json:"part"`
	Name    string      `json:"name"`
	M2      float64     `json:"m2"`
	Unknown bool        `json:"unknown,omitempty"` // nobody gives it, or not all of it
	Blend   bool        `json:"blend,omitempty"`   // the colour runs out into it, and no more
	Sum     string      `json:"sum"`               // how it came about, or why it is unknown

	whole bool // all of the surface
}

// none says that the part is known to have no such surface.
func (a Area) none() bool { return !a.Unknown && a.M2 == 0 }

// wholeArea is all of a surface of a part.
func (b *builder) wholeArea(id body.PartID, s body.Surface) Area {
	p := b.part(id)
	a := Area{Part: id, Name: p.Name, whole: true}
	if v := p.Area(s); v.Known {
		a.M2, a.Sum = float64(v.Value), fmt.Sprintf("%s %s", p.Name, v.Value)
		return a
	}
	a.Unknown, a.Sum = true, fmt.Sprintf("nobody gives the %s area of %s", s, p.Name)
	return a
}

// patch is what is coated again around a finding: as long and as wide as it is long, or as a
// line where it is a crack, with the margin on every side.
func (b *builder) patch(f job.FindingID, id body.PartID, margin float64) Area {
	x, p := b.findings[f], b.part(id)
	a := Area{Part: id, Name: p.Name}
	if x.Length == nil {
		a.Unknown, a.Sum = true, fmt.Sprintf("the size of %s on %s is not known", f, p.Name)
		return a
	}
	long, wide := x.Length.MM, x.Length.MM
	if x.Kind == body.Crack {
		wide = 0
	}
	long, wide = long+2*margin, wide+2*margin
	a.M2, a.Sum = long*wide/1e6, fmt.Sprintf("%s on %s %s mm x %s mm", f, p.Name, num(long), num(wide))
	return a
}

// with joins two areas of one surface of a part. Where all of it is done nothing comes on top;
// patches may overlap, so that their sum is too much rather than too little, but never more
// than the whole.
func (b *builder) with(a, o Area, s body.Surface) Area {
	switch {
	case a.whole:
		return a
	case o.whole:
		return o
	}
	a.M2, a.Unknown, a.Blend, a.Sum = a.M2+o.M2, a.Unknown || o.Unknown, a.Blend && o.Blend, a.Sum+" + "+o.Sum
	return b.atMost(a, s)
}

// atMost is an area that is no more than the whole surface.
func (b *builder) atMost(a Area, s body.Surface) Area {
	if all := b.part(a.Part).Area(s); !a.whole && all.Known && a.M2 >= float64(all.Value) {
		w := b.wholeArea(a.Part, s)
		w.Blend, w.Sum = a.Blend, fmt.Sprintf("%s, which is all there is of %s", w.Sum, a.Sum)
		return w
	}
	return a
}

// areas is areas of one surface by their part, each part once.
type areas struct {
	b       *builder
	surface body.Surface
	list    []Area
}

func (l *areas) add(a Area) {
	if k := slices.IndexFunc(l.list, func(o Area) bool { return o.Part == a.Part }); k >= 0 {
		l.list[k] = l.b.with(l.list[k], a, l.surface)
		return
	}
	l.list = append(l.list, l.b.atMost(a, l.surface))
}

// sum is the area of all of them, and how it came about.
func (l *areas) sum() (m2 float64, known bool, from string) {
	known = true
	var words []string
	for _, a := range l.list {
		m2, known, words = m2+a.M2, known && !a.Unknown, append(words, a.Sum)
	}
	return m2, known, strings.Join(words, " + ")
}

// words is which surfaces are worked on, for who does it.
func (l *areas) words() string {
	var out []string
	for _, a := range l.list {
		s := a.Name + " " + num(a.M2) + " m2"
		if a.Unknown {
			s = a.Name + ", area not known"
		}
		if a.Blend {
			s += " (let the colour run out)"
		}
		out = append(out, s)
	}
	side := "Outside"
	if l.surface == body.InnerSurface {
		side = "Inside"
	}
	return fmt.Sprintf("%s of %s.", side, list(out))
}

// newParts is every part that is fitted new, in the order of the body.
func (b *builder) newParts() []body.PartID {
	fresh := map[body.PartID]bool{}
	for _, i := range b.open.on {
		if id := b.open.model.ids[i]; b.isLost(id) {
			for _, p := range b.whole(id) {
				fresh[p] = true
			}
		}
	}
	for _, it := range b.items {
		for _, p := range b.boughtBy(it) {
			fresh[p] = true
		}
	}
	var out []body.PartID
	for _, p := range b.in.Body.Parts {
		if fresh[p.ID] {
			out = append(out, p.ID)
		}
	}
	return out
}

func (b *builder) isLost(id body.PartID) bool {
	_, lost := b.whyLost(id)
	return lost
}

// renews says that a treatment fits something new, so that what is coated is that.
func renews(k body.TreatmentKind) bool {
	return k.NewPart() || k == body.SectionOff || k == body.ReplaceCasting
}

// workedOn is what an item leaves to be coated of a surface of the parts it works on.
func (b *builder) workedOn(it Item, s body.Surface, into *areas) {
	again, margin := b.treatment(it).Repaints(s)
	if renews(it.Kind) || it.Kind == body.Leave || !again {
		return
	}
	for _, f := range it.Findings {
		id := b.findings[f].Part
		switch {
		case id == "":
		case margin > 0:
			into.add(b.patch(f, id, float64(margin)))
		default:
			into.add(b.wholeArea(id, s))
		}
	}
}

// coated is what has to be coated of a surface in the job, in the order of the body's parts.
func (b *builder) coated(s body.Surface) []Area {
	l := &areas{b: b, surface: s}
	for _, p := range b.newParts() {
		l.add(b.wholeArea(p, s))
	}
	for _, it := range b.items {
		b.workedOn(it, s, l)
	}
	place := func(id body.PartID) int {
		return slices.IndexFunc(b.in.Body.Parts, func(p body.Part) bool { return p.ID == id })
	}
	slices.SortStableFunc(l.list, func(x, y Area) int { return place(x.Part) - place(y.Part) })
	return slices.DeleteFunc(l.list, Area.none)
}

// coating is one coating of the body in this job.
type coating struct {
	of      body.Coating
	place   int // in the body's list: the order of work
	painted []Area
	blended []Area
	nodes   []*node // its steps, in their order
	onCar   bool    // some of it is done on the vehicle
}

// findCoatings finds what is coated and by which coating.
func (b *builder) findCoatings() {
	b.coats = nil
	if len(b.in.Body.Paint) == 0 {
		return
	}
	for _, s := range []body.Surface{body.OuterSurface, body.InnerSurface} {
		left := b.coated(s)
		for i, k := range b.in.Body.Paint {
			if k.Surface != s {
				continue
			}
			c := &coating{of: k, place: i}
			for _, a := range left {
				if k.Covers(b.part(a.Part)) {
					c.painted = append(c.painted, a)
				}
			}
			b.coats = append(b.coats, c)
		}
		b.bare(s, left)
	}
	b.findBlends()
	b.coats = slices.DeleteFunc(b.coats, func(c *coating) bool { return len(c.painted)+len(c.blended) == 0 })
	slices.SortStableFunc(b.coats, func(x, y *coating) int { return x.place - y.place })
}

// bare tells of surfaces that have to be coated and that no coating of the body is for.
func (b *builder) bare(s body.Surface, left []Area) {
	var names []string
	for _, a := range left {
		if !slices.ContainsFunc(b.in.Body.Paint, func(k body.Coating) bool { return k.Surface == s && k.Covers(b.part(a.Part)) }) {
			names = append(names, a.Name)
		}
	}
	if len(names) > 0 {
		b.block(string(s), diag.Say("plan.not-coated", "the {surface} surface of {parts} is new or was worked on, and the body says nothing of coating it", s, list(names)),
			"write it under 'paint' in the body folder, or give '0 m2' where there is nothing to coat")
	}
}

// findBlends finds the neighbours into which the colour runs out, each once.
func (b *builder) findBlends() {
	var by []*coating // of the outside, those on the vehicle first
	for _, when := range []body.CoatTime{body.CoatFitted, body.CoatLoose} {
		for _, c := range b.coats {
			if c.of.Surface == body.OuterSurface && c.of.When == when {
				by = append(by, c)
			}
		}
	}
	whole := func(id body.PartID) bool {
		return slices.ContainsFunc(by, func(c *coating) bool {
			return slices.ContainsFunc(c.painted, func(a Area) bool { return a.Part == id && a.whole })
		})
	}
	for _, n := range b.in.Body.Blends {
		if whole(n.Part) || !slices.ContainsFunc(n.Beside, whole) {
			continue
		}
		a := Area{Part: n.Part, Name: b.part(n.Part).Name, M2: float64(n.Area), Blend: true}
		a.Sum = fmt.Sprintf("%s %s, into which the colour runs out", a.Name, n.Area)
		k := slices.IndexFunc(by, func(c *coating) bool { return len(c.of.Blend) > 0 })
		if k < 0 {
			b.block(string(n.Part), diag.Say("plan.no-blend", "the colour runs out into {panel}, and no coating of the outside says what is done there", a.Name), "name the tasks under 'blend' of the coating in the body folder")
			continue
		}
		by[k].blended = append(by[k].blended, a)
	}
}

// askCoats asks for the tasks of the coatings.
func (b *builder) askCoats(ask func(body.TaskID, string) *taskWant) {
	for _, c := range b.coats {
		for _, id := range c.of.All() {
			painted, blended := slices.Contains(c.of.Tasks, id), slices.Contains(c.of.Blend, id)
			for _, a := range slices.Concat(c.painted, c.blended) {
				if a.Blend && blended || !a.Blend && painted {
					w := ask(id, fmt.Sprintf("the %s surface of %s", c.of.Surface, a.Name))
					w.coat = c
				}
			}
		}
	}
}

// taskAreas is what a task works on: of its coating, and of the treatments that ask for it.
func (b *builder) taskAreas(id body.TaskID, st body.Step, w *taskWant) *areas {
	l := &areas{b: b, surface: st.Surface}
	if c := w.coat; c != nil {
		if slices.Contains(c.of.Tasks, id) {
			for _, a := range c.painted {
				l.add(a)
			}
		}
		if slices.Contains(c.of.Blend, id) {
			for _, a := range c.blended {
				l.add(a)
			}
		}
	}
	for _, it := range w.items {
		for _, a := range b.itemAreas(it, st.Surface).list {
			l.add(a)
		}
	}
	return l
}

// itemAreas is the surfaces that an item works on: of the new parts all, else what has to be
// coated after it, or all where the data say nothing of that surface.
func (b *builder) itemAreas(it Item, s body.Surface) *areas {
	l := &areas{b: b, surface: s}
	if s == "" || it.Kind == body.Leave {
		return l
	}
	for _, p := range b.boughtBy(it) {
		l.add(b.wholeArea(p, s))
	}
	if b.workedOn(it, s, l); len(l.list) > 0 || renews(it.Kind) {
		return l
	}
	for _, f := range it.Findings {
		if id := b.findings[f].Part; id != "" {
			l.add(b.wholeArea(id, s))
		}
	}
	return l
}

// coatWeight is what coating a new part costs by its areas, in cost units: what is done once for all
// parts, neighbours and whole packs are left out.
func (b *builder) coatWeight(p body.Part) int64 {
	sum := int64(0)
	for _, k := range b.in.Body.Paint {
		m2 := float64(p.Area(k.Surface).Value)
		if !k.Covers(p) || m2 == 0 {
			continue
		}
		for _, id := range k.Tasks {
			st := b.tasks[id].Step
			sum += b.labour(float64(st.PerArea)*m2, st.Skill)
			for _, u := range st.Uses {
				if m := b.mats[u.Material]; u.BySurface() && m.Pack.Value > 0 {
					sum += b.supply(m, u.PerSquareMetre(m).Value*m2)
				}
			}
		}
	}
	return sum
}

// coatedAlike says that two items leave the same to be coated, so that painting makes no
// difference between them. Where colour runs out into neighbours, that hangs on the other items.
func (b *builder) coatedAlike(it Item, o *builder, other Item) bool {
	if len(b.in.Body.Paint) == 0 && !b.surfaceTasks(it) && !o.surfaceTasks(other) {
		return true
	}
	for _, s := range []body.Surface{body.OuterSurface, body.InnerSurface} {
		if !slices.Equal(b.itemAreas(it, s).list, o.itemAreas(other, s).list) {
			return false
		}
		x, y := &areas{b: b, surface: s}, &areas{b: o, surface: s}
		b.workedOn(it, s, x)
		o.workedOn(other, s, y)
		if !slices.Equal(x.list, y.list) {
			return false
		}
	}
	return len(b.in.Body.Blends) == 0
}

// surfaceTasks says that a task which an item asks for goes by the area of a surface.
func (b *builder) surfaceTasks(it Item) bool {
	t := b.treatment(it)
	return slices.ContainsFunc(slices.Concat(t.Requires, t.After), func(id body.TaskID) bool { return b.tasks[id].Step.BySurface() })
}

// onSurface puts on a step what goes by the area of its surface: the minutes are in already.
func (b *builder) onSurface(n *node, st body.Step, l *areas, where string) {
	m2, known, from := l.sum()
	if st.Surface != "" {
		n.step.Surface, n.step.Areas, n.step.AreaM2 = st.Surface, l.list, m2
		n.step.Notes = append(n.step.Notes, l.words())
	}
	if !st.BySurface() {
		return
	}
	if len(l.list) == 0 {
		n.step.Unpriced = true
		b.block(where, diag.Say("plan.no-area", "{step} goes by the square metre, and nothing says of what", n.step.Name), "give its surface, and ask for it by a treatment or under 'paint'")
	}
	if !known {
		n.step.Unpriced = true
		for _, a := range l.list {
			if a.Unknown {
				b.block(where, diag.Say("plan.no-area", "{step}: {sum}; its minutes and materials by the square metre are left out", n.step.Name, a.Sum), "fill in the area in parts.csv, or measure the finding")
			}
		}
	}
	for _, u := range st.Uses {
		if u.BySurface() {
			per := u.PerSquareMetre(b.mats[u.Material])
			v := per.Value * m2
			b.use(n, u.Material, v, per.Unit, fmt.Sprintf("%s%s %s for each m2 x %s m2 (%s) = %s %s", filmWords(u, b.mats[u.Material]), num(per.Value), per.Unit, num(m2), from, num(v), per.Unit), where)
		}
	}
}

// filmWords is how the amount of a coat follows from its thickness.
func filmWords(u body.Use, m body.Material) string {
	if u.Film == 0 {
		return ""
	}
	return fmt.Sprintf("%s dry at %s solids: ", u.Film, m.Solids)
}

// coatReadings has the figures of a step that coats written down for each part.
func coatReadings(st body.Step, l *areas) body.Step {
	if st.Surface == "" || len(l.list) == 0 {
		return st
	}
	out := st
	out.Readings = nil
	for _, r := range st.Readings {
		for _, a := range l.list {
			own := r
			own.ID, own.Name = r.ID+"-"+string(a.Part), r.Name+", "+a.Name
			out.Readings = append(out.Readings, own)
		}
	}
	return out
}
