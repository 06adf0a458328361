package inspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/rule"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// nearStds is how many standard uncertainties from a border a crack counts as
// possibly lying across it (coverage factor 2, JCGM 100:2008 6.2).
const nearStds = 2.0

// zones splits a finding by zone, and says how near the next zone is.
func (r *run) zones(f *Finding, t *trace) {
	crossed, maybe := t.crossed(), t.maybeCrossed()
	std := elem.Hypot(t.std, t.meshStd())
	all := slices.Clone(crossed)
	for _, label := range maybe {
		all = append(all, mesh.LabelLength{Label: label})
	}
	others, beside := t.neighbours(all)
	touched := r.touched(others, std)
	for _, z := range t.at.Of.Zones {
		if i := slices.IndexFunc(crossed, func(l mesh.LabelLength) bool { return int(l.Label) == z.Label }); i >= 0 {
			f.Zones = append(f.Zones, ZoneShare{Zone: z.ID, LengthMM: crossed[i].LengthMM})
		} else if slices.Contains(maybe, int32(z.Label)) || slices.ContainsFunc(touched, func(n labelReach) bool { return int(n.label) == z.Label }) {
			f.Zones = append(f.Zones, ZoneShare{Zone: z.ID, Touches: true})
		}
	}
	for _, l := range all {
		r.checkLabel(f, t, l.Label)
	}
	for _, n := range touched {
		r.checkLabel(f, t, n.label)
	}
	r.border(f, t, all, beside, std)
	f.zonesBecause()
}

// touched is the labels that a finding may lie in although it does not cross
// them: each that all of it as seen, or an end that may run on, is not surely away
// from; and as many more, the nearest first, until those left out are together
// improbable enough (their probabilities are added: no independence is needed).
func (r *run) touched(others []labelReach, std float64) []labelReach {
	type chance struct {
		labelReach
		p float64
	}
	var out []labelReach
	var rest []chance
	for _, n := range others {
		p, near := 0.0, false
		for _, e := range elements("", n.by, std) {
			p += rule.Below(0, e.MM, e.Std)
			near = near || e.MM <= float64(r.closeStds()*e.Std)
		}
		if near {
			out = append(out, n)
		} else {
			rest = append(rest, chance{n, p})
		}
	}
	slices.SortFunc(rest, func(a, b chance) int { return cmp.Or(cmp.Compare(a.p, b.p), cmp.Compare(a.label, b.label)) })
	sum := 0.0
	for _, c := range rest {
		if sum += c.p; sum > 1-r.confidence {
			out = append(out, c.labelReach)
		}
	}
	slices.SortFunc(out, func(a, b labelReach) int { return int(a.label) - int(b.label) })
	return out
}

func (f *Finding) zonesBecause() {
	for _, z := range f.Zones {
		if z.Touches {
			f.because("it may reach zone %s, whose rules count too", z.Zone)
		} else if f.Length != nil && z.LengthMM > 0 {
			f.because("%s of it in zone %s", mm(z.LengthMM), z.Zone)
		} else {
			f.because("in zone %s", z.Zone)
		}
	}
}

// border fills in the clearance to the border of the finding's own zone.
func (r *run) border(f *Finding, t *trace, crossed []mesh.LabelLength, beside []labelReach, std float64) {
	switch {
	case len(crossed) > 1:
		short := slices.MinFunc(crossed, func(a, b mesh.LabelLength) int {
			switch {
			case a.LengthMM < b.LengthMM:
				return -1
			case a.LengthMM > b.LengthMM:
				return 1
			}
			return int(a.Label) - int(b.Label)
		})
		f.Border = &Clearance{To: t.zoneName(short.Label), MM: 0, Std: std}
	case len(beside) > 0:
		slices.SortStableFunc(beside, func(a, b labelReach) int { return cmp.Compare(leastOf(a.by).allowed, leastOf(b.by).allowed) })
		var all []*Clearance
		best := math.Inf(1)
		for _, n := range beside {
			if slices.ContainsFunc(elements("", n.by, std), func(e Element) bool { return e.mayMatter(best) }) {
				c := r.borderTo(t, crossed, n, std)
				all, best = append(all, c), min(best, c.MM)
			}
		}
		f.Border = withElements(all)
		f.because("%s", clearanceText(*f.Border, "the border to zone "))
	default:
		f.Border = t.at.none()
	}
}

// borderTo is the clearance to the border to the nearest other zone, along the
// surface where a limit asks for it.
func (r *run) borderTo(t *trace, crossed []mesh.LabelLength, nearest labelReach, std float64) *Clearance {
	own := func(label int32) bool {
		return slices.ContainsFunc(crossed, func(l mesh.LabelLength) bool { return l.Label == label })
	}
	limits := t.at.limitsOf(body.FactBorder)
	x := vehicle.Target{Name: t.zoneName(nearest.label), Bound: func(best float64, p, q geom.Vec) float64 {
		for _, e := range t.at.Borders() {
			if e.A == nearest.label && own(e.B) || e.B == nearest.label && own(e.A) {
				best = e.Edges.Nearer(best, p, q)
			}
		}
		return best
	}, Lines: func() [][]mesh.Site {
		most := limits[len(limits)-1] + float64(r.sureStds()*std) + t.curve.ahead[0] + t.curve.ahead[1]
		return t.borderLines(own, nearest.label, most)
	}}
	return r.along(t, x, nearest.by, std, limits)
}

