package shop

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/unit"
)

// Inspecting is how long the shop takes to inspect one area by a method.
type Inspecting struct {
	Method  body.InspectionMethod `doc:"method,required" help:"visual or penetrant" oneof:"visual|penetrant"`
	Minutes unit.Minutes          `doc:"minutes,required" help:"work on one area, by the shop's own times"`
	Skill   body.SkillID          `doc:"skill,required"`
	Wait    unit.Minutes          `doc:"wait" help:"elapsed time beside the work, while penetrant and developer act"`
}

// Inspects is how long the shop takes by a method; false when it does not say.
func (s *Shop) Inspects(m body.InspectionMethod) (Inspecting, bool) {
	for _, x := range s.Inspecting {
		if x.Method == m {
			return x, true
		}
	}
	return Inspecting{}, false
}

func (c *checker) inspecting() {
	for i, x := range c.shop.Inspecting {
		at := fmt.Sprintf("inspecting[%d]", i)
		if slices.ContainsFunc(c.shop.Inspecting[:i], func(o Inspecting) bool { return o.Method == x.Method }) {
			c.fault(at+".method", fmt.Sprintf("%q is there twice", x.Method), "give one time for each method")
		}
		if x.Minutes <= 0 {
			c.fault(at+".minutes", fmt.Sprintf("%s is given; more than zero is needed", x.Minutes), "inspecting takes time; leave the entry out when it is not known")
		}
		if x.Wait < 0 {
			c.fault(at+".wait", fmt.Sprintf("%s is given; no wait is negative", x.Wait), "write it without the sign, or leave it out")
		}
		_, rated := c.shop.Rate(x.Skill)
		if _, sublet := c.shop.Sublet(x.Skill); !rated && !sublet {
			c.fault(at+".skill", fmt.Sprintf("skill %q has no rate", x.Skill), doc.DidYouMean(string(x.Skill), c.shop.skills()))
		}
	}
}
