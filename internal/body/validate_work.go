package body

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

func (c *checker) materials() {
	for i, m := range c.b.Materials {
		path := at("materials", i)
		if m.Pack.Value <= 0 {
			c.fault(path+".pack", fmt.Sprintf("%s is given; more than zero is needed", m.Pack), moreThanZero)
		}
		c.price(path+".price", m.Price)
		if m.Waste < 0 || m.Waste >= 1 {
			c.fault(path+".waste", fmt.Sprintf("%s is not from 0 %% to less than 100 %%", m.Waste), "write the share that is lost, for example 15 %")
		}
		if m.Solids < 0 || m.Solids > 1 {
			c.fault(path+".solids", fmt.Sprintf("%s is not from 0 %% to 100 %%", m.Solids), "write the share that stays, for example 52 %")
		}
		notNegative(c, path+".diameter", m.Diameter)
		notNegative(c, path+".min_pitch", m.MinPitch)
		notNegative(c, path+".min_edge", m.MinEdge)
		c.rivet(path, m)
		c.metal(path, m)
		c.cureRows(path, m.Cure)
	}
}

// rivet: its hole takes the shank, and its grip has two ends.
func (c *checker) rivet(path string, m Material) {
	notNegative(c, path+".length", m.Length)
	if m.Drill < 0 || m.Drill > 0 && m.Drill < m.Diameter {
		c.fault(path+".drill", fmt.Sprintf("a hole of %s does not take a shank of %s", m.Drill, m.Diameter), "give the diameter of the hole, not less than that of the shank")
	}
	notNegative(c, path+".grip_low", m.GripLow)
	if m.GripHigh < m.GripLow {
		c.fault(path+".grip_high", fmt.Sprintf("%s to %s is no grip range", m.GripLow, m.GripHigh), "give the least and the greatest thickness")
	}
	if m.MaxPitch < 0 || m.MaxPitch > 0 && m.MaxPitch < m.MinPitch {
		c.fault(path+".max_pitch", fmt.Sprintf("%s is less than the least pitch, %s", m.MaxPitch, m.MinPitch), "are the two swapped?")
	}
}

// hottestCure keeps a slip of the unit out: what is used on a body cures cooler.
const hottestCure unit.Celsius = 300

// cureRows: coldest first, and warmth never makes an adhesive slower.
func (c *checker) cureRows(path string, rows []CureRow) {
	for i, r := range rows {
		row := fmt.Sprintf("%s.cure[%d]", path, i)
		positive(c, row+".working", r.Working)
		notNegative(c, row+".handling", r.Handling)
		notNegative(c, row+".full", r.Full)
		if r.Temp < coldest || r.Temp > hottestCure {
			c.fault(row+".temp", fmt.Sprintf("%s is no temperature an adhesive or a coat cures at", r.Temp), "write degrees Celsius, for example 20 C")
		}
		if r.Handling < r.Working || r.Full < r.Handling {
			c.fault(row, "the times do not follow one another", "working time, then handling time, then full cure")
		}
		if i == 0 {
			continue
		}
		before := rows[i-1]
		if r.Temp <= before.Temp {
			c.fault(row+".temp", fmt.Sprintf("%s does not follow on %s", r.Temp, before.Temp), "begin with the coldest row")
		}
		if r.Working > before.Working || r.Handling > before.Handling || r.Full > before.Full {
			c.fault(row, fmt.Sprintf("a time at %s is longer than at %s", r.Temp, before.Temp), "an adhesive never cures more slowly when it is warmer; look at the units")
		}
	}
}

// material checks a reference to a material of one kind.
func (c *checker) material(path string, id MaterialID, kind MaterialKind) (Material, bool) {
	if !c.ref(path, aMaterial, string(id)) {
		return Material{}, false
	}
	m, _ := c.b.Material(id)
	if kind != "" && m.Kind != kind {
		c.fault(path, fmt.Sprintf("material %q is of the kind %q, not %q", id, m.Kind, kind), "name a material of that kind")
		return m, false
	}
	return m, true
}

// cures checks a reference to an adhesive whose times are known.
func (c *checker) cures(path string, id MaterialID) {
	if m, ok := c.material(path, id, "adhesive"); ok && len(m.Cure) == 0 {
		c.fault(path, fmt.Sprintf("material %q has no cure times", id), "give its rows in 'cure'")
	}
}