// none is the clearance to something that the casting does not have.
func (p *place) none() *Clearance {
	return &Clearance{To: None, MM: p.DiagonalMM(), SeenMM: p.DiagonalMM()}
}

func (c reach) clearance(to string, std float64) *Clearance {
	return &Clearance{To: to, MM: c.allowed, Std: c.std(std), SeenMM: c.seen}
}

func clearanceText(c Clearance, what string) string {
	s := fmt.Sprintf("at least %s to %s%s", mm(c.SeenMM), what, c.To)
	if c.UpperMM > 0 {
		s = fmt.Sprintf("%s to %s%s along the surface", between(c.SeenMM, c.UpperMM), what, c.To)
	}
	if c.MM < c.SeenMM {
		s += fmt.Sprintf(", taken as %s because a tip seen by eye only may lie farther on", mm(c.MM))
	}
	return s
}

// between words an interval; one narrower than a tenth of a millimetre is one
// figure.
func between(lo, hi float64) string {
	if hi-lo <= closeMM {
		return mm(lo)
	}
	return unit.Fixed(lo, 1) + " to " + mm(hi)
}

// zoneName is the zone of a label, or says that it has none.
func (t *trace) zoneName(label int32) string {
	if z := t.zone(label); z != nil {
		return string(z.ID)
	}
	return fmt.Sprintf("label %d, which is no zone", label)
}

func (t *trace) zone(label int32) *body.Zone {
	for i := range t.at.Of.Zones {
		if t.at.Of.Zones[i].Label == int(label) {
			return &t.at.Of.Zones[i]
		}
	}
	return nil
}

func (r *run) checkLabel(f *Finding, t *trace, label int32) {
	if t.zone(label) != nil {
		return
	}
	r.note(diag.Say("inspect.unknown-label", "the surface carries label {label} there, which is no zone of casting {casting}", label, f.Casting).Note(diag.Note{Severity: diag.Blocking, Where: string(f.ID), Hint: "give the faces a zone in the mesh, or the zone its label in the body"}))
	f.Unknown = append(f.Unknown, fmt.Sprintf("zone: the surface carries label %d there, which is no zone", label))
}

// crossed is the length of the finding in every label it crosses, in order of
// label: where the way through all points crosses it, in the share of that way,
// so that the sum is the length. A finding without length lies in the label of
// its face.
func (t *trace) crossed() []mesh.LabelLength {
	var out []mesh.LabelLength
	length, all := 0.0, 0.0
	for _, g := range t.legs {
		length += g.LengthMM
	}
	for _, p := range t.raw {
		all += p.LengthMM
		for _, l := range t.at.Surface.LabelLengths(p) {
			if !(l.LengthMM > 0) {
				continue
			}
			if i := slices.IndexFunc(out, func(o mesh.LabelLength) bool { return o.Label == l.Label }); i >= 0 {
				out[i].LengthMM += l.LengthMM
			} else {
				out = append(out, l)
			}
		}
	}
	for i := range out {
		out[i].LengthMM *= length / all
	}
	slices.SortFunc(out, func(a, b mesh.LabelLength) int { return int(a.Label) - int(b.Label) })
	if out == nil {
		out = append(out, mesh.LabelLength{Label: t.label(t.sites[0].Face)})
	}
	return out
}

func (t *trace) label(face int) int32 {
	if m := t.at.Surface.Mesh(); m.Label != nil {
		return m.Label[face]
	}
	return 0
}

// labelReach is how near a label is that the finding does not cross.
type labelReach struct {
	label int32
	by    []reach
}

// neighbours is the distances to every label that the finding does not cross, and
// those to the border between one of them and a label that it does cross. Distances
// are through space: a lower bound on the distance along the surface.
func (t *trace) neighbours(crossed []mesh.LabelLength) (others, beside []labelReach) {
	own := func(label int32) bool {
		return slices.ContainsFunc(crossed, func(l mesh.LabelLength) bool { return l.Label == label })
	}
	to := t.toBorders()
	for i, e := range t.at.Borders() {
		if own(e.A) && own(e.B) {
			continue
		}
		d := to[i]
		for _, label := range [2]int32{e.A, e.B} {
			if own(label) {
				continue
			}
			n := labelReach{label, d}
			others = nearer(others, n)
			if own(e.A) || own(e.B) {
				beside = nearer(beside, n)
			}
		}
	}
	return others, beside
}

// nearer keeps the nearest place of each label, for all of the finding and for
// each end.
func nearer(list []labelReach, n labelReach) []labelReach {
	i := slices.IndexFunc(list, func(o labelReach) bool { return o.label == n.label })
	if i < 0 {
		return append(list, n)
	}
	by := slices.Clone(list[i].by)
	for k := range by {
		if n.by[k].allowed < by[k].allowed {
			by[k].allowed, by[k].seen = n.by[k].allowed, n.by[k].seen
		}
	}
	list[i].by = by
	return list
}
