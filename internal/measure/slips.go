package measure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
)

// minSlip is the error [mm] from which a shift is called a slip of the keyboard
// whatever the readings are good for: a wrong digit explains any smaller shift
// as well as damage does. Readings that are better than that allow less, down
// to slipTimes their tolerance and never below leastSlip: the chance that a
// shift of any size agrees with some digit stays the same. Worse ones ask for
// more, a third of slipTimes.
const (
	minSlip   = 40
	slipTimes = 30
	leastSlip = 8
)

// suspectValues looks for typing errors in the reading of a point that moved
// alone: it fits the steady block, or a group that moved as one, but for what a
// slip of the keyboard explains.
func (p *problem) suspectValues(e *epoch, c *candidate, explained map[int]bool, r *Result) {
	for _, rd := range p.coords {
		i := e.slot[rd.point]
		if !e.has(rd.point) || rd.turned || rd.setup != e.base || !c.alone(i, explained) {
			continue
		}
		at := p.in.Points[rd.point].At()
		for _, f := range c.fits() {
			want := f.Motion.Apply(at)
			cov := e.cov[i].Add(f.PredictCov(at)).Add(geom.Isotropic(p.std0[rd.point]))
			text, every := slipText(rd.at, want, stds(cov), p.id(rd.point), "")
			if p.addSlip(r, c.t2[i], rd.point, p.setups[rd.setup].id, text) {
				r.Suspects[len(r.Suspects)-1].every = every
				break
			}
		}
	}
}

// manySlips is how many readings with the same slip say that it is one of the frame or
// the unit: a person slips once or twice.
const manySlips = 3

// suspectEvery makes a suspicion of the whole set-up of the same slip in many of its
// readings. Some of those that have it too may fit together by chance, mirrored in
// a plane that they lie near to, and would be taken for a block that moved.
func (p *problem) suspectEvery(r *Result) {
	times := map[string]int{}
	for _, s := range r.Suspects {
		if s.every == "" {
			continue
		}
		if times[s.every]++; times[s.every] == manySlips {
			kind := SuspectUnit
			if strings.HasSuffix(s.every, string(theSign)) {
				kind = SuspectMirror
			}
			const every = "{count} or more readings of set-up {setup} fit when one thing is set right in each, {every}: its frame or its unit was another for a part of the readings"
			said := diag.Say("measure.suspect-unit", every, manySlips, s.Setup, s.every)
			if kind == SuspectMirror {
				said = diag.Say("measure.suspect-mirror", every, manySlips, s.Setup, s.every)
			}
			r.Suspects = append(r.Suspects, Suspect{Kind: kind, Setup: s.Setup, Points: []body.PointID{}, Said: said})
		}
	}
}

// addSlip adds a suspect when there is a text for it.
func (p *problem) addSlip(r *Result, t2 float64, pt int, setup, text string) bool {
	if text == "" {
		return false
	}
	s := Suspect{Kind: "value", Setup: setup, Points: []body.PointID{p.id(pt)}, Chi2Now: roundP(t2), Said: diag.Say("measure.suspect-value", "{sentence}", text)}
	if setup == "" {
		s.Kind, s.Said = "nominal", diag.Say("measure.suspect-nominal", "{sentence}", text)
	}
	r.Suspects = append(r.Suspects, s)
	return true
}

// suspectNominals looks for the same errors in the published coordinates of a
// point: its place in vehicle axes, as the steady block or a group that moved as
// one puts it, differs from the published one by a slip of the keyboard.
func (p *problem) suspectNominals(e *epoch, c *candidate, explained map[int]bool, r *Result) {
	for i, pt := range e.points {
		if !c.alone(i, explained) {
			continue
		}
		before := len(r.Suspects)
		for _, m := range p.followed(e, c, i) {
			at := p.in.Points[pt].At()
			place := at.Add(c.shift[i]).Sub(m.by)
			text, _ := slipText(at, place, m.std, p.id(pt), "nominal ")
			if text != "" && p.addSlip(r, c.t2[i], pt, "", text+p.twinAgrees(pt, place, m.std)) {
				break
			}
		}
		if a := mainAxis(c.shift[i]); len(r.Suspects) == before && a != none && c.cov[i].Finite() {
			p.addSlip(r, c.t2[i], pt, "", fmt.Sprintf("%s stands %.0f mm off along %s and hardly along the other axes: a slip in its nominal %s explains that as well as damage does",
				p.id(pt), math.Abs(c.shift[i][a]), axisName[a], axisName[a]))
		}
	}
}

// mainShare is by how much a shift along one axis must exceed the others for a
// slip in that coordinate to be likely whichever digit it was.
const mainShare = 5

// mainAxis is the axis along which a shift of minSlip or more lies almost alone,
// or -1. A slip beside a motion of the point cannot be told digit by digit; of
// shifts in any direction one in thirteen looks like that by chance.
func mainAxis(d geom.Vec) int {
	if a := alongAxis(d); a != none && math.Abs(d[a]) >= minSlip {
		return a
	}
	return none
}

