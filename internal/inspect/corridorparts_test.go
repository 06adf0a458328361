package inspect

import (
	"fmt"
	"math"
	"math/rand/v2"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// parts is what stands round a crack on a layout: bores, section lines and patches of
// other zones, and how far all of it is from a place of the layout, found without the
// code under test.
type parts struct {
	l     *layout
	surf  *mesh.Surface
	bores []body.Bore
	rims  [][][2]float64 // of each bore, in the layout
	lines []body.Line
	frame [4]float64     // of the line along a curve: x and y, from and to
	other [][2]float64   // places of the layout, every 2 mm
	label map[int]int32  // of each of these
	slack float64        // of the flats of the mesh [mm]
	fault map[string]int // what was found too mild
	worst map[string]string
}

// patch labels the faces of a layout's mesh round some middles 3 and 4, beside the two
// halves that are there.
func (l *layout) patch() {
	for f, t := range l.m.Faces {
		p := l.m.Points[t[0]].Add(l.m.Points[t[1]]).Add(l.m.Points[t[2]]).Scale(1. / 3)
		x, y, ok := l.back(p)
		switch {
		case !ok:
		case math.Hypot(x-26, y-40) < 9:
			l.m.Label[f] = 3
		case math.Abs(x-60)+math.Abs(y-72) < 11:
			l.m.Label[f] = 4
		}
	}
}

func newParts(l *layout, surf *mesh.Surface) *parts {
	p := &parts{l: l, surf: surf, label: map[int]int32{}, slack: 1e-6, fault: map[string]int{}, worst: map[string]string{}}
	if !l.exact {
		p.slack = 0.15
	}
	for x := l.lo[0]; x <= l.hi[0]; x += 2 {
		for y := l.lo[1]; y <= l.hi[1]; y += 2 {
			if !l.blocked(x, y) {
				site, _ := surf.Closest(l.at(x, y))
				p.label[len(p.other)] = l.m.Label[site.Face]
				p.other = append(p.other, [2]float64{x, y})
			}
		}
	}
	return p
}

// furnish draws bores, slanted up to 35 degrees or without an axis, and section lines.
func (p *parts) furnish(r *rand.Rand, b *bench) {
	l := p.l
	c := &b.body.Castings[0]
	c.Bores, p.rims, b.body.Lines = nil, nil, nil
	for k := range 3 {
		x, y := l.lo[0]+(l.hi[0]-l.lo[0])*r.Float64(), l.lo[1]+(l.hi[1]-l.lo[1])*r.Float64()
		at := l.at(x, y)
		right, up := l.at(x+0.01, y).Sub(at).Unit(), l.at(x, y+0.01).Sub(at).Unit()
		n := right.Cross(up).Unit()
		lean := math.Tan(35 * math.Pi / 180 * r.Float64())
		turn := 2 * math.Pi * r.Float64()
		axis := n.Add(right.Scale(lean * math.Cos(turn))).Add(n.Cross(right).Scale(lean * math.Sin(turn)))
		bore := body.Bore{ID: fmt.Sprint("H", k), Radius: unit.MM(3 + 7*r.Float64()), Axis: axis.Scale(2)}
		deep := 4 * (r.Float64() - 0.5)
		if r.IntN(3) == 0 { // stands square to the surface, and nobody says so
			axis, bore.Axis = n, geom.Vec{}
		}
		bore.At = at.Add(axis.Unit().Scale(deep))
		rim := p.rim(bore, axis.Unit(), x, y)
		if rim == nil {
			continue
		}
		c.Bores, p.rims = append(c.Bores, bore), append(p.rims, rim)
	}
	p.bores = c.Bores
	for k := range 2 {
		n := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
		q := l.at(l.lo[0]+(l.hi[0]-l.lo[0])*r.Float64(), l.lo[1]+(l.hi[1]-l.lo[1])*r.Float64())
		b.body.Lines = append(b.body.Lines, body.Line{ID: body.LineID(fmt.Sprint("L", k)), Casting: "C", Normal: n, Offset: unit.MM(n.Dot(q)), Margin: 5})
	}
	if l.exact { // a frame on the front
		x, y := 30+40*r.Float64(), 20+20*r.Float64()
		w, h := 8+20*r.Float64(), 8+10*r.Float64()
		p.frame = [4]float64{max(4, x-w), min(96, x+w), max(4, y-h), min(56, y+h)}
		f := p.frame
		curve := []geom.Vec{l.at(f[0], f[2]), l.at(f[1], f[2]), l.at(f[1], f[3]), l.at(f[0], f[3])}
		clear := true // of the window
		for k := 0.0; k <= 1; k += 0.05 {
			u, v := f[0]+(f[1]-f[0])*k, f[2]+(f[3]-f[2])*k
			clear = clear && !l.blocked(u, f[2]) && !l.blocked(u, f[3]) && !l.blocked(f[0], v) && !l.blocked(f[1], v)
		}
		if !clear {
			p.lines = b.body.Lines
			return
		}
		b.body.Lines = append(b.body.Lines, body.Line{ID: "curve", Casting: "C", Curve: curve, TakenOff: l.at(f[0]+0.5, f[2]+0.5), Margin: 5})
	}
	p.lines = b.body.Lines
}

// rim is where the wall of a bore meets the surface round its middle, in the layout;
// nil where it does not close there.
func (p *parts) rim(b body.Bore, axis geom.Vec, x, y float64) [][2]float64 {
	away := func(rho, cos, sin float64) float64 {
		d := p.l.at(x+rho*cos, y+rho*sin).Sub(b.At)
		return d.Sub(axis.Scale(d.Dot(axis))).Norm() - float64(b.Radius)
	}
	var out [][2]float64
	for k := range 72 {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / 72)
		rho := 0.0
		for ; away(rho, cos, sin) < 0; rho += 0.5 {
			if rho > 4*float64(b.Radius) {
				return nil
			}
		}
		lo, hi := max(0, rho-0.5), rho
		for range 40 {
			if m := (lo + hi) / 2; away(m, cos, sin) < 0 {
				lo = m
			} else {
				hi = m
			}
		}
		qx, qy := x+hi*cos, y+hi*sin
		most := boreWalls * 5.0 // the casting's wall
		if b.Axis == (geom.Vec{}) {
			most = 5
		}
		if d := p.l.at(qx, qy).Sub(b.At); math.Abs(d.Dot(axis)) > most { // not as the data mean it
			return nil
		}
		if qx < p.l.lo[0] || qx > p.l.hi[0] || qy < p.l.lo[1] || qy > p.l.hi[1] || p.l.blocked(qx, qy) {
			return nil
		}
		out = append(out, [2]float64{qx, qy})
	}
	return out
}

