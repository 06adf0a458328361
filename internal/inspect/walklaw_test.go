package inspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// walker walks over a mesh, triangle by triangle: straight on, turning where it is told
// to. It knows nothing of the code under test.
type walker struct {
	m    *mesh.Mesh
	next [][3]int32 // the face beyond the edge from corner k to the next; -1 where there is none
	sum  []float64  // of the areas of the faces so far
}

func newWalker(m *mesh.Mesh) *walker {
	w := &walker{m: m, next: make([][3]int32, len(m.Faces))}
	side := map[[2]int32]int32{}
	for f, t := range m.Faces {
		for k := range 3 {
			side[[2]int32{t[k], t[(k+1)%3]}] = int32(f)
		}
	}
	area := 0.0
	for f, t := range m.Faces {
		for k := range 3 {
			w.next[f][k] = -1
			if g, ok := side[[2]int32{t[(k+1)%3], t[k]}]; ok {
				w.next[f][k] = g
			}
		}
		a := m.Points[t[0]]
		area += m.Points[t[1]].Sub(a).Cross(m.Points[t[2]].Sub(a)).Norm() / 2
		w.sum = append(w.sum, area)
	}
	return w
}

func (w *walker) normal(f int32) geom.Vec {
	t := w.m.Faces[f]
	a := w.m.Points[t[0]]
	return w.m.Points[t[1]].Sub(a).Cross(w.m.Points[t[2]].Sub(a)).Unit()
}

// stand is a place with the direction one looks in.
type stand struct {
	face   int32
	at     geom.Vec
	facing geom.Vec
}

// start is a place drawn by area, looking anywhere.
func (w *walker) start(r *rand.Rand) stand {
	f, _ := slices.BinarySearch(w.sum, r.Float64()*w.sum[len(w.sum)-1])
	f = min(f, len(w.sum)-1)
	u, v := r.Float64(), r.Float64()
	if u+v > 1 {
		u, v = 1-u, 1-v
	}
	t := w.m.Faces[f]
	a, b, c := w.m.Points[t[0]], w.m.Points[t[1]], w.m.Points[t[2]]
	s := stand{face: int32(f), at: a.Add(b.Sub(a).Scale(u)).Add(c.Sub(a).Scale(v)), facing: b.Sub(a).Unit()}
	return w.turned(s, 2*math.Pi*r.Float64())
}

func (w *walker) turned(s stand, angle float64) stand {
	sin, cos := math.Sincos(angle)
	s.facing = s.facing.Scale(cos).Add(w.normal(s.face).Cross(s.facing).Scale(sin)).Unit()
	return s
}

// ahead goes so far straight on, as one would with a ruler bent over the edges; the
// places passed are added to the line. False at an open edge or at a corner.
func (w *walker) ahead(s stand, far float64, line *[]geom.Vec) (stand, bool) {
	for range 2000 {
		t, n := w.m.Faces[s.face], w.normal(s.face)
		edge, best := -1, math.Inf(1)
		for k := range 3 {
			p, q := w.m.Points[t[k]], w.m.Points[t[(k+1)%3]]
			out := q.Sub(p).Cross(n).Unit()
			if v := s.facing.Dot(out); v > 1e-12 {
				if d := max(0, p.Sub(s.at).Dot(out)/v); d < best {
					edge, best = k, d
				}
			}
		}
		if edge < 0 {
			return s, false
		}
		if best >= far {
			s.at = s.at.Add(s.facing.Scale(far))
			*line = append(*line, s.at)
			return s, true
		}
		g := w.next[s.face][edge]
		if g < 0 {
			return s, false
		}
		s.at, far = s.at.Add(s.facing.Scale(best)), far-best
		along := w.m.Points[t[(edge+1)%3]].Sub(w.m.Points[t[edge]]).Unit()
		beyond := along.Cross(w.normal(g)) // into the next face
		s.facing = along.Scale(s.facing.Dot(along)).Add(beyond.Scale(s.facing.Dot(along.Cross(n)))).Unit()
		s.face = g
		*line = append(*line, s.at)
	}
	return s, false
}

// walkedCrack is a line on a mesh, and where it is clicked.
type walkedCrack struct {
	line  []geom.Vec
	sofar []float64 // length of the line up to each of its points
	every []stand   // every half millimetre
}

const crackStep = 0.5 // between two turns of a crack [mm]