// waitsFor checks a wait for a material whose times are known.
func (c *checker) waitsFor(path string, id MaterialID) {
	if m, ok := c.material(path, id, ""); ok && len(m.Cure) == 0 {
		c.fault(path, fmt.Sprintf("material %q has no cure times", id), "give its rows in 'cure'")
	}
}

// uses checks materials; surface says that what uses them may work on a surface.
func (c *checker) uses(path string, uses []Use, surface Surface) {
	same(c, at(path, "uses"), uses)
	for i, u := range uses {
		use := at(path, "uses", i)
		m, ok := c.material(use+".material", u.Material, "")
		if u.Each == (unit.Amount{}) && u.PerMetre == (unit.Amount{}) && u.PerArea == (unit.Amount{}) && u.Film == 0 {
			c.fault(use, "no amount is given", "write 'each', 'per_metre', 'per_m2' or 'film'")
		}
		c.byArea(use, u, m, surface)
		for _, a := range []struct {
			field  string
			amount unit.Amount
		}{{".each", u.Each}, {".per_metre", u.PerMetre}, {".per_m2", u.PerArea}} {
			switch {
			case a.amount == unit.Amount{}:
			case a.amount.Value <= 0:
				c.fault(use+a.field, fmt.Sprintf("%s is given; more than zero is needed", a.amount), moreThanZero)
			case ok && a.amount.Unit != m.Pack.Unit:
				c.fault(use+a.field, fmt.Sprintf("the amount is in %s, a pack of %q in %s", a.amount.Unit, m.ID, m.Pack.Unit), "use one unit for both")
			}
		}
	}
}

func (c *checker) treatments() {
	for i, t := range c.b.Treatments {
		path := at("treatments", i)
		refs(c, path+".requires", aTask, t.Requires)
		for k, id := range t.Requires {
			if task, ok := c.b.Task(id); ok && task.Measures {
				c.fault(fmt.Sprintf("%s.requires[%d]", path, k), fmt.Sprintf("task %q measures the result, which is not there before the treatment", id), "write it under 'after'")
			}
		}
		refs(c, path+".after", aTask, t.After)
		c.repaint(path+".repaint", t)
		once(c, path+".cures", t.Cures)
		if len(t.Steps) == 0 {
			c.fault(path+".steps", "the treatment has no steps", "write at least one")
		}
		note(c, "step of "+string(t.ID), path+".steps", t.Steps, func(s Step) string { return s.ID })
		for j, s := range t.Steps {
			c.step(at("treatments", i, "steps", j), s)
			c.once(at("treatments", i, "steps", j)+".once", s)
			c.heatsTo(at("treatments", i, "steps", j), s, t.Kind == Straighten)
		}
		c.rivets(t.Steps, func(j int) string { return at("treatments", i, "steps", j) })
		c.newPart(path, t)
	}
}

// maxHeated keeps a slip of the unit out: no part of a body is straightened hotter.
const maxHeated unit.Celsius = 1200

// heatsTo: how hot a part is made and how often it is pulled is said where it is straightened.
func (c *checker) heatsTo(path string, s Step, straightens bool) {
	switch {
	case s.HeatsTo == 0 && s.Pulls == 0:
	case !straightens && s.HeatsTo != 0:
		c.fault(path+".heats_to", "only a step of a treatment that straightens heats the part to a temperature", "take it out, or write it under 'readings'")
	case !straightens:
		c.fault(path+".pulls", "only a step of a treatment that straightens pulls the part", "take it out")
	}
	if s.HeatsTo < 0 || s.HeatsTo > maxHeated {
		c.fault(path+".heats_to", fmt.Sprintf("%s is out of range", s.HeatsTo), "give the highest temperature the part is heated to, for example 150 C; leave it out where it is not heated")
	}
	if s.Pulls < 0 || s.Pulls > mostCounted {
		c.fault(path+".pulls", fmt.Sprintf("%d is out of range", s.Pulls), "give how often the part is pulled at most")
	}
}

// newPart: which steps use the new part is said of treatments that have one, and of a
// section some step uses the piece.
func (c *checker) newPart(path string, t Treatment) {
	said, used := -1, false
	for j, s := range t.Steps {
		if s.NewPart != "" && said < 0 {
			said = j
		}
		used = used || s.NewPart == Yes
	}
	if said < 0 {
		return
	}
	where := fmt.Sprintf("%s.steps[%d].new_part", path, said)
	switch {
	case t.Kind != SectionOff && t.Kind != ReplaceCasting && !t.Kind.NewPart():
		c.fault(where, fmt.Sprintf("the treatment %q has no new part: its kind is %q", t.ID, t.Kind), "take it out")
	case t.Kind == SectionOff && !used:
		c.fault(where, "no step uses the service piece", "write 'new_part: yes' where it is first fitted")
	}
}

