package job

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// Pin is where a finding was seen on a zone map.
type Pin struct {
	Map body.MapID  `doc:"map,required" help:"a zone map of the body"`
	At  []geom.Flat `doc:"at_map,required" help:"[[x, y], ...] in the units of the map: one place, or for a crack the places along it from tip to tip"`
}

func (p Pin) equal(q Pin) bool { return p.Map == q.Map && slices.Equal(p.At, q.At) }

// onePlace says that all places of a pin are the same.
func (p Pin) onePlace() bool {
	return !slices.ContainsFunc(p.At, func(q geom.Flat) bool { return q != p.At[0] })
}

func clonePins(all []Pin) []Pin {
	var out []Pin
	for _, p := range all {
		p.At = slices.Clone(p.At)
		out = append(out, p)
	}
	return out
}

// mostPinned is how many places one pin has.
const mostPinned = 500

// widestMap is more dots than any map has.
const widestMap = 1e6

// pins checks pins by themselves: one for each map, each with places that a map may have.
func (c *checker) pins(at string, f Finding) {
	for j, p := range f.Pins {
		path := fmt.Sprintf("%s.pins[%d]", at, j)
		if slices.ContainsFunc(f.Pins[:j], func(o Pin) bool { return o.Map == p.Map }) {
			c.fault(path+".map", fmt.Sprintf("zone map %q has a pin of the finding already", p.Map), "give all places on a map in one pin, in their order")
		}
		if len(p.At) == 0 || len(p.At) > mostPinned {
			c.fault(path+".at_map", fmt.Sprintf("it has %d places", len(p.At)), fmt.Sprintf("give one place at least, and %d at most", mostPinned))
		}
		for n, q := range p.At {
			if !(min(q[0], q[1]) >= 0 && max(q[0], q[1]) <= widestMap) {
				c.fault(fmt.Sprintf("%s.at_map[%d]", path, n), fmt.Sprintf("[%g, %g] lies outside of any map", q[0], q[1]), "x runs from 0 to the right, y from 0 down, in the units of the map")
			}
		}
	}
}

// pinsAgainst holds the pins of a finding against the maps of its casting.
func (c *checker) pinsAgainst(at string, f Finding, k body.Casting) {
	maps := names(k.Maps, func(m body.ZoneMap) string { return string(m.ID) })
	for j, p := range f.Pins {
		path := fmt.Sprintf("%s.pins[%d]", at, j)
		c.ref(path+".map", "zone map", string(p.Map), maps)
		m, there := k.ZoneMap(p.Map)
		if len(p.At) > 0 && p.onePlace() && f.Kind == body.Crack && len(f.Zones) == 0 && !k.HasMesh() {
			c.fault(path+".at_map", "a single place does not say into which zones the crack runs", "give the places along it from tip to tip, or name its zones too")
		}
		for n, q := range p.At {
			if there && !m.On(q) {
				c.fault(fmt.Sprintf("%s.at_map[%d]", path, n), fmt.Sprintf("[%g, %g] lies outside of the map", q[0], q[1]), fmt.Sprintf("x runs from 0 to %g to the right, y from 0 to %g down", m.Size[0], m.Size[1]))
			}
		}
	}
}