// alongAxis is the axis along which a shift lies almost alone, or -1.
func alongAxis(d geom.Vec) int {
	for a := range d {
		if v := math.Abs(d[a]); v >= mainShare*math.Abs(d[(a+1)%3]) && v >= mainShare*math.Abs(d[(a+2)%3]) {
			return a
		}
	}
	return none
}

// ownMotion is a motion that a point may have made beside a slip in its
// published place, in vehicle axes, and how surely it is known together with
// the place of the point.
type ownMotion struct{ by, std geom.Vec }

// nearest is how many moved points a point may have gone along with.
const nearest = 3

// followed are the motions a point may have made: none, that of a group, and
// what the nearest points that moved by themselves did, the middle one of three
// with their spread.
func (p *problem) followed(e *epoch, c *candidate, i int) []ownMotion {
	if !c.cov[i].Finite() {
		return nil
	}
	out := []ownMotion{{std: stds(c.cov[i])}}
	at := p.in.Points[e.points[i]].At()
	for k := range c.groups {
		f := &c.groups[k].fit
		d, cov := f.Shift(at, e.at[i], geom.Isotropic(p.std0[e.points[i]]), e.cov[i], false)
		out = append(out, ownMotion{by: c.shift[i].Sub(d), std: stds(cov)})
	}
	var others []int
	for j := range e.points {
		if j != i && c.moved[j] && c.cov[j].Finite() {
			others = append(others, j)
		}
	}
	if len(others) < nearest {
		return out
	}
	slices.SortStableFunc(others, func(a, b int) int { return cmp.Compare(e.at[a].Dist(e.at[i]), e.at[b].Dist(e.at[i])) })
	var m ownMotion
	own := stds(c.cov[i])
	for a := range m.by {
		v := []float64{c.shift[others[0]][a], c.shift[others[1]][a], c.shift[others[2]][a]}
		slices.Sort(v)
		m.by[a], m.std[a] = v[1], elem.Hypot(own[a], v[2]-v[0])
	}
	return append(out, m)
}

// alone says that the point is clearly off, in no group and not explained yet.
func (c *candidate) alone(i int, explained map[int]bool) bool {
	return !explained[i] && !c.steady.Has(i) && !(c.t2[i] < clearlyOff) && !c.inGroup(i)
}

// fits are the motions a point could have followed: that of the steady block,
// then those of the groups.
func (c *candidate) fits() []*geom.CovFit {
	out := []*geom.CovFit{&c.fit}
	for k := range c.groups {
		out = append(out, &c.groups[k].fit)
	}
	return out
}

// twinAgrees is a half sentence when the twin of a point stands, on the other
// side, where the point was found: the published place of the twin speaks for
// the slip.
func (p *problem) twinAgrees(pt int, place, std geom.Vec) string {
	twin, ok := p.index[p.in.Points[pt].Mirror]
	if !ok || twin == pt {
		return ""
	}
	at := p.in.Points[twin].At()
	at[1] = -at[1]
	for a := range at {
		if math.Abs(at[a]-place[a]) > slipTol(std[a]) {
			return ""
		}
	}
	return "; its twin " + string(p.id(twin)) + " agrees with that"
}

// slipTol is how near a corrected value must come, four standard deviations, as
// for the coordinates that are right.
func slipTol(std float64) float64 { return 4 * std }

// slipText says which slip of the keyboard turned want, known to std, into got;
// empty when none did. of is what the numbers are: "" a reading, "nominal " the
// published place. every says in a word what is wrong where a frame or a unit may be.
func slipText(got, want, std geom.Vec, id body.PointID, of string) (text, every string) {
	if text, unit := otherUnit(got, want, std, id, of); text != "" {
		return text, unit
	}
	var off []int
	for a := range want {
		if math.Abs(got[a]-want[a]) > slipTol(std[a]) {
			off = append(off, a)
		}
	}
	switch len(off) {
	case 1:
		a := off[0]
		least := math.Max(leastSlip, slipTimes*slipTol(std[a]))
		if least > minSlip {
			least = math.Max(minSlip, least/3)
		}
		if math.Abs(got[a]-want[a]) < least {
			return "", ""
		}
		typed, how := slip(got[a], want[a], slipTol(std[a]))
		if how == "" {
			return "", ""
		}
		if how == theSign || how == thePoint {
			every = axisName[a] + ", " + string(how)
		}
		if of == "" {
			return fmt.Sprintf("%s of %s reads %s; %s would fit: %s", axisName[a], id, shortest(got[a]), shortest(typed), how), every
		}
		return fmt.Sprintf("the %s%s of %s is %s; %s would fit: %s", of, axisName[a], id, shortest(got[a]), shortest(typed), how), every
	case 2:
		a, b := off[0], off[1]
		if got.Dist(want) >= minSlip && math.Abs(got[a]-want[b]) <= slipTol(std[b]) && math.Abs(got[b]-want[a]) <= slipTol(std[a]) {
			return fmt.Sprintf("%s%s and %s of %s fit when they are exchanged", of, axisName[a], axisName[b], id), axisName[a] + " and " + axisName[b] + " exchanged"
		}
	}
	return "", ""
}