// crack draws a crack of a kind; false where it would leave the mesh.
func (w *walker) crack(r *rand.Rand, from stand, kind string) (c walkedCrack, ok bool) {
	long := 20 + 70*r.Float64()
	wave, phase := 25+50*r.Float64(), 2*math.Pi*r.Float64()
	fold, turn := long*(0.3+0.4*r.Float64()), (0.5+1.3*r.Float64())*float64(1-2*r.IntN(2))
	arc := (r.Float64() - 0.5) / 15
	s, h := from, 0.0
	c.line, c.every = []geom.Vec{s.at}, []stand{s}
	for so := crackStep; so <= long; so += crackStep {
		to := 0.0
		switch kind {
		case "bent":
			to = arc * so
		case "wavy":
			to = 0.5*math.Sin(2*math.Pi*so/wave+phase) - 0.5*math.Sin(phase)
		case "folded":
			if so > fold {
				to = turn
			}
		}
		if s, ok = w.ahead(w.turned(s, to-h), crackStep, &c.line); !ok {
			return c, false
		}
		h = to
		c.every = append(c.every, s)
	}
	sum := 0.0
	for i, p := range c.line {
		if i > 0 {
			sum += p.Dist(c.line[i-1])
		}
		c.sofar = append(c.sofar, sum)
	}
	return c, true
}

// clicks is points about step mm apart along the crack, each moved over the surface by
// noise; false where the noise leaves it.
func (w *walker) clicks(r *rand.Rand, c walkedCrack, step, std float64) (out []geom.Vec, ok bool) {
	n := max(2, int(math.Round(crackStep*float64(len(c.every)-1)/step)))
	for k := range n + 1 {
		x, y := std*r.NormFloat64(), std*r.NormFloat64()
		var skip []geom.Vec
		s, ok := w.ahead(w.turned(c.every[(len(c.every)-1)*k/n], math.Atan2(y, x)), math.Hypot(x, y), &skip)
		if !ok {
			return nil, false
		}
		out = append(out, s.at)
	}
	return out, true
}

// walkLaw is the law of corridors on one public mesh.
type walkLaw struct {
	name   string
	w      *walker
	surf   *mesh.Surface
	border []mesh.Site // on the edges between labels: their ends and middles
	tally
	refused int
	fault   map[string]int
	worst   map[string]string
}

// found notes what is said to be farther than from one of the points.
func (l *walkLaw) found(what string, said, most float64, detail string) {
	if said > most+1e-6 {
		l.fault[what]++
		l.worst[what] = fmt.Sprintf("%s: said %.3f mm, the points show %.3f: %s", what, said, most, detail)
	}
}

// patchwork gives the faces of a mesh labels: two halves, and two patches in them.
func patchwork(m *mesh.Mesh, r *rand.Rand, w *walker) {
	m.Label = make([]int32, len(m.Faces))
	cut := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
	through := w.start(r).at
	spots := [2]geom.Vec{w.start(r).at, w.start(r).at}
	for f, t := range m.Faces {
		p := m.Points[t[0]].Add(m.Points[t[1]]).Add(m.Points[t[2]]).Scale(1. / 3)
		switch {
		case p.Dist(spots[0]) < 40:
			m.Label[f] = 3
		case p.Dist(spots[1]) < 30:
			m.Label[f] = 4
		case p.Sub(through).Dot(cut) < 0:
			m.Label[f] = 1
		default:
			m.Label[f] = 2
		}
	}
}

func newWalkLaw(name string, m *mesh.Mesh, w *walker, surf *mesh.Surface) *walkLaw {
	l := &walkLaw{name: name, w: w, surf: surf, fault: map[string]int{}, worst: map[string]string{}}
	for f := range m.Faces {
		for k := range 3 {
			if g := w.next[f][k]; g >= 0 && m.Label[g] != m.Label[f] {
				for _, part := range [3]float64{0, 0.5, 1} {
					var at [3]float64
					at[k], at[(k+1)%3] = part, 1-part
					l.border = append(l.border, surf.Site(f, at))
				}
			}
		}
	}
	return l
}

// fromSegment is how far a place is from a straight piece.
func fromSegment(p, a, b geom.Vec) float64 {
	d := b.Sub(a)
	if n := d.Dot(d); n > 0 {
		return p.Dist(a.Add(d.Scale(min(1, max(0, p.Sub(a).Dot(d)/n)))))
	}
	return p.Dist(a)
}

// furnish draws bores and section lines near a crack.
func (l *walkLaw) furnish(r *rand.Rand, b *bench, c walkedCrack) {
	cast := &b.body.Castings[0]
	cast.Bores, b.body.Lines = nil, nil
	for k := range 2 {
		s := c.every[r.IntN(len(c.every))]
		var skip []geom.Vec
		s, ok := l.w.ahead(l.w.turned(s, 2*math.Pi*r.Float64()), 6+30*r.Float64(), &skip)
		if !ok {
			continue
		}
		n := l.w.normal(s.face)
		lean := math.Tan(35 * math.Pi / 180 * r.Float64())
		axis := n.Add(s.facing.Scale(lean))
		cast.Bores = append(cast.Bores, body.Bore{ID: fmt.Sprint("H", k), At: s.at.Add(axis.Unit().Scale(2 * (r.Float64() - 0.5))), Radius: unit.MM(3 + 5*r.Float64()), Axis: axis})
	}
	for k := range 2 {
		n := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
		q := c.every[r.IntN(len(c.every))].at.Add(n.Unit().Scale(20 * r.Float64()))
		b.body.Lines = append(b.body.Lines, body.Line{ID: body.LineID(fmt.Sprint("L", k)), Casting: "C", Normal: n, Offset: unit.MM(n.Dot(q)), Margin: 5})
	}
}

