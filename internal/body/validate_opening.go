package body

import "fmt"

// comesOff holds what parts say of coming off against what else the body says of them.
func (c *checker) comesOff() {
	word := func(id PartID) ComesOff {
		p, _ := c.b.Part(id)
		return p.Comes
	}
	never := func(path string, ids []PartID) {
		for k, id := range ids {
			if word(id) == Never {
				c.fault(fmt.Sprintf("%s[%d]", path, k), fmt.Sprintf("%q cannot be taken out of the vehicle (comes_off: no)", id), "name what can, or take the word out of parts.csv")
			}
		}
	}
	for i, p := range c.b.Parts {
		if j := c.b.HeldBy(p.ID); p.Comes == Freely && len(j) > 0 {
			c.fault(at("parts", i, "comes_off"), fmt.Sprintf("%q comes off freely, and joint %s holds it", p.ID, j[0].ID), "leave the cell empty: its joints say how it comes off")
		}
	}
	for i, a := range c.b.Access {
		for k, alternative := range a.Needs {
			never(at("access", i, "needs")+fmt.Sprintf("[%d]", k), alternative)
		}
	}
	for i, j := range c.b.Joints {
		never(at("joints", i, "destroys"), j.Destroys)
	}
	for i, a := range c.b.Assemblies {
		never(at("assemblies", i, "parts"), a.Parts)
	}
}