// mistyping is what a slip of the keyboard did to a number.
type mistyping string

// Slips that a wrong frame or unit makes in many readings.
const theSign, thePoint mistyping = "the sign", "the decimal point"

// otherUnit says that one reading, or one published place, fits when all its
// numbers are taken in another unit, within four standard deviations; empty when
// it does not. every is the unit.
func otherUnit(got, want, std geom.Vec, id body.PointID, of string) (text, every string) {
	if got.Dist(want) < minSlip {
		return "", ""
	}
	what := "the reading of"
	if of != "" {
		what = "the nominal place of"
	}
	for _, u := range unitFactors[:3] {
		fits := true
		for a := range want {
			fits = fits && math.Abs(got[a]/u.factor-want[a]) <= slipTol(std[a])
		}
		if fits {
			return fmt.Sprintf("%s %s fits when its numbers are taken as %s", what, id, u.text), u.text
		}
	}
	return "", ""
}

func shortest(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// slip is the value within tol of want that one slip of the keyboard turns
// into got, and which slip it was: sign, decimal point, two digits exchanged,
// one digit wrong, too many or left out. The value is rounded to the digits
// that got was typed with.
func slip(got, want, tol float64) (float64, mistyping) {
	fits := func(v float64) bool { return math.Abs(v-want) <= tol }
	for _, s := range []struct {
		v   float64
		how mistyping
	}{{-got, theSign}, {got * 10, thePoint}, {got / 10, thePoint}, {got * 100, thePoint}, {got / 100, thePoint}, {got * 1000, thePoint}, {got / 1000, thePoint}} {
		if fits(s.v) {
			return s.v, s.how
		}
	}
	text := []byte(shortest(got))
	for k := 0; k+1 < len(text); k++ {
		if v, ok := swapped(text, k); ok && fits(v) {
			return v, "two digits exchanged"
		}
	}
	full := padded(text)
	for k := range full {
		for d := byte('0'); d <= '9'; d++ {
			if v, ok := replaced(full, k, d); ok && fits(v) && !fits(got) {
				return v, "one digit"
			}
		}
	}
	for k := range text {
		if v, ok := without(text, k); ok && fits(v) {
			return v, "one digit too many"
		}
	}
	if v := restored(text, want); fits(v) {
		return v, "one digit left out"
	}
	return 0, ""
}

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

func swapped(text []byte, k int) (float64, bool) {
	if !isDigit(text[k]) || !isDigit(text[k+1]) || text[k] == text[k+1] {
		return 0, false
	}
	t := append([]byte(nil), text...)
	t[k], t[k+1] = t[k+1], t[k]
	return parsed(t)
}

func replaced(text []byte, k int, d byte) (float64, bool) {
	if !isDigit(text[k]) || text[k] == d {
		return 0, false
	}
	t := append([]byte(nil), text...)
	t[k] = d
	return parsed(t)
}

// wholeDigits is how many digits a coordinate on a vehicle has before the point.
const wholeDigits = 4

// padded has the leading zeros that a person types and a number loses, so that
// 0088.4 can be 3088.4 with one digit wrong.
func padded(text []byte) []byte {
	sign, rest := text[:0], text
	if len(text) > 0 && text[0] == '-' {
		sign, rest = text[:1], text[1:]
	}
	whole := 0
	for whole < len(rest) && isDigit(rest[whole]) {
		whole++
	}
	out := append([]byte(nil), sign...)
	for ; whole < wholeDigits; whole++ {
		out = append(out, '0')
	}
	return append(out, rest...)
}

// without leaves out one digit.
func without(text []byte, k int) (float64, bool) {
	if !isDigit(text[k]) || len(text) < 2 {
		return 0, false
	}
	return parsed(append(append([]byte(nil), text[:k]...), text[k+1:]...))
}

// restored is the value nearest to want that text becomes with one digit put in; of two as near
// the one with the digit farther to the left.
func restored(text []byte, want float64) float64 {
	best := inf
	for k := 0; k <= len(text); k++ {
		if k < len(text) && text[k] == '-' {
			continue
		}
		for d := byte('0'); d <= '9'; d++ {
			t := append(append(append([]byte(nil), text[:k]...), d), text[k:]...)
			if v, is := parsed(t); is && math.Abs(v-want) < math.Abs(best-want) {
				best = v
			}
		}
	}
	return best
}

func parsed(text []byte) (float64, bool) {
	v, err := strconv.ParseFloat(string(text), 64)
	return v, err == nil
}
