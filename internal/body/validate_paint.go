package body

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// paint checks coatings, neighbours and limits of heat.
func (c *checker) paint() {
	for i, k := range c.b.Paint {
		path := at("paint", i)
		if len(k.Tasks) == 0 {
			c.fault(path+".tasks", "nothing is done to the surface", "name the tasks in their order")
		}
		c.coatTasks(path, k, c.b.Paint[:i])
		c.blendOrder(path, k)
		for _, o := range c.b.Paint[:i] {
			if o.Surface == k.Surface && o.When == k.When && (o.BoltOn == "" || k.BoltOn == "" || o.BoltOn == k.BoltOn) {
				c.fault(path, fmt.Sprintf("there are two lists for the %s surface %q", k.Surface, k.When), "make one of them, in the order of work")
			}
		}
	}
	c.blends()
	c.heatLimits()
}

// coatTasks: each exists, belongs to one coating, and works on its surface.
func (c *checker) coatTasks(path string, k Coating, before []Coating) {
	for _, list := range []struct {
		field string
		ids   []TaskID
	}{{".tasks", k.Tasks}, {".blend", k.Blend}} {
		refs(c, path+list.field, aTask, list.ids)
		for j, id := range list.ids {
			where := fmt.Sprintf("%s%s[%d]", path, list.field, j)
			t, ok := c.b.Task(id)
			switch {
			case !ok:
			case slices.ContainsFunc(before, func(o Coating) bool { return slices.Contains(o.All(), id) }):
				c.fault(where, fmt.Sprintf("task %q belongs to another coating already", id), "a task is done once; write one for each coating")
			case t.Step.Surface != "" && t.Step.Surface != k.Surface:
				c.fault(where, fmt.Sprintf("task %q works on the %s surface, the coating is of the %s one", id, t.Step.Surface, k.Surface), "name a task that works on this surface")
			case t.MakesSafe() || t.Fixes || t.Measures || t.When != TaskClose:
				c.fault(where, fmt.Sprintf("task %q has a place of its own in the work", id), "what coats is written with 'when: close', and neither makes safe nor fixes nor measures")
			}
		}
	}
}

// blendOrder: tasks that stand in both lists of a coating stand there in one order.
func (c *checker) blendOrder(path string, k Coating) {
	last := -1
	for j, id := range k.Blend {
		n := slices.Index(k.Tasks, id)
		if n >= 0 && n < last {
			c.fault(fmt.Sprintf("%s.blend[%d]", path, j), fmt.Sprintf("task %q stands after %q here, and before it under 'tasks'", id, k.Tasks[last]), "give both lists one order")
		}
		last = max(last, n)
	}
}

func (c *checker) blends() {
	for i, n := range c.b.Blends {
		path := at("blends", i)
		c.ref(path+".part", aPart, string(n.Part))
		refs(c, path+".beside", aPart, n.Beside)
		if len(n.Beside) == 0 {
			c.fault(path+".beside", "nothing is beside it", "name the parts whose colour runs out into it")
		}
		if slices.Contains(n.Beside, n.Part) {
			c.fault(path+".beside", fmt.Sprintf("part %q is beside itself", n.Part), "name its neighbours")
		}
		positive(c, path+".area", n.Area)
		if p, ok := c.b.Part(n.Part); ok && p.Outer.Known && n.Area > p.Outer.Value {
			c.fault(path+".area", fmt.Sprintf("%s is more than the outside of %q has, %s", n.Area, n.Part, p.Outer.Value), "give the part of its outside that is blended")
		}
		if slices.ContainsFunc(c.b.Blends[:i], func(o Blend) bool { return o.Part == n.Part }) {
			c.fault(path+".part", fmt.Sprintf("part %q is there twice", n.Part), "name all parts beside it in one entry")
		}
	}
}