// once: what belongs to one finding's own joint is not done once for several.
func (c *checker) once(path string, s Step) {
	if s.Once == "" {
		return
	}
	for _, x := range []struct {
		has  bool
		what string
	}{{s.Layout != nil, "a layout of rivets or adhesive"}, {s.PerRivet != 0, "a time for each rivet"}, {s.Together != "", "the word 'together'"},
		{s.NewPart == Yes, "'new_part: yes'"}, {s.Surface != "" || s.PerArea != 0, "minutes or a surface by the square metre"}} {
		if x.has {
			c.fault(path, "a step with "+x.what+" belongs to one finding alone", "take 'once' out, or make a step of its own of what is done once")
		}
	}
}

// rivets: a time for each rivet needs a layout in one of the steps to count
// the rivets of.
func (c *checker) rivets(steps []Step, path func(int) string) {
	if slices.ContainsFunc(steps, func(s Step) bool { return s.Layout != nil }) {
		return
	}
	for i, s := range steps {
		if s.PerRivet > 0 {
			c.fault(path(i)+".per_rivet", "there is a time for each rivet, but no step has a layout to count them from", "give the layout")
		}
	}
}

func (c *checker) step(path string, s Step) {
	notNegative(c, path+".fixed", s.Fixed)
	notNegative(c, path+".per_metre", s.PerMetre)
	notNegative(c, path+".per_rivet", s.PerRivet)
	c.uses(path, s.Uses, s.Surface)
	c.surface(path, s)
	once(c, path+".cautions", s.Cautions)
	once(c, path+".equipment", s.Equipment)
	once(c, path+".records", s.Records)
	c.readings(path+".readings", s.Readings)
	c.heat(path+".heat", s.Heat)
	c.environment(path+".environment", s.Air)
	if s.Layout != nil {
		c.layout(path+".layout", *s.Layout)
	}
	if w := s.Wait; w != nil {
		if (w.Elapsed != 0) == (w.Cure != "") {
			c.fault(path+".wait", "it is not clear how long to wait", "give either 'elapsed' or 'cure'")
		}
		notNegative(c, path+".wait.elapsed", w.Elapsed)
		c.waitsFor(path+".wait.cure", w.Cure)
		if w.Full && w.Cure == "" {
			c.fault(path+".wait.full", "full strength is that of a material", "name it in 'cure'")
		}
	}
}

// layout is checked against the least distances of its rivet; a rivet without
// them cannot be checked, so it is refused here.
func (c *checker) layout(path string, l Layout) {
	if l.Rows > mostCounted {
		c.fault(path+".rows", fmt.Sprintf("%d rows are out of range", l.Rows), fmt.Sprintf("at most %d are taken; see whether a digit is wrong", mostCounted))
	}
	if l.Rows < 1 {
		c.fault(path+".rows", "at least one row is needed", "write how many rows of rivets there are")
	}
	positive(c, path+".pitch", l.Pitch)
	positive(c, path+".end_distance", l.EndDistance)
	if m, ok := c.material(path+".rivet", l.Rivet, Rivet); ok {
		switch {
		case m.MinPitch <= 0 || m.MinEdge <= 0:
			c.fault(path+".rivet", fmt.Sprintf("rivet %q has no least distances to check the layout with", m.ID), "give its min_pitch and min_edge")
		case l.Pitch < m.MinPitch:
			c.fault(path+".pitch", fmt.Sprintf("%s is less than the least pitch of rivet %q, %s", l.Pitch, m.ID, m.MinPitch), "set them farther apart, or name another rivet")
		case l.EndDistance < m.MinEdge:
			c.fault(path+".end_distance", fmt.Sprintf("%s is less than the least edge distance of rivet %q, %s", l.EndDistance, m.ID, m.MinEdge), "set it farther from the end, or name another rivet")
		}
	}
	for _, x := range []struct {
		field string
		value unit.MM
	}{{".bead_diameter", l.BeadRound}, {".edge_distance", l.EdgeOff}, {".row_gap", l.RowGap}, {".stack", l.Stack}} {
		notNegative(c, path+x.field, x.value)
	}
	if _, ok := c.b.RivetBounds(l.Bounds); l.Bounds != "" && !ok {
		c.fault(path+".bounds", fmt.Sprintf("there are no bounds %q", l.Bounds), "name one of 'rivet_bounds'")
	}
	if l.WholePlate && (l.Adhesive == "" || l.Plate == "") {
		c.fault(path+".adhesive_over_plate", "it needs both an adhesive and a plate", "name them in 'adhesive' and 'plate'")
	}
	if l.Adhesive != "" {
		c.material(path+".adhesive", l.Adhesive, "adhesive")
		if !l.WholePlate {
			positive(c, path+".bead_width", l.BeadWidth)
		}
		positive(c, path+".bond_line", l.BondLine)
	}
	if l.Plate != "" {
		c.material(path+".plate", l.Plate, Plate)
		positive(c, path+".plate_overlap", l.PlateOver)
	}
}

