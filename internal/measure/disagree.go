package measure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/normal"
	"fettle/internal/unit"
)

// DisagreementKind is what lengths disagree with.
type DisagreementKind string

// Kinds of disagreement.
const (
	DisagreeRepeat    DisagreementKind = "repeat"    // a length with itself, read again
	DisagreeTriangle  DisagreementKind = "triangle"  // three lengths that no triangle has
	DisagreePublished DisagreementKind = "published" // lengths alone with the published places
)

// Disagreement is lengths that cannot all be true together, with the points they go
// to. Of a disagreement with the published places Points are those that stand
// elsewhere under one explanation or another; which of them is not known where
// there are several.
type Disagreement struct {
	Kind   DisagreementKind `json:"kind"`
	Points []body.PointID   `json:"points"`
	Text   string           `json:"text"`
}

// apartUpTo is among how many points sets of one, two and three are tried as those that
// stand elsewhere: the number of sets grows with its power.
var apartUpTo = [...]int{2000, 200, 40}

// disagreements names the lengths that contradict one another and, where there are no
// coordinates, the points to which they cannot be as published.
func (p *problem) disagreements(e *epoch, r *Result) {
	p.againDiffers(r)
	p.noTriangle(r)
	if e.base == none {
		p.notAsPublished(r)
	}
}

// againDiffers compares every reading of a length, or of a height in one set-up, with the
// first one.
func (p *problem) againDiffers(r *Result) {
	type what struct {
		kind            job.ReadingKind
		setup, from, to int
	}
	first := map[what]*span{}
	for k := range p.spans {
		s := &p.spans[k]
		key, value := what{s.kind, none, min(s.from, s.to), max(s.from, s.to)}, s.value
		if s.kind == job.ReadHeight {
			key.setup = s.setup
			if s.from > s.to {
				value = -value
			}
		}
		one := first[key]
		if one == nil {
			first[key] = s
			continue
		}
		had := one.value
		if s.kind == job.ReadHeight && one.from > one.to {
			had = -had
		}
		if math.Abs(value-had) > criticalNormal*together(s.std, one.std) {
			r.Disagree = append(r.Disagree, Disagreement{DisagreeRepeat, p.ids([]int{key.from, key.to}),
				fmt.Sprintf("%s %s–%s was read as %.1f mm and as %.1f mm: one of the readings is wrong", s.kind, p.id(key.from), p.id(key.to), had, value)})
		}
	}
}

// noTriangle finds three points one length between which is longer than the way over
// the third.
func (p *problem) noTriangle(r *Result) {
	by := map[[2]int]*span{} // the first reading of each length
	to := map[int][]int{}
	for k := range p.spans {
		s := &p.spans[k]
		key := [2]int{min(s.from, s.to), max(s.from, s.to)}
		if s.kind == job.ReadLength && by[key] == nil {
			by[key] = s
			to[key[0]], to[key[1]] = append(to[key[0]], key[1]), append(to[key[1]], key[0])
		}
	}
	for k := range p.spans {
		s := &p.spans[k]
		if by[[2]int{min(s.from, s.to), max(s.from, s.to)}] != s {
			continue
		}
		for _, via := range to[s.from] {
			one, two := by[[2]int{min(s.from, via), max(s.from, via)}], by[[2]int{min(s.to, via), max(s.to, via)}]
			if two == nil || !(s.value-one.value-two.value > criticalNormal*together(s.std, one.std, two.std)) {
				continue
			}
			r.Disagree = append(r.Disagree, Disagreement{DisagreeTriangle, p.ids([]int{s.from, s.to, via}),
				fmt.Sprintf("%s–%s was read as %.1f mm, longer than the way over %s, %.1f mm: one of the three lengths is wrong", p.id(s.from), p.id(s.to), s.value, p.id(via), one.value+two.value)})
		}
	}
}

