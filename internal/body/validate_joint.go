package body

import (
	"fmt"
	"slices"
)

// apart: a pair is of two that conduct and are not the same, and named once.
func (c *checker) apart() {
	for i, a := range c.b.Apart {
		path := at("keep_apart", i, "of")
		switch {
		case len(a.Of) != 2:
			c.fault(path, fmt.Sprintf("%d are named; a pair is of two", len(a.Of)), "write for example [aluminium, carbon fibre]")
			continue
		case a.Of[0] == a.Of[1] && a.Of[0] != OtherMetal:
			c.fault(path, fmt.Sprintf("%q is named twice", a.Of[0]), "a pair is of two different ones")
			continue
		}
		for _, o := range c.b.Apart[:i] {
			if o.Is(a.Of[0], a.Of[1]) {
				c.fault(path, fmt.Sprintf("the pair of %s and %s is there twice", a.Of[0], a.Of[1]), "name it once")
				break
			}
		}
	}
}

// jointSteps: what is done at a joint before and after it is closed has a length and a count to
// go by where it asks for them, and no adhesive: that belongs to the closing.
func (c *checker) jointSteps(i int, j Joint) {
	if j.FastenerMetal != "" && j.fasteners() == 0 {
		c.fault(at("joints", i, "fastener_metal"), "the joint has no fasteners", "name the method that has them, or take it out")
	}
	for _, l := range []struct {
		field string
		steps []Step
	}{{"before_closing", j.Before}, {"after_closing", j.After}} {
		note(c, "step of joint "+string(j.ID), at("joints", i, l.field), l.steps, func(s Step) string { return s.ID })
		for k, s := range l.steps {
			path := at("joints", i, l.field, k)
			c.step(path, s)
			c.jointStep(path, j, s)
		}
	}
}

func (c *checker) jointStep(path string, j Joint, s Step) {
	byLength := s.PerMetre > 0
	for k, u := range s.Uses {
		byLength = byLength || u.PerMetre.Value > 0 || u.PerArea.Value > 0
		if m, ok := c.b.Material(u.Material); ok && m.Kind == Adhesive {
			c.fault(fmt.Sprintf("%s.uses[%d].material", path, k), fmt.Sprintf("adhesive %q is open while the joint is closed", m.ID), "name it in 'uses' and 'cures' of the joint")
		}
	}
	if byLength && j.Length <= 0 {
		c.fault(path, "there is a time or an amount for each metre, but the joint has no length", "give the length of the joint")
	}
	if s.PerRivet > 0 && j.Count <= 0 {
		c.fault(path+".per_rivet", "there is a time for each fastener, but the joint has none", "give the count of the joint")
	}
	if s.Layout != nil {
		c.fault(path+".layout", "a joint has its fasteners in 'count' and 'uses'", "take the layout out")
	}
	if s.Surface != "" {
		c.fault(path+".surface", "a joint is no surface of a part", "give amounts by the metre, or of a strip with 'width'")
	}
	if len(s.While)+len(s.NotWhile) > 0 {
		c.fault(path, "a step of a joint asks for no state of the vehicle", "say it of the treatment's steps or of a task")
	}
	if s.NewPart == No {
		c.fault(path+".new_part", "a step of a joint is done always, or with 'yes' only where a part is new", "take it out")
	}
	if s.Rolls != "" {
		c.fault(path+".rolls", "closing a joint does not say whether the vehicle rolls", "say it of the part in parts.csv")
	}
}

// metal: what something is made of is asked of what stays as it is, not of what is laid on or melted.
func (c *checker) metal(path string, m Material) {
	if m.Metal != "" && !slices.Contains([]MaterialKind{Rivet, Bolt, Plate, NoKind}, m.Kind) {
		c.fault(path+".metal", fmt.Sprintf("a material of the kind %q is no fastener or plate", m.Kind), "take it out")
	}
}
