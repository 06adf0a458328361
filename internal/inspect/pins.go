package inspect

import (
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// pinned is the pin of a finding with the map it is on.
type pinned struct {
	body.ZoneMap
	at    []geom.Flat
	apart float64 // of the places that are looked at between those pointed at
	near  float64 // that a place may be elsewhere, with those between
}

// pins is the pins of a finding on the maps of its casting.
func (r *run) pins(t *trace) []pinned {
	var out []pinned
	for _, p := range t.in.Pins {
		if m, ok := t.at.Of.ZoneMap(p.Map); ok {
			out = append(out, pinned{m, p.At, m.Std / 2, float64(r.closeStds()*m.Std) + m.Std/4})
		}
	}
	return out
}

// said is the zones that a finding is said to lie in: by name, or else those that its pins may lie
// in. Nothing is said where a pin lies in no zone of its map.
func (r *run) said(t *trace) (zones []ZoneShare, n *diag.Note) {
	if len(t.in.Zones) > 0 {
		for _, z := range t.at.Of.Zones {
			if slices.Contains(t.in.Zones, z.ID) {
				zones = append(zones, ZoneShare{Zone: z.ID})
			}
		}
		return zones, nil
	}
	surely := map[body.ZoneID]bool{} // of those that a pin may lie in
	for _, p := range r.pins(t) {
		if far := p.Strays(p.at, p.apart, func(body.ZoneID) bool { return true }); far > p.near {
			return nil, diag.Say("inspect.pin-in-no-zone", "its pin on zone map {map:q} comes to a place that no outline holds, {far} units of the map from the next", p.Name, unit.Fixed(far, 1)).Noted(diag.Note{Severity: diag.Blocking, Where: string(t.in.ID), Hint: "set it anew, or name every zone it was seen in (zones)"})
		}
		depths := p.Depths(p.at, p.apart)
		inside := p.deepest(depths)
		for z, d := range depths {
			if d < -p.near {
				continue
			}
			surely[z] = surely[z] || d > 0 || z == inside
		}
	}
	for _, touches := range []bool{false, true} {
		for _, z := range t.at.Of.Zones {
			if sure, ok := surely[z.ID]; ok && sure != touches {
				zones = append(zones, ZoneShare{Zone: z.ID, Touches: touches})
			}
		}
	}
	return zones, nil
}

// deepest is the zone that a pin lies deepest in, the first on its map of equals.
func (p pinned) deepest(depths map[body.ZoneID]float64) body.ZoneID {
	out, most := body.ZoneID(""), math.Inf(-1)
	for _, z := range p.Zones {
		if d := depths[z.Zone]; d > most {
			out, most = z.Zone, d
		}
	}
	return out
}

// pinsAgree blocks for a pin that surely lies elsewhere than a finding does.
func (r *run) pinsAgree(f *Finding, t *trace, in func(body.ZoneID) bool) {
	for _, p := range r.pins(t) {
		far := p.Strays(p.at, p.apart, in)
		switch {
		case math.IsInf(far, 1):
			r.pinContradicts(f, diag.Say("inspect.pin-contradicts", "it is pinned on zone map {map:q}, on which none of the zones it lies in is drawn", p.Name))
		case far > p.near:
			r.pinContradicts(f, diag.Say("inspect.pin-contradicts", "its pin on zone map {map:q} comes to a place {far} units of the map from all zones it lies in", p.Name, diag.Figure{Text: unit.Fixed(far, 1), Value: far}))
		}
	}
}

func (r *run) pinContradicts(f *Finding, said diag.Said) {
	r.note(said.Note(diag.Note{Severity: diag.Blocking, Where: string(f.ID), Hint: "look again where it is, and correct the pin or the zones"}))
}

// byPins says that where a finding lies was read off its pins.
func byPins(in *job.Finding) bool { return len(in.Zones) == 0 && len(in.Pins) > 0 }
