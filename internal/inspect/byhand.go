package inspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/job"
)

// Of a casting without a mesh nothing is found by computation: a finding lies where somebody
// says, and is as long and as near to other things as somebody measured. Everything that is
// not said may be as bad as can be. What a mesh would show and a tape does not (which zone is
// within the uncertainty, what else is near) is taken from what the body says of the zones, and
// at the worst where it says nothing.

// byHand is a finding on a casting without a mesh. It has a place when its zones are said.
func (r *run) byHand(f Finding, t *trace) Finding {
	zones, n := r.said(t)
	if len(zones) == 0 {
		if n == nil {
			n = diag.Say("inspect.no-zone", "casting {casting} has no mesh, and it is not said in which zones the {kind} lies", f.Casting, f.Kind).Noted(diag.Note{Severity: diag.Blocking, Where: string(f.ID), Hint: "name every zone it was seen in (zones), or pin it on a zone map (pins)"})
		}
		r.note(*n)
		f.lost(t.at, n)
		return f
	}
	f.Located, t.zones = true, zones
	if r.hands == nil {
		r.hands = map[int]*trace{}
	}
	r.hands[len(r.found)] = t
	return f
}

// handReading is a reading by hand with its uncertainty.
type handReading struct {
	mm, std float64
	to      string
	none    bool // nothing is nearer than mm, or nothing is there at all when that is +Inf
}

// readings is what was measured of one kind, as far as it counts.
func (r *run) readings(f *Finding, t *trace, what job.ByHand) []handReading {
	var out []handReading
	for _, h := range t.in.Measured {
		if h.What != what {
			continue
		}
		x := handReading{mm: float64(h.Value.Value), to: h.To, none: h.None}
		if !h.Value.Known {
			x.mm = math.Inf(1)
		} else if std, ok := h.Uncertainty(r.in.Shop); ok {
			x.std = std
		} else {
			f.Unknown = append(f.Unknown, fmt.Sprintf("%s: a reading with %q does not count: nobody says how well that measures", what, h.Gauge))
			continue
		}
		out = append(out, x)
	}
	r.agree(f, what, out)
	return out
}

// agree blocks where two readings of one thing are farther apart than their uncertainties
// explain.
func (r *run) agree(f *Finding, what job.ByHand, all []handReading) {
	for i, a := range all {
		for _, b := range all[:i] {
			if a.to != b.to || a.none || b.none {
				continue
			}
			if most := float64(r.closeStds() * elem.Hypot(a.std, b.std)); math.Abs(a.mm-b.mm) > most {
				r.contradiction(f, diag.Say("inspect.hand-readings-apart", "two readings of {what} are {one} and {other}, farther apart than their uncertainty explains", what, long(a.mm), long(b.mm)))
			}
		}
	}
}

func (r *run) contradiction(f *Finding, says diag.Said) {
	r.note(diag.Say("inspect.by-hand-contradicts", "{sentence}", says).Note(diag.Note{Severity: diag.Blocking, Where: string(f.ID), Hint: "measure it again, and take the wrong reading out"}))
}

// measureByHand fills in what can be said of one finding alone.
func (r *run) measureByHand(f *Finding, t *trace) {
	r.askAboutTips(f, t)
	for _, x := range r.readings(f, t, job.HandLength) {
		if f.Length == nil || x.mm > f.Length.MM {
			f.Length = &Length{x.mm, x.std}
		}
	}
	switch {
	case f.Length != nil:
		f.because("%s long along the surface, measured by hand", mm(f.Length.MM))
	case isCrack(f.Kind):
		f.Unknown = append(f.Unknown, "length: measure the "+string(f.Kind)+" along the surface, from tip to tip")
	}
	r.zonesByHand(f, t)
	for _, c := range []struct {
		what job.ByHand
		into **Clearance
	}{{job.HandBore, &f.Bore}, {job.HandEdge, &f.Edge}, {job.HandJoint, &f.Joint}, {job.HandEarlier, &f.Earlier}} {
		*c.into = r.clearanceByHand(f, t, c.what)
	}
	for _, l := range r.in.Body.Lines {
		if l.Casting == f.Casting {
			r.sideByHand(f, t, l)
		}
	}
}