func (c *checker) heatLimits() {
	for i, l := range c.b.HeatLimits {
		path := at("heat_limits", i)
		c.ref(path+".part", aPart, string(l.Part))
		if l.Material != "" {
			c.material(path+".material", l.Material, Adhesive)
		}
		said := 0
		for _, is := range []bool{l.Part != "", l.Material != "", l.Rest} {
			if is {
				said++
			}
		}
		if said != 1 {
			c.fault(path, "it is not clear what the limit is for", "give one of 'part', 'material' and 'rest: yes'")
		}
		if l.From != "" && l.Material == "" {
			c.fault(path+".from", "only an adhesive cures", "take it out")
		}
		if l.High < 30 || l.High > 300 {
			c.fault(path+".high", fmt.Sprintf("%s is no limit of drying with heat", l.High), "it lies from 30 C to 300 C")
		}
		notNegative(c, path+".longest", l.Longest)
		if slices.ContainsFunc(c.b.HeatLimits[:i], func(o HeatLimit) bool { return o.Part == l.Part && o.Material == l.Material && o.Rest == l.Rest }) {
			c.fault(path, "the limit is there twice", "keep the one that holds")
		}
	}
}

// repaint: a surface is named once, and what renews a part leaves nothing of it to be said.
func (c *checker) repaint(path string, t Treatment) {
	if t.Repaint == nil {
		return
	}
	once(c, path+".surfaces", t.Repaint.Surfaces)
	notNegative(c, path+".margin", t.Repaint.Margin)
	switch {
	case t.Kind == Leave || t.Kind == SectionOff || t.Kind == ReplaceCasting || t.Kind.NewPart():
		c.fault(path, fmt.Sprintf("a treatment of the kind %q works on no surface of the part", t.Kind), "a new part is coated all over; take it out")
	case t.Repaint.Margin > 0 && len(t.Repaint.Surfaces) == 0:
		c.fault(path+".margin", "nothing is coated again", "name the surfaces, or take it out")
	}
}

// surface: what goes by the area of a surface says of which, and heat dries something.
func (c *checker) surface(path string, s Step) {
	notNegative(c, path+".per_m2", s.PerArea)
	if s.PerArea != 0 && s.Surface == "" {
		c.fault(path+".per_m2", "it is not said which surface is worked on", "give 'surface: outer' or 'surface: inner'")
	}
	if k := s.Bake; k != nil {
		if k.Temp < 30 || k.Temp > 250 {
			c.fault(path+".bake.temperature", fmt.Sprintf("%s is no temperature of drying with heat", k.Temp), "it lies from 30 C to 250 C")
		}
		positive(c, path+".bake.hold", k.Hold)
		if s.Surface == "" {
			c.fault(path+".bake", "it is not said which surface is dried", "give 'surface: outer' or 'surface: inner'")
		}
	}
}

// byArea: an amount by area is of a strip or of a surface, and a coat's thickness needs what
// its amount follows from.
func (c *checker) byArea(use string, u Use, m Material, surface Surface) {
	switch {
	case u.Width < 0 || u.Width > 0 && u.PerArea == (unit.Amount{}):
		c.fault(use+".width", "an amount by area and the width of the strip belong to one another", "give both 'per_m2' and 'width', or neither")
	case u.BySurface() && surface == "":
		c.fault(use+".width", "it is not said of what the square metres are", "give the 'width' of a strip, or the 'surface' the step works on")
	}
	if u.Film == 0 {
		return
	}
	switch a := u.PerSquareMetre(m); {
	case u.PerArea != (unit.Amount{}):
		c.fault(use+".film", "the amount for a square metre is said twice", "give 'per_m2' or 'film'")
	case u.Film < 0 || u.Film > 5000:
		c.fault(use+".film", fmt.Sprintf("%s is no thickness of a coat", u.Film), "write for example 'film: 45 um'")
	case m.ID == "": // which is told
	case m.Solids <= 0:
		c.fault(use+".film", fmt.Sprintf("what a coat takes of %q cannot be told", u.Material), "give the material's 'solids'")
	case a.Unit != m.Pack.Unit:
		c.fault(use+".film", fmt.Sprintf("a coat takes %s, a pack of %q is in %s", a.Unit, u.Material, m.Pack.Unit), "give the pack in ml")
	}
}