// against is the lengths of a stage held against the published places.
type against struct {
	p     *problem
	spans []*span
	w     []float64 // difference over its standard deviation
	tried int       // how many points were tried together
	most  float64   // the size of w that one sound length of all passes in one of a thousand stages
}

func (p *problem) against() against {
	a := against{p: p}
	for k := range p.spans {
		if s := &p.spans[k]; s.kind == job.ReadLength {
			nominal := p.in.Points[s.from].At().Dist(p.in.Points[s.to].At())
			a.spans = append(a.spans, s)
			a.w = append(a.w, (s.value-nominal)/together(s.std, p.std0[s.from], p.std0[s.to]))
		}
	}
	if len(a.w) > 0 {
		a.most = normal.Quantile(1 - geom.AlphaPoint/float64(2*len(a.w)))
	}
	return a
}

func (a *against) differs(k int) bool { return math.Abs(a.w[k]) > a.most }

// agree says that all lengths but those to the points of a set, and but one reading
// when it is not -1, are as published: each of them and all together.
func (a *against) agree(apart []int, but int) bool {
	chi2, n := 0.0, 0
	for k, s := range a.spans {
		if k == but || slices.Contains(apart, s.from) || slices.Contains(apart, s.to) {
			continue
		}
		if a.differs(k) {
			return false
		}
		chi2 += float64(a.w[k] * a.w[k])
		n++
	}
	return n == 0 || geom.ChiSquareTail(chi2, n) >= geom.AlphaBlock
}

// notAsPublished names the points to which lengths alone cannot be as published: the
// smallest sets of points without whose lengths all others agree.
func (p *problem) notAsPublished(r *Result) {
	a := p.against()
	if len(a.spans) == 0 || a.agree(nil, none) {
		return
	}
	sets := a.smallest()
	d := Disagreement{Kind: DisagreePublished, Points: []body.PointID{}}
	var ways []string
	for _, set := range sets {
		for _, i := range set {
			if !slices.Contains(d.Points, p.id(i)) {
				d.Points = append(d.Points, p.id(i))
			}
		}
		ways = append(ways, strings.Join(texts(p.ids(set)), " and "))
	}
	if len(sets) == 0 {
		d.Points, d.Text = a.unexplained()
	} else {
		d.Text = anyOf(ways) + ", if no more than " + unit.Count(len(sets[0]), "point") + " stood elsewhere than published"
		for k, s := range a.spans {
			if a.agree(nil, k) {
				d.Text += fmt.Sprintf(", or the reading %s–%s is wrong", p.id(s.from), p.id(s.to))
			}
		}
		d.Text += ": " + a.count(sets)
	}
	r.Disagree = append(r.Disagree, d)
}

// count says how many lengths differ at the points of the only set, and that the
// others agree.
func (a *against) count(sets [][]int) string {
	if len(sets) > 1 {
		return "all lengths that go to none of them agree with the published places; the lengths do not say which"
	}
	off, of := a.at(sets[0])
	if off == 0 {
		return fmt.Sprintf("the %d lengths to it together are further off than chance allows, all others agree with the published places", of)
	}
	return fmt.Sprintf("%d of %d lengths to it differ, all others agree with the published places", off, of)
}

// at is how many lengths to the points of a set differ, and how many there are.
func (a *against) at(set []int) (off, of int) {
	for k, s := range a.spans {
		if slices.Contains(set, s.from) || slices.Contains(set, s.to) {
			of++
			if a.differs(k) {
				off++
			}
		}
	}
	return off, of
}

// smallest are all sets of as few points as can be, at most three, without whose
// lengths the others agree.
func (a *against) smallest() [][]int {
	var points []int
	for _, s := range a.spans {
		for _, i := range []int{s.from, s.to} {
			if !slices.Contains(points, i) {
				points = append(points, i)
			}
		}
	}
	slices.Sort(points)
	var found [][]int
	var grow func(set []int, from, left int)
	grow = func(set []int, from, left int) {
		if left == 0 {
			if a.agree(set, none) {
				found = append(found, slices.Clone(set))
			}
			return
		}
		for k := from; k < len(points); k++ {
			grow(append(set, points[k]), k+1, left-1)
		}
	}
	for size := 1; size <= len(apartUpTo) && len(points) <= apartUpTo[size-1] && len(found) == 0; size++ {
		a.tried = size
		grow(nil, 0, size)
	}
	return found
}