// aheadOf is how much farther the ends of a finding may lie than they were seen.
func (t *trace) aheadOf() float64 { return max(t.curve.ahead[0], t.curve.ahead[1]) }

// allowed is a distance from a finding as it was seen, and from an end that may run on
// unseen. Which end is the nearer nobody says.
func (x handReading) allowed(to string, ahead float64) []Element {
	out := []Element{{To: to, MM: x.mm, Std: x.std, Maybe: x.none, end: noEnd}}
	if ahead > 0 {
		out = append(out, Element{To: to, MM: x.mm - ahead, Std: elem.Hypot(x.std, hiddenStd(ahead)), Maybe: x.none, end: 0})
	}
	return out
}

// handNames is what distances are to that nobody gave a name.
var handNames = map[job.ByHand]string{job.HandBorder: "the next zone", job.HandBore: "a bore", job.HandEdge: "an edge", job.HandJoint: "a joint", job.HandEarlier: "an earlier repair"}

// clearanceByHand is the least distance to something that was measured; nil when nobody
// measured it.
func (r *run) clearanceByHand(f *Finding, t *trace, what job.ByHand) *Clearance {
	name := handNames[what]
	c := clearanceOf(r.readings(f, t, what), t.aheadOf(), name)
	if c != nil {
		f.because("%s", byHandText(*c, name))
	}
	return c
}

// clearanceOf is the clearance of several readings: all of them have to keep a limit.
func clearanceOf(readings []handReading, ahead float64, name string) *Clearance {
	if len(readings) == 0 {
		return nil
	}
	out := &Clearance{To: None, MM: math.Inf(1), SeenMM: math.Inf(1)}
	for _, x := range readings {
		if math.IsInf(x.mm, 1) { // there is none
			continue
		}
		for _, e := range x.allowed(cmp.Or(x.to, name), ahead) {
			e.MM = max(0, e.MM)
			out.Of = append(out.Of, e)
			if !e.Maybe && (e.MM < out.MM || e.MM == out.MM && e.Std > out.Std) {
				out.To, out.MM, out.Std = e.To, e.MM, e.Std
			}
		}
		if !x.none {
			out.SeenMM = min(out.SeenMM, x.mm)
		}
	}
	if out.To == None {
		out.MM, out.SeenMM = 0, 0
	}
	return out
}

func byHandText(c Clearance, what string) string {
	if c.To == None {
		return what + ": none found by hand"
	}
	s := fmt.Sprintf("%s to %s, measured by hand", mm(c.SeenMM), c.To)
	if c.MM < c.SeenMM {
		s += fmt.Sprintf(", taken as %s because a tip seen by eye only may lie farther on", mm(c.MM))
	}
	return s
}

// zonesByHand is the zones that were said, and every one that borders on them unless the finding
// was measured to be surely away from the border.
func (r *run) zonesByHand(f *Finding, t *trace) {
	k := t.at.Of
	f.Zones = slices.Clone(t.zones)
	if byPins(t.in) {
		f.because("where it lies was read off zone maps")
	}
	away := false
	switch {
	case len(k.Zones) == 1:
		f.Border = &Clearance{To: None}
	case len(f.Zones) > 1:
		f.Border = &Clearance{To: string(f.Zones[1].Zone)}
	default:
		f.Border = r.clearanceByHand(f, t, job.HandBorder)
		away = f.Border != nil && !slices.ContainsFunc(f.Border.Of, func(e Element) bool { return e.MM <= float64(r.closeStds()*e.Std) })
	}
	if !away {
		r.touchedByHand(f, *k)
	}
	r.pinsAgree(f, t, func(z body.ZoneID) bool { return hasZone(t.zones, z) })
	f.zonesBecause()
}