// places are the points on the surface and, where the shortest ways between neighbours
// are proven, places along them.
func (l *walkLaw) places(clicks []geom.Vec) (out, between []mesh.Site) {
	for i, c := range clicks {
		site, _ := l.surf.Closest(c)
		if i > 0 {
			if p, err := l.surf.ShortestPath(out[i-1], site); err == nil && p.Proven {
				for k := 1; k < len(p.Points); k++ {
					on, _ := l.surf.Closest(p.Points[k-1].Lerp(p.Points[k], 0.5))
					between = append(between, on)
				}
			}
		}
		out = append(out, site)
	}
	return out, between
}

// away is the exact way along the surface from any of some sites to any of others, as far
// as it is followed; infinite beyond and where it is not proven.
func (l *walkLaw) away(from, to []mesh.Site) float64 {
	const far = 60
	near := func(all, some []mesh.Site) (out []mesh.Site) {
		for _, s := range all {
			if slices.ContainsFunc(some, func(o mesh.Site) bool { return o.At.Dist(s.At) < far }) {
				out = append(out, s)
			}
		}
		return out
	}
	if from = near(from, to); len(from) == 0 {
		return math.Inf(1)
	}
	d, err := l.surf.ExactDistances(from, to, far)
	if err != nil || !d.Proven {
		return math.Inf(1)
	}
	return slices.Min(d.Targets)
}

// check holds a finding against its crack and its points.
func (l *walkLaw) check(f Finding, c walkedCrack, clicks []geom.Vec, std float64, b *bench) {
	l.drawn++
	truth := c.sofar[len(c.sofar)-1]
	missing := (truth - f.Length.MM) / f.Length.Std
	l.tally.worst = max(l.tally.worst, missing)
	if missing > 1.645 {
		l.short++
	}
	sites, between := l.places(clicks)
	l.corridor(f, c, truth/float64(len(clicks)-1), std)
	in := map[int32]bool{}
	for _, z := range f.Zones {
		in[int32(z.Zone[0]-'A'+1)] = true
	}
	labels := map[int32]bool{}
	for _, s := range sites {
		k := l.w.m.Label[s.Face]
		if labels[k] = true; !in[k] {
			l.found("zone", 1, 0, fmt.Sprintf("label %d is not in %+v", k, f.Zones))
		}
	}
	border, beside := 0.0, 0.0 // from the points, and from the ways between
	if len(labels) == 1 {
		border, beside = l.away(l.border, sites), l.away(l.border, between)
	}
	if f.Border != nil && f.Border.To != None {
		l.found("border", f.Border.MM, min(border, beside+f.Border.Std), fmt.Sprintf("%+v", *f.Border))
	} else if !math.IsInf(border, 1) {
		l.found("border", math.Inf(1), border, "none is said")
	}
	for k, s := range f.Sides {
		line, margin := b.body.Lines[k], math.Inf(1)
		for _, p := range append(sites, between...) {
			margin = min(margin, (float64(line.Offset)-line.Normal.Dot(p.At))/line.Normal.Norm())
		}
		if s.Reaches {
			l.found("margin", s.MarginMM, margin, fmt.Sprintf("%+v", line))
		}
		if s.Outboard {
			l.found("outboard", s.NeedMM, margin, fmt.Sprintf("%+v", line))
		}
	}
	l.bores(f, sites, between, b.body.Castings[0].Bores)
}

// corridor looks for places of the way that are too far from the crack and from every
// pair of neighbouring points: a way between two points no longer than the crack there
// stays in the ellipsoid of which they are the foci.
func (l *walkLaw) corridor(f Finding, c walkedCrack, gap, std float64) {
	gate := 5*std + 0.25*gap + 1
	for i := 1; i < len(f.Path); i++ {
		for k := 0.25; k <= 1; k += 0.25 {
			p := f.Path[i-1].Lerp(f.Path[i], k)
			near := math.Inf(1)
			for j := 1; j < len(c.line) && near > gate; j++ {
				near = min(near, fromSegment(p, c.line[j-1], c.line[j]))
			}
			if near > gate {
				l.left++
				l.detail = fmt.Sprintf("%v of the way is %.1f mm off the crack, clicked every %.1f mm, std %.1f", p, near, gap, std)
				return
			}
		}
	}
}

