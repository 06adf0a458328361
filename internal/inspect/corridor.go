package inspect

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/normal"
)

// straightProbability is how surely a straight crack is taken for straight,
// however many points were clicked along it: by the farthest click, by runs of
// clicks on one side, and by all of them together, each with a third of what is
// left. Our choice, common practice.
const straightProbability = 0.95

const testShare = (1 - straightProbability) / 3

// simplify adds the legs from point i to point j. A stretch is replaced by the
// way through its points pulled tight, unless the points say that the crack
// surely does not follow that; then it is split where they say so most.
//
// Source: D. H. Douglas, T. K. Peucker, Algorithms for the reduction of the
// number of points required to represent a digitized line, 1973, with the way
// along the surface in place of the straight line and the tests of stray in
// place of a fixed tolerance.
func (t *trace) simplify(i, j int) {
	if j == i+1 {
		t.add(leg{t.raw[i], i, j})
		return
	}
	split := i + (j-i)/2
	if t.std > 0 { // exact points: every one of them counts
		if p, err := t.at.Surface.Through(t.raw[i:j]); err == nil {
			g := leg{p, i, j}
			off, at := t.stray(&g)
			if off <= 1 && t.inCorridor(&g) {
				t.add(g)
				return
			}
			if off > 1 {
				split = at
			}
		}
	}
	t.simplify(i, split)
	t.simplify(split, j)
}

// add adds a leg: the shortest way instead, so that the length does not hang on
// how the surface was cut into triangles, where that keeps to the corridor of
// the points too. A shorter way elsewhere, through a window that the points lead
// past, is not the crack.
func (t *trace) add(g leg) {
	if !g.Proven && len(g.Points) > 1 {
		if q, err := t.at.ShortestWay(t.sites[g.from], t.sites[g.to]); err == nil && q.LengthMM < g.LengthMM {
			other := leg{q, g.from, g.to}
			if off, _ := t.stray(&other); off <= 1 && t.inCorridor(&other) {
				g = other
			}
		}
	}
	t.legs = append(t.legs, g)
}

// residual is where a point lies beside a leg.
type residual struct {
	mm    float64 // from it, positive on one side
	share float64 // of the way to there, 0 to 1
}

// stray says how far the points between the ends of a leg are from it, as a
// share of what noise alone explains, and the point at which they show it most.
// With s the standard uncertainty of a point and q its share of the way, three
// tests are made, and the largest share counts:
//
//	|r| / (z s sqrt(1 + (1-q)^2 + q^2))              every point alone
//	|mean r| / (z s sqrt(1/m + (1-q)^2 + q^2))       every run of m points, m = 2, 4, 8 ...
//	sqrt(r' C^-1 r / (s^2 chi2))                     all together, C = I + a a' + b b', a = 1-q, b = q
//
// The terms in q are the noise of the two ends, at which the leg hangs. z comes
// from Bonferroni's bound over the points or runs.
//
// Source: propagation of uncertainty, JCGM 100:2008 5.1.2; C. E. Bonferroni,
// Teoria statistica delle classi e calcolo delle probabilita, 1936; that the
// inverse is I - W (I + W'W)^-1 W': M. A. Woodbury, Inverting modified matrices,
// 1950.
func (t *trace) stray(g *leg) (share float64, at int) {
	r := t.residuals(g)
	n := len(r)
	if n == 0 {
		return 0, g.from
	}
	worse := func(v float64, k int) {
		if v > share {
			share, at = v, g.from+1+k
		}
	}
	at = g.from + 1
	z := float64(normal.Quantile(1-testShare/float64(2*n)) * t.std)
	for k, x := range r {
		worse(math.Abs(x.mm)/(z*math.Sqrt(1+ends2(x.share))), k)
	}
	t.runsStray(r, worse)
	if n > 1 {
		if v := math.Sqrt(together(r)/geom.ChiSquareQuantile(testShare, n)) / t.std; v > max(1, share) {
			share = v // the point that was worst so far is as good as any
		}
	}
	return share, at
}

// ends2 is the variance that the ends of a leg have at a share of the way, for
// points of variance 1.
func ends2(q float64) float64 { return float64((1-q)*(1-q)) + float64(q*q) }

// runsStray tests runs of points; the point of a run nearest to its mean is
// where a split adds the least noise.
func (t *trace) runsStray(r []residual, worse func(float64, int)) {
	n := len(r)
	sum := []residual{{}} // of the points before each
	for k, x := range r {
		sum = append(sum, residual{sum[k].mm + x.mm, sum[k].share + x.share})
	}
	z := float64(normal.Quantile(1-testShare/float64(8*n)) * t.std) // of m points every m/2: at most 4 n runs
	for m := 2; m <= n; m *= 2 {
		for a := 0; a+m <= n; a += m / 2 {
			mean, q := (sum[a+m].mm-sum[a].mm)/float64(m), (sum[a+m].share-sum[a].share)/float64(m)
			best := a
			for k := a; k < a+m; k++ {
				if math.Abs(r[k].mm-mean) < math.Abs(r[best].mm-mean) {
					best = k
				}
			}
			worse(math.Abs(mean)/(z*math.Sqrt(1/float64(m)+ends2(q))), best)
		}
	}
}

