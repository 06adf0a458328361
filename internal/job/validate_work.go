package job

import (
	"fmt"
	"slices"
	"strings"
)

// actuals judges each record of work for itself; what they say together of a plan is
// Work.
func (c *checker) actuals() {
	findings := c.findingIDs()
	seen := map[string]bool{}
	twice(c, "actuals", c.s.Actuals, giveOnce+" in 'id'")
	for i, a := range c.s.Actuals {
		at := fmt.Sprintf("actuals[%d]", i)
		switch {
		case a.ID == "":
		case !idForm.MatchString(a.ID):
			c.fault(at+".id", fmt.Sprintf("%q is not an identity", a.ID), "use letters, digits, '-', '_' and '.', beginning with a letter or digit")
		case seen[a.ID]:
			c.fault(at+".id", fmt.Sprintf("%q is there twice", a.ID), "give each its own, and take out a record that another one takes the place of")
		}
		seen[a.ID] = true
		c.ref(at+".finding", "finding", string(a.Finding), findings)
		if a.Minutes < 0 {
			c.fault(at+".minutes", "the minutes are negative", "give what the step took, zero or more")
		}
		if a.Planned < 0 {
			c.fault(at+".planned", "the minutes are negative", "give what the plan gave it, zero or more")
		}
		if a.Going != (a.Left > 0) || a.Left < 0 {
			c.fault(at+".left", "what is still left and that the step is under way belong to one another", "give both 'under_way: yes' and 'left', or neither")
		}
		c.notBefore(at+".on", a.On, "the day the job was opened", c.s.Opened)
		c.workTimes(at, a)
		c.workReasons(at, a)
		c.partsUsed(at, a.Parts)
	}
}

func (c *checker) workTimes(at string, a Actual) {
	c.clock(at+".began", a.Began)
	c.clock(at+".ended", a.Ended)
	from, ok := clockMinutes(a.Began)
	to, also := clockMinutes(a.Ended)
	switch {
	case ok && also && to < from:
		c.fault(at+".ended", fmt.Sprintf("ended at %s, before it was begun at %s", a.Ended, a.Began), "a step of several days has no 'began' on its last one")
	case a.Going && a.Ended != "":
		c.fault(at+".ended", "it is under way, and ended", "give one of the two")
	}
}

// workReasons: what no step of the plan has is priced by a skill of its own, and nothing
// else is.
func (c *checker) workReasons(at string, a Actual) {
	blank := func(s string) bool { return s != "" && strings.TrimSpace(s) == "" }
	switch {
	case blank(a.Again):
		c.fault(at+".again", "it does not say why the step was done again", "say why, or leave it out")
	case blank(a.Unplanned):
		c.fault(at+".unplanned", "it does not say why it was done", "say why, or leave it out")
	case a.Unplanned != "" && a.Skill == "":
		c.fault(at+".unplanned", "no step of the plan says by which skill it was done", "give 'skill' too, as in the rates of the shop")
	case a.Unplanned == "" && a.Skill != "":
		c.fault(at+".skill", "the step of the plan says by which skill it is done", "give 'skill' only with 'unplanned'")
	}
}

// partsUsed: one thing at one price is named once.
func (c *checker) partsUsed(at string, parts []PartUsed) {
	for k, p := range parts {
		c.currency(fmt.Sprintf("%s.parts[%d].price", at, k), p.Price)
		if p.Count <= 0 {
			c.fault(fmt.Sprintf("%s.parts[%d].count", at, k), fmt.Sprintf("%d is given; more than zero is needed", p.Count), "leave out what was not used")
		}
		if p.Price.Minor < 0 {
			c.fault(fmt.Sprintf("%s.parts[%d].price", at, k), fmt.Sprintf("%s is negative", p.Price), "give the price of one, zero or more")
		}
		c.counted(fmt.Sprintf("%s.parts[%d].count", at, k), p.Count)
		if slices.ContainsFunc(parts[:k], func(o PartUsed) bool { return o.ID == p.ID && o.Price == p.Price }) {
			c.fault(fmt.Sprintf("%s.parts[%d].id", at, k), fmt.Sprintf("%q is there twice", p.ID), "name it once, with the count of all of them")
		}
	}
}