// touchedByHand adds the zones that border on those of a finding: all others where the body
// does not say which.
func (r *run) touchedByHand(f *Finding, k body.Casting) {
	beside := map[body.ZoneID]bool{}
	for _, s := range slices.Clone(f.Zones) {
		near, known := k.Beside(s.Zone)
		for _, z := range k.Zones {
			if !known || slices.Contains(near, z.ID) {
				beside[z.ID] = true
			}
		}
	}
	for _, z := range k.Zones {
		if beside[z.ID] && !f.in(z.ID) {
			f.Zones = append(f.Zones, ZoneShare{Zone: z.ID, Touches: true})
		}
	}
}

// sideByHand is where a finding lies against a section line, when that was measured.
func (r *run) sideByHand(f *Finding, t *trace, l body.Line) {
	out := LineSide{Line: l.ID, NeedMM: float64(l.Margin), MarginMM: math.Inf(1), Reaches: true}
	for _, x := range r.readings(f, t, job.HandLine) {
		if x.to != string(l.ID) {
			continue
		}
		for _, e := range x.allowed(string(l.ID), t.aheadOf()) {
			out.Of = append(out.Of, e)
			if e.MM < out.MarginMM {
				out.MarginMM, out.Std = e.MM, e.Std
			}
		}
	}
	if len(out.Of) == 0 {
		f.Unknown = append(f.Unknown, fmt.Sprintf("section line %s: measure how far all of it lies outboard of the line", l.ID))
		return
	}
	out.Outboard = Outboard(r.confidence, out)
	f.Sides = append(f.Sides, out)
}

// heldAgainst holds what was measured by hand of a finding against its trace on the mesh. What
// their uncertainties do not explain blocks: one of the two is not of this finding.
func (r *run) heldAgainst(f *Finding, t *trace) {
	for _, z := range t.in.Zones {
		if !f.in(z) {
			r.contradiction(f, diag.Say("inspect.zone-without-trace", "it is said to lie in zone {zone}, but its trace does not come there", z))
		}
	}
	r.pinsAgree(f, t, f.in)
	for _, what := range job.AllByHand() {
		r.readings(f, t, what) // tells what does not count, and what contradicts itself
	}
	std := elem.Hypot(t.std, t.meshStd())
	for _, c := range []struct {
		what job.ByHand
		of   *Clearance
	}{{job.HandBorder, f.Border}, {job.HandBore, f.Bore}, {job.HandEdge, f.Edge}, {job.HandJoint, f.Joint}, {job.HandEarlier, f.Earlier}, {job.HandNext, f.Spacing}} {
		if c.of != nil && c.of.To != None {
			r.heldBetween(f, t, c.what, "", c.of.SeenMM, cmp.Or(c.of.UpperMM, math.Inf(1)), std)
		}
	}
	if f.Length != nil {
		r.heldBetween(f, t, job.HandLength, "", f.LowerMM, f.UpperMM, elem.Hypot(f.Length.Std, t.meshStd()))
	}
	for _, s := range f.Sides {
		if len(s.Of) > 0 && s.Of[0].end == noEnd {
			r.heldBetween(f, t, job.HandLine, string(s.Line), s.Of[0].MM, s.Of[0].MM, s.Of[0].Std)
		}
	}
}

// heldBetween blocks for a reading that surely lies outside of what was found on the mesh.
func (r *run) heldBetween(f *Finding, t *trace, what job.ByHand, to string, low, high, std float64) {
	for _, x := range r.quietReadings(t, what) {
		k := float64(r.closeStds() * elem.Hypot(x.std, std))
		switch {
		case to != "" && x.to != to:
		case x.none && x.mm-k > high, !x.none && (x.mm+k < low || x.mm-k > high):
			r.contradiction(f, diag.Say("inspect.hand-against-trace", "{what}: {measured} was measured by hand, the trace on the mesh gives {found}", what, long(x.mm), foundText(low, high)))
		}
	}
}

func foundText(low, high float64) string {
	if math.IsInf(high, 1) {
		return mm(low) + " or more"
	}
	return between(low, high)
}