// way is the length of the line of the surface that is straight in the layout: no
// shortest way is longer. Infinite where it leaves the surface.
func (p *parts) way(a, b [2]float64) float64 {
	n := 1 + int(math.Hypot(a[0]-b[0], a[1]-b[1]))
	sum := 0.0
	for k := range n {
		s, e := float64(k)/float64(n), float64(k+1)/float64(n)
		ax, ay, bx, by := a[0]+(b[0]-a[0])*s, a[1]+(b[1]-a[1])*s, a[0]+(b[0]-a[0])*e, a[1]+(b[1]-a[1])*e
		if p.l.blocked(ax, ay) || p.l.blocked(bx, by) {
			return math.Inf(1)
		}
		if p.l.exact {
			sum += math.Hypot(ax-bx, ay-by)
		} else {
			sum += p.l.at(ax, ay).Dist(p.l.at(bx, by))
		}
	}
	return sum
}

// nearest is the shortest such way from any of some places to any of others.
func (p *parts) nearest(from, to [][2]float64) float64 {
	best := math.Inf(1)
	for _, a := range from {
		for _, b := range to {
			if math.Hypot(a[0]-b[0], a[1]-b[1]) < best && p.l.at(a[0], a[1]).Dist(p.l.at(b[0], b[1])) < best {
				best = min(best, p.way(a, b))
			}
		}
	}
	return best
}