// bores holds the clearance of each bore against the exact way along the surface from the
// points to where it meets the surface.
func (l *walkLaw) bores(f Finding, sites, between []mesh.Site, bores []body.Bore) {
	if f.Bore == nil {
		return
	}
	for _, b := range bores {
		var rim []mesh.Site
		at, _ := l.surf.Closest(b.At)
		n := b.Axis.Unit()
		u := n.Cross(geom.Vec{1, 0.3, 0.1}).Unit()
		for k := range 24 { // along the surface, out to the wall of the bore
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / 24)
			s := stand{face: int32(at.Face), at: at.At}
			m := l.w.normal(s.face)
			d := u.Scale(cos).Add(n.Cross(u).Scale(sin))
			s.facing = d.Sub(m.Scale(d.Dot(m))).Unit()
			var line []geom.Vec
			for ok := true; ok && len(line) < 400; {
				if s, ok = l.w.ahead(s, 0.25, &line); !ok {
					break
				}
				x := s.at.Sub(b.At)
				if e := x.Sub(n.Scale(x.Dot(n))).Norm(); e > float64(b.Radius)-0.26 && e <= float64(b.Radius) && math.Abs(x.Dot(n)) < boreWalls*5 {
					site, _ := l.surf.Closest(s.at)
					rim = append(rim, site)
					break
				}
			}
		}
		if len(rim) == 0 {
			continue
		}
		way := min(l.away(rim, sites), l.away(rim, between)+f.Bore.Std)
		for _, e := range f.Bore.Of {
			if e.To == b.ID && e.end < 0 {
				l.found("bore", e.MM, way, fmt.Sprintf("%+v", b))
			}
		}
	}
}

// lawOn draws cracks of every kind on a mesh and holds each against the law.
func lawOn(t *testing.T, m *mesh.Mesh, name string, i uint64, each int) *walkLaw {
	w := newWalker(m)
	patchwork(m, rand.New(rand.NewPCG(14, i)), w)
	b := newBench(m)
	b.body.Castings[0].MeshStd = 0
	b.body.Castings[0].Zones = append(b.body.Castings[0].Zones, body.Zone{ID: "C", Label: 3}, body.Zone{ID: "D", Label: 4})
	b.body.Procedures[0].Rows = []body.Row{{ID: "1", When: map[string]string{"bore_clearance": ">= 6 mm", "border_clearance": ">= 5 mm"}},
		{ID: "2", When: map[string]string{"bore_clearance": ">= 15 mm", "border_clearance": ">= 12 mm"}}}
	in := b.input(t)
	l := newWalkLaw(name, m, w, in.Vehicle.Surface("C"))
	for j, kind := range []string{"straight", "bent", "wavy", "folded", "forked"} {
		r := rand.New(rand.NewPCG(uint64(j), i))
		l.kind(t, r, b, in, kind, each)
	}
	n := float64(l.drawn)
	t.Logf("%d cracks, %d not measured: bound too short in %.1f %%, at worst %.1f standard uncertainties missing; %d leave the corridor",
		l.drawn, l.refused, 100*float64(l.short)/n, l.tally.worst, l.left)
	for what, n := range l.fault {
		t.Errorf("%s is said to be milder than the points show in %d: %s", what, n, l.worst[what])
	}
	if l.left > 0 || float64(l.short) > 0.08*n+3*math.Sqrt(0.08*0.92*n) {
		t.Errorf("%d of %d too short, %d leave the corridor: %s", l.short, l.drawn, l.left, l.detail)
	}
	return l
}

// kind draws cracks of one kind and holds each finding against its crack.
func (l *walkLaw) kind(t *testing.T, r *rand.Rand, b *bench, in Input, kind string, each int) {
	for done := 0; done < each; {
		std, step := []float64{0.3, 0.6, 1}[r.IntN(3)], []float64{2, 5, 10, 15, 20}[r.IntN(5)]
		c, ok := l.w.crack(r, l.w.start(r), kind)
		if !ok {
			continue
		}
		cracks := []walkedCrack{c}
		if kind == "forked" {
			branch, ok := l.w.crack(r, l.w.turned(c.every[len(c.every)/2], 1+r.Float64()), "bent")
			if !ok {
				continue
			}
			cracks = append(cracks, branch)
		}
		l.furnish(r, b, c)
		b.job.Findings = nil
		var clicks [2][]geom.Vec
		for k, c := range cracks {
			if clicks[k], ok = l.w.clicks(r, c, step, std); !ok {
				break
			}
			b.crack([]job.FindingID{"F", "G"}[k], std, clicks[k]...)
		}
		if !ok {
			continue
		}
		res, _ := Run(in)
		done++
		for k, c := range cracks {
			f := find(t, res, []job.FindingID{"F", "G"}[k])
			if f.Length == nil {
				l.refused++
				continue
			}
			l.check(f, c, clicks[k], std, b)
		}
	}
}