// unexplained is said where no few points explain what differs: two groups of points,
// only lengths between which differ, or else the points with most of them.
func (a *against) unexplained() ([]body.PointID, string) {
	off := 0
	for k := range a.spans {
		if a.differs(k) {
			off++
		}
	}
	lead := fmt.Sprintf("%d of %d lengths differ", off, len(a.spans))
	if a.tried > 0 {
		lead += fmt.Sprintf(", and no set of up to %d points explains that", a.tried)
	}
	side, ok := a.sides()
	if !ok {
		return a.worst(lead)
	}
	var groups [2][]int
	for i := range a.p.in.Points {
		if s, there := side[i]; there {
			groups[s] = append(groups[s], i)
		}
	}
	return a.p.ids(append(slices.Clone(groups[0]), groups[1]...)), fmt.Sprintf("%s: only lengths between two groups of points do (%s; %s), which do not say which of them went",
		lead, joinIDs(a.p.ids(groups[0])), joinIDs(a.p.ids(groups[1])))
}

// sides parts the points to which a length differs into two, so that every length that
// differs goes from one to the other; false where that cannot be, or in several ways.
func (a *against) sides() (map[int]int, bool) {
	to := map[int][]int{}
	first := none
	for k, s := range a.spans {
		if a.differs(k) {
			to[s.from], to[s.to] = append(to[s.from], s.to), append(to[s.to], s.from)
			if low := min(s.from, s.to); first == none || low < first {
				first = low
			}
		}
	}
	side := map[int]int{}
	if first == none {
		return side, false
	}
	side[first] = 0
	for next := []int{first}; len(next) > 0; next = next[1:] {
		for _, j := range to[next[0]] {
			if s, there := side[j]; there && s == side[next[0]] {
				return side, false
			} else if !there {
				side[j] = 1 - side[next[0]]
				next = append(next, j)
			}
		}
	}
	return side, len(side) == len(to)
}

// worst names the points where most of the lengths differ.
func (a *against) worst(lead string) ([]body.PointID, string) {
	type bad struct{ point, off, of int }
	var all []bad
	for i := range a.p.in.Points {
		if off, of := a.at([]int{i}); off > 0 {
			all = append(all, bad{i, off, of})
		}
	}
	slices.SortStableFunc(all, func(x, y bad) int { return y.off*x.of - x.off*y.of })
	var ids []body.PointID
	var parts []string
	for _, b := range all {
		ids = append(ids, a.p.id(b.point))
		if len(parts) < 6 {
			parts = append(parts, fmt.Sprintf("%s (%d of %d)", a.p.id(b.point), b.off, b.of))
		}
	}
	if len(all) == 0 {
		return []body.PointID{}, "no length differs by itself, but together they are further off the published places than chance allows"
	}
	return ids, lead + "; most differ at " + strings.Join(parts, ", ")
}

// together is the standard uncertainty of a sum of independent values.
func together(std ...float64) float64 {
	sum := 0.0
	for _, s := range std {
		sum += float64(s * s)
	}
	return math.Sqrt(sum)
}

func texts(ids []body.PointID) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return out
}

// anyOf is some ways as a list, the first six of many.
func anyOf(ways []string) string {
	const shown = 6
	if len(ways) == 1 {
		return ways[0]
	}
	more := ""
	if len(ways) > shown {
		more = fmt.Sprintf(" (or one of %d more ways)", len(ways)-shown)
		ways = ways[:shown]
	}
	return "either " + strings.Join(ways[:len(ways)-1], ", ") + " or " + ways[len(ways)-1] + more
}
