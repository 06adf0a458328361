package vehicle

import (
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// Target is something a finding is held away from.
type Target struct {
	Name  string
	Bound func(best float64, p, q geom.Vec) float64 // lower bound on the distance of a segment from it [mm]
	Lines func() [][]mesh.Site                      // it on the surface; asked for only when the bounds do not decide
	Std   float64                                   // standard uncertainty of where it lies, beside the mesh [mm]

	bytes int // that its lines and its bound take
}

// lineStepMM is how densely a line given in vehicle axes is put on the surface.
const lineStepMM = 4.0

// onSurface puts a line on the surface, on both sides of the wall: nobody says
// on which face a joint or an earlier weld was drawn. Where the surface does
// not lead on from point to point the line is broken. Points that are not near
// the surface are left out; all is false when there are any.
func (c *Casting) onSurface(line []geom.Vec, gateMM float64) (out [][]mesh.Site, all bool) {
	dense := denser(line, lineStepMM)
	all = true
	var front, back []mesh.Site
	for _, q := range dense {
		site, d := c.Surface.Closest(q)
		if d > gateMM {
			all = false
			continue
		}
		front = append(front, site)
		n := c.Surface.Mesh().FaceNormal(site.Face)
		if o, _, ok := c.Surface.ClosestFacing(q, geom.Vec{}.Sub(n), OppositeRad, gateMM+float64(1.5*float64(c.Of.Wall))); ok {
			back = append(back, o)
		}
	}
	return append(c.broken(front), c.broken(back)...), all
}

// broken cuts a chain of sites where the next is not near along the surface.
func (c *Casting) broken(chain []mesh.Site) [][]mesh.Site {
	var out [][]mesh.Site
	for i, s := range chain {
		if i > 0 && chain[i-1].At.Dist(s.At) <= 2*lineStepMM {
			if w, err := c.Way(chain[i-1], s); err == nil && w.LengthMM <= float64(JumpTimes*w.ChordMM)+1 {
				out[len(out)-1] = append(out[len(out)-1], s)
				continue
			}
		}
		out = append(out, []mesh.Site{s})
	}
	return out
}

// denser adds points so that none is farther from the next than stepMM.
func denser(line []geom.Vec, stepMM float64) []geom.Vec {
	var out []geom.Vec
	for i, p := range line {
		if i > 0 {
			n := int(math.Ceil(line[i-1].Dist(p) / stepMM))
			for k := 1; k < n; k++ {
				out = append(out, line[i-1].Lerp(p, float64(k)/float64(n)))
			}
		}
		out = append(out, p)
	}
	return out
}

// fixed makes a target of lines that lie on the surface.
func fixed(name string, lines [][]mesh.Site, std float64) Target {
	at := make([][]geom.Vec, len(lines))
	for i, l := range lines {
		for _, site := range l {
			at[i] = append(at[i], site.At)
		}
	}
	bound := geom.NewLines(at)
	return Target{Name: name, Std: std, Lines: func() [][]mesh.Site { return lines }, Bound: bound.Nearer, bytes: sitesBytes(lines) + bound.Bytes()}
}

// What is laid on a surface, and a trace, may be so far from it at least; a way along
// it from point to point that is more than so many times as long as straight is a jump;
// and the other side of a wall faces away from this one to within so much. Our choice,
// common practice, no source.
const (
	LeastGateMM = 5.0
	JumpTimes   = 3.0
	OppositeRad = 75 * math.Pi / 180
)

// LineGateMM is how far a point of a joint or an edge may be off the surface of
// its casting.
func LineGateMM(c body.Casting) float64 { return max(LeastGateMM, float64(c.Wall)) }

// Lay makes targets of lines of the body or the job, and names those
// whose place is not known.
func (c *Casting) Lay(names []string, lines [][][]geom.Vec, stds []float64) *Fixtures {
	out := &Fixtures{}
	for i, name := range names {
		if len(lines[i]) == 0 {
			out.Missing = append(out.Missing, name+" (its place is not in the data)")
			continue
		}
		var on [][]mesh.Site
		all := true
		for _, l := range lines[i] {
			sites, whole := c.onSurface(l, LineGateMM(*c.Of))
			on, all = append(on, sites...), all && whole
		}
		if !all || len(on) == 0 {
			out.Missing = append(out.Missing, name+" (its line does not lie on the casting)")
			continue
		}
		out.Targets = append(out.Targets, fixed(name, on, stds[i]))
	}
	return out
}

// chains joins segments that share ends to polylines.
func chains(segments [][2]geom.Vec) [][]geom.Vec {
	used := make([]bool, len(segments))
	ends := map[geom.Vec][]int{}
	for i, s := range segments {
		ends[s[0]] = append(ends[s[0]], i)
		ends[s[1]] = append(ends[s[1]], i)
	}
	next := func(at geom.Vec) (geom.Vec, bool) {
		for _, i := range ends[at] {
			if used[i] {
				continue
			}
			used[i] = true
			if segments[i][0] == at {
				return segments[i][1], true
			}
			return segments[i][0], true
		}
		return at, false
	}
	var out [][]geom.Vec
	for i, s := range segments {
		if used[i] {
			continue
		}
		used[i] = true
		line := []geom.Vec{s[0], s[1]}
		for range 2 { // on from one end, then from the other
			for {
				p, ok := next(line[len(line)-1])
				if !ok {
					break
				}
				line = append(line, p)
			}
			slices.Reverse(line)
		}
		out = append(out, line)
	}
	return out
}

// freeEdges is the edges of a mesh that one face has.
func (c *Casting) freeEdges() [][2]geom.Vec {
	m := c.Surface.Mesh()
	of, n := c.numbered()
	count := make([]int32, n)
	for _, e := range of {
		count[e]++
	}
	var out [][2]geom.Vec
	for f, t := range m.Faces {
		for k := range 3 {
			if count[of[3*f+k]] == 1 {
				out = append(out, [2]geom.Vec{m.Points[t[k]], m.Points[t[(k+1)%3]]})
			}
		}
	}
	return out
}
