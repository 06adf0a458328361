package measure

import (
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// Form is how well lengths alone hold the form of the points that got a place.
type Form struct {
	Points   int      `json:"points"`
	Lengths  int      `json:"lengths"`
	Unknowns int      `json:"unknowns"` // three a point, less six: a form has no place of its own
	Rank     int      `json:"rank"`     // how many of them the lengths determine
	Least    float64  `json:"leastSingular"`
	Left     []Unheld `json:"left"`  // points with lengths that got no place
	Folds    []Fold   `json:"folds"` // other forms that fit every length as well
}

// Unheld is a point that the lengths do not hold.
type Unheld struct {
	ID      body.PointID `json:"id"`
	Because string       `json:"because"`
}

// Fold is points that fit all lengths in another place as well: mirrored.
type Fold struct {
	Points []body.PointID `json:"points"`
	ByMM   float64        `json:"byMm"` // how far the farthest of them would lie
}

// nullShare is the eigenvalue of the directions of all lengths, as a share of the largest,
// below which a motion changes no length: an error would be 100,000 times as large.
const nullShare = 1e-10

// directions is the sum over the lengths of g g', g the directions of one length at its
// two points: a motion of the points changes the lengths by sqrt(m' D m).
func directions(at []geom.Vec, lengths [][2]int) [][]float64 {
	d := make([][]float64, 3*len(at))
	for i := range d {
		d[i] = make([]float64, 3*len(at))
	}
	for _, l := range lengths {
		u := at[l[0]].Sub(at[l[1]]).Unit()
		for _, a := range l {
			for _, b := range l {
				for i := range u {
					for j := range u {
						v := float64(u[i] * u[j])
						if a != b {
							v = -v
						}
						d[3*a+i][3*b+j] += v
					}
				}
			}
		}
	}
	return d
}

// lengthPairs are the lengths between the points of an epoch, each once.
func (p *problem) lengthPairs(e *epoch) [][2]int {
	var out [][2]int
	seen := map[[2]int]bool{}
	for k := range p.spans {
		s := &p.spans[k]
		if s.kind != job.ReadLength || !e.has(s.from) || !e.has(s.to) {
			continue
		}
		if pair := pairOf(e.slot[s.from], e.slot[s.to]); !seen[pair] {
			seen[pair] = true
			out = append(out, pair)
		}
	}
	return out
}

// keepRigid leaves only the largest group of points that the lengths hold against one
// another: to first order no motion within it leaves every length as it is. Of several as
// large it keeps the one with the first point.
func (p *problem) keepRigid(e *epoch) {
	if len(e.points) < minBlock || len(e.points) > maxForms {
		return
	}
	pairs := p.lengthPairs(e)
	values, vectors := geom.SymEigenN(directions(e.at, pairs))
	top := values[len(values)-1]
	free := 0
	for free < len(values) && !(values[free] > nullShare*top) {
		free++
	}
	if free <= 6 {
		return
	}
	var best []int
	for _, t := range triangles(len(e.points), pairs) {
		if subset(t[:], best) {
			continue
		}
		if g := held(e.at, vectors[:free], t); len(g) > len(best) {
			best = g
		}
	}
	if len(best) < minBlock {
		best = nil
	}
	for i := len(e.points) - 1; i >= 0; i-- {
		if !slices.Contains(best, i) {
			why := "the lengths leave it free to move against the others"
			if best == nil {
				why = "the lengths hold no four points against one another"
			}
			p.leave(e, i, why)
		}
	}
}

func subset(of []int, in []int) bool {
	return !slices.ContainsFunc(of, func(i int) bool { return !slices.Contains(in, i) })
}

// triangles are the threes of points with all three lengths.
func triangles(n int, pairs [][2]int) [][3]int {
	joined := map[[2]int]bool{}
	for _, l := range pairs {
		joined[l] = true
	}
	var out [][3]int
	for a := range n {
		for b := a + 1; b < n; b++ {
			if !joined[[2]int{a, b}] {
				continue
			}
			for c := b + 1; c < n; c++ {
				if joined[[2]int{a, c}] && joined[[2]int{b, c}] {
					out = append(out, [3]int{a, b, c})
				}
			}
		}
	}
	return out
}

// held are the points that every free motion carries along with a triangle; none when the
// triangle is nearly a line.
func held(at []geom.Vec, motions [][]float64, t [3]int) []int {
	mid := at[t[0]].Add(at[t[1]]).Add(at[t[2]]).Scale(1.0 / 3)
	var inertia geom.Mat3
	for _, i := range t {
		r := at[i].Sub(mid)
		inertia = inertia.Add(geom.Isotropic(r.Norm())).Sub(geom.Outer(r, r))
	}
	inv, ok := inertia.Inverse()
	if !ok {
		return nil
	}
	var out []int
	for i := range at {
		out = append(out, i)
	}
	for _, m := range motions {
		move := func(i int) geom.Vec { return geom.Vec{m[3*i], m[3*i+1], m[3*i+2]} }
		shift := move(t[0]).Add(move(t[1])).Add(move(t[2])).Scale(1.0 / 3)
		var turn geom.Vec
		for _, i := range t {
			turn = turn.Add(at[i].Sub(mid).Cross(move(i)))
		}
		turn = inv.MulVec(turn)
		out = slices.DeleteFunc(out, func(i int) bool {
			return move(i).Sub(shift).Sub(turn.Cross(at[i].Sub(mid))).Norm() > 1e-6
		})
	}
	if !subset(t[:], out) {
		return nil
	}
	return out
}

func (p *problem) leave(e *epoch, i int, why string) {
	p.form.Left = append(p.form.Left, Unheld{p.id(e.points[i]), why})
	e.remove(i)
}

// loosest is the point that the lengths hold too loosely, or -1: three standard deviations
// of its place are so far that the lengths to it change by more than their own uncertainty
// beyond the linear,
//
//	(3 u)^2 / (2 d) > s
//
// with u the largest standard deviation of its place, d its shortest length and s the
// uncertainty of that. Its covariance would be no true one, and another form may be as near.
func loosest(e *epoch, obs []geom.NetObs) (int, float64) {
	worst, by, std := none, 1.0, 0.0
	for i := range e.points {
		u2 := largestVariance(e.cov[i])
		for _, o := range obs {
			if o.A != i && o.B != i {
				continue
			}
			if r := 9 * u2 / (2 * e.at[o.A].Dist(e.at[o.B]) * o.Std); r > by {
				worst, by, std = i, r, math.Sqrt(u2)
			}
		}
	}
	return worst, std
}

// describeForm counts what the lengths determine of the points that have a place.
func (p *problem) describeForm(e *epoch) {
	f, pairs := p.form, p.lengthPairs(e)
	f.Points, f.Lengths, f.Unknowns = len(e.points), len(pairs), max(0, 3*len(e.points)-6)
	slices.SortFunc(f.Left, func(a, b Unheld) int { return p.index[a.ID] - p.index[b.ID] })
	if len(e.points) <= maxForms {
		values, _ := geom.SymEigenN(directions(e.at, pairs))
		for _, v := range values {
			if v > nullShare*values[len(values)-1] {
				f.Rank++
			}
		}
		if f.Rank == f.Unknowns && len(values) > 6 {
			f.Least = roundP(root(values[6]))
		}
	}
	heights := 0
	for k := range p.spans {
		if p.spans[k].kind == job.ReadHeight {
			heights++
		}
	}
	if heights > 0 {
		p.note(diag.Caution, "heights", diag.Say("measure.heights-unused", "{heights} heights take no part in the form: without coordinates nothing tells how level the device stood", heights), "measure lengths, or coordinates in the set-up of the heights")
	}
}

// folds finds the other forms that fit every length: single points mirrored in the plane of
// the points they were measured from and adjusted again, and groups that only three points
// join to the rest, mirrored in the plane of those. Where the rest is no more than twice as large
// either may be the one that is mirrored.
func (p *problem) folds(e *epoch) {
	if p.form == nil || len(e.points) < minBlock || len(e.points) > maxForms {
		return
	}
	nw := p.network(e, allSpans)
	nw.Free = true
	first, err := nw.Adjust()
	if err != nil {
		return
	}
	for i := range e.points {
		if by := p.foldOf(e, first, i); by > 0 {
			p.form.Folds = append(p.form.Folds, Fold{p.ids([]int{e.points[i]}), roundMM(by)})
		}
	}
	std := nw.roughest()
	pairs := p.lengthPairs(e)
	n := len(e.points)
	for a := range n {
		for b := a + 1; b < n; b++ {
			for c := b + 1; c < n; c++ {
				group := smallerPart(n, pairs, [3]int{a, b, c})
				if len(group) < 2 {
					continue
				}
				normal := e.at[b].Sub(e.at[a]).Cross(e.at[c].Sub(e.at[a])).Unit()
				by := 0.0
				for _, i := range group {
					by = math.Max(by, 2*math.Abs(e.at[i].Sub(e.at[a]).Dot(normal)))
				}
				if !(by > 10*std) {
					continue
				}
				if rest := n - 3 - len(group); rest <= 2*len(group) { // either may be the one that is mirrored
					group = nil
					for i := range n {
						if i != a && i != b && i != c {
							group = append(group, i)
						}
					}
				}
				var ids []int
				for _, i := range group {
					ids = append(ids, e.points[i])
				}
				f := Fold{p.ids(ids), roundMM(by)}
				if !slices.ContainsFunc(p.form.Folds, func(x Fold) bool { return slices.Equal(x.Points, f.Points) }) {
					p.form.Folds = append(p.form.Folds, f)
				}
			}
		}
	}
}

// smallerPart are the points that three points alone join to the others; none when without
// them all hang together. Of several parts all but the largest are meant.
func smallerPart(n int, pairs [][2]int, cut [3]int) []int {
	part := make([]int, n)
	for i := range part {
		part[i] = i
	}
	root := func(i int) int {
		for part[i] != i {
			i = part[i]
		}
		return i
	}
	for _, l := range pairs {
		if !slices.Contains(cut[:], l[0]) && !slices.Contains(cut[:], l[1]) {
			part[root(l[0])] = root(l[1])
		}
	}
	size := make([]int, n)
	largest := none
	for i := range n {
		if !slices.Contains(cut[:], i) {
			size[root(i)]++
		}
	}
	for i := range n {
		if size[i] > 0 && (largest == none || size[i] > size[largest]) {
			largest = i
		}
	}
	var out []int
	for i := range n {
		if !slices.Contains(cut[:], i) && root(i) != largest {
			out = append(out, i)
		}
	}
	return out
}

// foldOf is how far point i would lie off with all lengths as they are; 0 when it cannot.
func (p *problem) foldOf(e *epoch, first *geom.NetResult, i int) float64 {
	nw := p.network(e, allSpans)
	nw.Free = true
	at, ok := mirroredIn(nw, first.Points, i)
	if !ok {
		return 0
	}
	for k := range nw.Points {
		nw.Points[k].At = first.Points[k]
	}
	nw.Points[i].At = at
	return otherFit(nw, first, i, nw.roughest())
}

// roughest is the largest standard deviation of the readings of a network.
func (nw *network) roughest() float64 {
	std := 0.0
	for i := range nw.Obs {
		std = math.Max(std, nw.Obs[i].Std)
	}
	return std
}

// otherFit adjusts a network from another start, and says how far point i lies off then; 0
// when it does not fit or comes to the same.
func otherFit(nw *network, first *geom.NetResult, i int, std float64) float64 {
	other, err := nw.Adjust()
	if err != nil || other.VtPV >= first.VtPV+unlikelyBIC && geom.ChiSquareTail(other.VtPV, other.DOF) < geom.AlphaBlock {
		return 0
	}
	far := 0.0
	for k := range first.Points {
		far = math.Max(far, math.Abs(other.Points[k].Dist(other.Points[i])-first.Points[k].Dist(first.Points[i])))
	}
	if far > 10*std {
		return other.Points[i].Dist(first.Points[i])
	}
	return 0
}
