package inspect

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Finding is the finding of that identity; false when there is none.
func (r Result) Finding(id job.FindingID) (Finding, bool) {
	for _, f := range r.Findings {
		if f.ID == id {
			return f, true
		}
	}
	return Finding{}, false
}

// Open is the areas that have not been inspected as asked. Ribs, bores and
// joints that have no entry of their own are left out when the zone they lie in
// is open itself.
func (r Result) Open() []Coverage {
	var out []Coverage
	for _, c := range r.Coverage {
		if !c.Covered && !r.toldBy(c) {
			out = append(out, c)
		}
	}
	return out
}

// toldBy says that an area without an entry of its own lies in one that is not
// covered either.
func (r Result) toldBy(c Coverage) bool {
	return c.Part != "" && !c.Own && slices.ContainsFunc(r.Coverage, func(o Coverage) bool { return o.Area == c.Part && !o.Covered })
}

// CracksInZone is the number of cracks and breaks that lie, or may lie, in a zone. A
// group counts as one, and so do the two faces of one crack.
func (r Result) CracksInZone(zone body.ZoneID) int {
	return r.cracks(func(f *Finding) bool { return f.in(zone) })
}

// CracksOnCasting is the number of cracks on a casting. A group counts as one,
// and so do the two faces of one crack.
func (r Result) CracksOnCasting(casting body.CastingID) int {
	return r.cracks(func(f *Finding) bool { return f.Casting == casting })
}

func (r Result) cracks(counts func(*Finding) bool) int {
	var groups []string
	n := 0
	for i := range r.Findings {
		f := &r.Findings[i]
		if f.Casting == "" || !isCrack(f.Kind) || !counts(f) || f.Located && slices.Contains(groups, f.Group) {
			continue
		}
		n++
		if f.Group != "" && f.Located { // one without a place only may belong to it
			groups = append(groups, f.Group)
		}
	}
	return n
}

// in says that a finding lies, or may lie, in a zone.
func (f *Finding) in(z body.ZoneID) bool {
	return slices.Contains(f.MayLieIn, z) || hasZone(f.Zones, z)
}

func hasZone(all []ZoneShare, z body.ZoneID) bool {
	return slices.ContainsFunc(all, func(s ZoneShare) bool { return s.Zone == z })
}

func mm(v float64) string { return unit.Fixed(v, 1) + " mm" }

// long is the same as a figure of a sentence.
func long(v float64) diag.Figure { return diag.Figure{Text: mm(v), Value: v, Unit: "mm"} }

// full is a limit in millimetres as it was given, to a tenth at least.
func full(v float64) string { return unit.FixedBeside(v, 1, v) + " mm" }

// toldApart is a length and the limit worked out for it, told apart where they differ.
func toldApart(v, limit float64) (string, string) {
	a, b := unit.Pair(v, limit, 1)
	return a + " mm", b + " mm"
}

// beside is mm for a length that is held against a limit printed beside it.
func beside(v, limit float64) string { return unit.FixedBeside(v, 1, limit) + " mm" }