// taskTimes are the times of a task in their order.
var taskTimes = []TaskTime{TaskFirst, TaskStart, TaskOpen, TaskClose, TaskEnd, TaskLast}

// rolling: nothing gives back that the vehicle rolls unless something took it away.
func (c *checker) rolling() {
	where := ""
	see := func(path string, s Step) bool {
		if s.Rolls == Yes && where == "" {
			where = path + ".rolls"
		}
		return s.Rolls == No
	}
	taken := false
	for i, t := range c.b.Treatments {
		for k, s := range t.Steps {
			taken = see(at("treatments", i, "steps", k), s) || taken
		}
	}
	for i, t := range c.b.Tasks {
		taken = see(at("tasks", i, "step"), t.Step) || taken
	}
	if where != "" && !taken {
		c.fault(where, "the vehicle rolls again, but no step says that it stops rolling", "write 'rolls: no' at the step from which it does not, or take it out; parts say it in parts.csv")
	}
}

func (c *checker) tasks() {
	c.rolling()
	for i, t := range c.b.Tasks {
		c.step(at("tasks", i, "step"), t.Step)
		if t.Step.Once != "" {
			c.fault(at("tasks", i, "step")+".once", "a task is done once, whatever asks for it", "take it out")
		}
		c.heatsTo(at("tasks", i, "step"), t.Step, false)
		if t.Step.NewPart != "" {
			c.fault(at("tasks", i, "step")+".new_part", "a task has no new part: it is done once, whatever asks for it", "take it out")
		}
		c.rivets([]Step{t.Step}, func(int) string { return at("tasks", i, "step") })
		refs(c, at("tasks", i, "needs"), aTask, t.Needs)
		refs(c, at("tasks", i, "follows"), aTask, t.Follows)
		refs(c, at("tasks", i, "precedes"), aTask, t.Precedes)
		refs(c, at("tasks", i, "undone_by"), aTask, t.UndoneBy)
		refs(c, at("tasks", i, "follows_parts"), aPart, t.Refitted)
		if t.Safe && t.When != TaskStart {
			c.fault(at("tasks", i, "when"), fmt.Sprintf("task %q makes the vehicle safe, and is done at %q", t.ID, t.When), "write 'when: start'")
		}
		if t.Fixes && t.When != TaskStart && t.When != TaskOpen {
			c.fault(at("tasks", i, "when"), fmt.Sprintf("task %q fixes the vehicle before it is cut, and is done at %q", t.ID, t.When), "write 'when: open'")
		}
		if t.Measures && t.When != TaskEnd {
			c.fault(at("tasks", i, "when"), fmt.Sprintf("task %q measures the result, and is done at %q", t.ID, t.When), "write 'when: end'; what is measured on the way is a task of its own")
		}
		c.later(at("tasks", i, "needs"), t, t.Needs)
		c.later(at("tasks", i, "follows"), t, t.Follows)
	}
	c.taskOrder()
	c.taskStates()
}

// later: what comes before a task is not done at a later time of the work.
func (c *checker) later(path string, t Task, before []TaskID) {
	for j, id := range before {
		if n, ok := c.b.Task(id); ok && timeOf(n) > timeOf(t) {
			c.fault(fmt.Sprintf("%s[%d]", path, j), fmt.Sprintf("task %q is done at %q, after this one at %q", id, n.When, t.When), "write an earlier 'when' there")
		}
	}
}

// timeOf is the place of a task's time among all.
func timeOf(t Task) int { return slices.Index(taskTimes, t.When) }