// together is r' C^-1 r with C = I + a a' + b b'.
func together(r []residual) float64 {
	var rr, ra, rb, aa, ab, bb float64
	for _, x := range r {
		a, b := 1-x.share, x.share
		rr += float64(x.mm * x.mm)
		ra += float64(x.mm * a)
		rb += float64(x.mm * b)
		aa += float64(a * a)
		ab += float64(a * b)
		bb += float64(b * b)
	}
	det := float64((1+aa)*(1+bb)) - float64(ab*ab)
	return rr - (float64(ra*ra*(1+bb))-2*float64(ra*rb*ab)+float64(rb*rb*(1+aa)))/det
}

// residuals is where the points between the ends of a leg lie beside it. They
// have to come along it in their order: what goes back by more than noise counts
// as off by how far it goes back.
func (t *trace) residuals(g *leg) []residual {
	out := make([]residual, 0, g.to-g.from-1)
	along, back := 0.0, float64(4*t.std)
	for k := g.from + 1; k < g.to; k++ {
		mm, pos := t.beside(k, g, along-back)
		along = max(along, pos)
		out = append(out, residual{mm, pos / g.LengthMM})
	}
	return out
}

// beside is how far point k lies beside a leg, positive on its left, and where
// along it; not before the position from.
func (t *trace) beside(k int, g *leg, from float64) (mm, pos float64) {
	x := t.sites[k].At
	best, at := math.Inf(1), 0.0
	var foot geom.Vec
	seg := 0
	for i, start := 0, 0.0; i < len(g.Faces); i++ {
		p, q := g.Points[i], g.Points[i+1]
		l := p.Dist(q)
		if start+l >= from {
			if start < from && l > 0 {
				p = p.Lerp(q, (from-start)/l)
			}
			n := geom.NearestOnSegment(x, p, q)
			if d := x.Dist(n); d < best {
				best, foot, seg, at = d, n, i, start+g.Points[i].Dist(n)
			}
		}
		start += l
	}
	n := t.at.Surface.Mesh().FaceNormal(g.Faces[seg])
	ahead := lastDir(g.Points[:seg+2]) // a segment of the length of a rounding leads nowhere
	if ahead == (geom.Vec{}) {
		ahead = firstDir(g.Points[seg+1:])
	}
	left := n.Cross(ahead).Dot(x.Sub(foot))
	best = t.apart(t.sites[k], t.at.Surface.SiteAt(foot, g.Faces[seg]), best)
	if left < 0 {
		best = -best
	}
	return best, at
}

// turnedAway is the cosine between the normals of two places below which the
// way along the surface tells how far apart they are: near through space they
// may lie on the two sides of a wall. Our choice, no source.
const turnedAway = 0.5

// apart is how far two places are from each other that are straight mm apart.
func (t *trace) apart(a, b mesh.Site, straight float64) float64 {
	m := t.at.Surface.Mesh()
	if straight < tinyMM || m.FaceNormal(a.Face).Dot(m.FaceNormal(b.Face)) >= turnedAway {
		return straight
	}
	p, err := t.at.Way(a, b)
	if err != nil {
		return math.Inf(1)
	}
	return max(straight, p.LengthMM)
}

// corridorPart is how far a leg may bulge between two points of the trace, as a
// part of the way between them. Our choice, no source.
const corridorPart = 0.25

// inCorridor says that no place of a leg is farther from the way through all
// points than noise of one of them explains, and a part of the way between two.
func (t *trace) inCorridor(g *leg) bool {
	noise := float64(normal.Quantile(1-testShare/float64(2*max(1, g.to-g.from-1))) * t.std * math.Sqrt2)
	gap := 0.0
	for k := g.from; k < g.to; k++ {
		gap = max(gap, t.raw[k].LengthMM)
	}
	gate := noise + float64(corridorPart*gap)
	for i, f := range g.Faces {
		p, q := g.Points[i], g.Points[i+1]
		parts := math.Ceil(p.Dist(q) / max(gate/4, tinyMM))
		for k := 1.0; k <= parts; k++ {
			if !t.nearRaw(p.Lerp(q, k/parts), f, g, gate) {
				return false
			}
		}
	}
	return true
}

// nearRaw says that a place of a leg is within the gate of the way through the
// points.
func (t *trace) nearRaw(x geom.Vec, face int, g *leg, gate float64) bool {
	here := t.at.Surface.SiteAt(x, face)
	for k := g.from; k < g.to; k++ {
		for i, f := range t.raw[k].Faces {
			n := geom.NearestOnSegment(x, t.raw[k].Points[i], t.raw[k].Points[i+1])
			if d := x.Dist(n); d <= gate && t.apart(here, t.at.Surface.SiteAt(n, f), d) <= gate {
				return true
			}
		}
	}
	return false
}