func (p *parts) found(what string, said, most float64, detail string) {
	if said > most+p.slack {
		p.fault[what]++
		p.worst[what] = fmt.Sprintf("%s: said %.3f mm, the points show %.3f: %s", what, said, most, detail)
	}
}

// check holds what a finding says of its surroundings against its points: nothing may
// be farther from it than from one of them.
func (p *parts) check(f Finding, clicks []geom.Vec) {
	var at [][2]float64
	labels := map[int32]bool{}
	for _, c := range clicks {
		site, _ := p.surf.Closest(c)
		x, y, ok := p.l.back(site.At)
		if !ok {
			return // on the end of the wall
		}
		at = append(at, [2]float64{x, y})
		labels[p.l.m.Label[site.Face]] = true
	}
	if p.l.exact { // what lies between two points is on the straight way in the layout
		for i := len(at) - 1; i > 0; i-- {
			if math.IsInf(p.way(at[i], at[i-1]), 1) {
				continue // it leads round the window
			}
			for _, k := range []float64{0.25, 0.5, 0.75} {
				at = append(at, [2]float64{at[i][0] + (at[i-1][0]-at[i][0])*k, at[i][1] + (at[i-1][1]-at[i][1])*k})
			}
		}
	}
	least := math.Inf(1)
	for k, b := range p.bores {
		d := p.nearest(at, p.rims[k])
		for _, a := range at {
			if inside(p.rims[k], a) {
				d = 0
			}
		}
		least = min(least, d)
		for _, e := range f.Bore.Of {
			if e.To == b.ID && e.end < 0 {
				p.found("bore", e.MM, d, fmt.Sprintf("%+v", b))
			}
		}
	}
	if f.Bore != nil {
		p.found("nearest bore", f.Bore.MM, least, fmt.Sprintf("%+v of %+v", *f.Bore, p.bores))
	}
	for k, s := range f.Sides {
		if !s.Reaches {
			continue
		}
		margin := math.Inf(1)
		for _, a := range at {
			margin = min(margin, p.margin(p.lines[k], a))
		}
		if p.lines[k].Curve != nil {
			margin = max(0, margin) // inboard is told through space, and permits nothing
		}
		p.found("margin", s.MarginMM, margin, fmt.Sprintf("%+v", p.lines[k]))
		if s.Outboard {
			p.found("outboard", s.NeedMM, margin, fmt.Sprintf("%+v", p.lines[k]))
		}
	}
	in := map[int32]bool{}
	for _, z := range f.Zones {
		in[int32(z.Zone[0]-'A'+1)] = true
	}
	for l := range labels {
		if !in[l] {
			p.found("zone", 1, 0, fmt.Sprintf("label %d is not in %+v", l, f.Zones))
		}
	}
	var beyond [][2]float64
	for k, q := range p.other {
		if !labels[p.label[k]] {
			beyond = append(beyond, q)
		}
	}
	border := p.nearest(at, beyond)
	if len(labels) > 1 {
		border = 0
	}
	p.found("border", f.Border.MM, border, fmt.Sprintf("%+v", *f.Border))
}

// margin is how far a place lies on the side of a line that is taken off.
func (p *parts) margin(l body.Line, a [2]float64) float64 {
	if l.Curve == nil {
		return (float64(l.Offset) - l.Normal.Dot(p.l.at(a[0], a[1]))) / l.Normal.Norm()
	}
	f := p.frame
	return min(a[0]-f[0], f[1]-a[0], a[1]-f[2], f[3]-a[1])
}

// inside says that a place lies in a closed line.
func inside(line [][2]float64, a [2]float64) bool {
	in := false
	for i, p := range line {
		q := line[(i+1)%len(line)]
		if (p[1] > a[1]) != (q[1] > a[1]) && a[0] < p[0]+(q[0]-p[0])*(a[1]-p[1])/(q[1]-p[1]) {
			in = !in
		}
	}
	return in
}
