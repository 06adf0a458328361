package report

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// standardViews are the six directions a casting is looked at from; the front
// of the vehicle is to the left in plan, as in the drawing of the points.
func standardViews(f frame) []camera {
	back := func(v geom.Vec) geom.Vec { return v.Scale(-1) }
	return []camera{
		{name: "from above, front to the left", right: f.rear, up: f.right, toward: f.up},
		{name: "from the left side, front to the left", right: f.rear, up: f.up, toward: back(f.right)},
		{name: "from the front", right: back(f.right), up: f.up, toward: back(f.rear)},
		{name: "from the right side, front to the right", right: back(f.rear), up: f.up, toward: f.right},
		{name: "from behind", right: f.right, up: f.up, toward: f.rear},
		{name: "from below, front to the left", right: f.rear, up: back(f.right), toward: back(f.up)},
	}
}

// mark is a finding to be drawn on a casting.
type mark struct {
	id     string
	path   []geom.Vec
	normal geom.Vec // of the surface at the middle of the path
	both   bool     // it is on both sides of the wall, or nobody knows on which
}

// facing is how squarely a mark's surface is seen in a view, from 0 to 1: from behind
// the wall it is not.
func (m mark) facing(c camera) float64 {
	d := m.normal.Dot(c.toward)
	if m.both {
		d = abs(d)
	}
	return max(0, d)
}

// samples are points along a path, at most stepMM apart, ends included.
func samples(path []geom.Vec, stepMM float64) []geom.Vec {
	if len(path) == 0 {
		return nil
	}
	out := []geom.Vec{path[0]}
	for i := 1; i < len(path); i++ {
		n := max(int(math.Ceil(path[i-1].Dist(path[i])/stepMM)), 1)
		for k := 1; k <= n; k++ {
			out = append(out, path[i-1].Lerp(path[i], float64(k)/float64(n)))
		}
	}
	return out
}

// surfaceSlackMM is how far a point of a trace may lie behind the drawn
// surface and still count as seen.
const surfaceSlackMM = 4

// visibleShare is how much of a path is seen in a view, from 0 to 1.
func visibleShare(dm *depthMap, path []geom.Vec) float64 {
	pts := samples(path, 2)
	if len(pts) == 0 {
		return 0
	}
	n := 0
	for _, p := range pts {
		if dm.seen(p, surfaceSlackMM) {
			n++
		}
	}
	return float64(n) / float64(len(pts))
}

// chosenView is a view with the findings it is the best one for.
type chosenView struct {
	camera
	best map[string]bool
}

// chooseViews takes the views that show the most of all findings, at most
// three and at least two: each time the one that adds most. Ties go to the
// earlier of the standard views.
func (a *Album) chooseViews(m *mesh.Mesh, f frame, marks []mark) []chosenView {
	all := standardViews(f)
	share := make([][]float64, len(all))
	for i := range all {
		all[i] = all[i].around(m.Points, 10, 420, 420)
		if len(marks) == 0 {
			continue // all views show as much
		}
		dm := a.seen(m, all[i])
		for _, k := range marks {
			share[i] = append(share[i], visibleShare(dm, k.path)*k.facing(all[i]))
		}
	}
	best := make([]float64, len(marks))
	from := make([]int, len(marks))
	var picked []int
	for len(picked) < 3 {
		v, gain := nextView(share, best, picked)
		if v < 0 || (len(picked) >= 2 && gain < 0.25) {
			break
		}
		for k := range marks {
			if share[v][k] > best[k]+0.15 || len(picked) == 0 {
				best[k], from[k] = share[v][k], v
			}
		}
		picked = append(picked, v)
	}
	return inOrder(all, picked, marks, from)
}

// nextView is the view that adds most to what is seen already.
func nextView(share [][]float64, best []float64, picked []int) (view int, gain float64) {
	view, gain = -1, -1
	for v := range share {
		if contains(picked, v) {
			continue
		}
		g := 0.0
		for k := range best {
			g += max(share[v][k]-best[k], 0)
		}
		if g > gain+1e-9 {
			view, gain = v, g
		}
	}
	return view, gain
}

func contains(xs []int, v int) bool {
	for _, x := range xs {
		if x == v {
			return true
		}
	}
	return false
}

func inOrder(all []camera, picked []int, marks []mark, from []int) []chosenView {
	var out []chosenView
	for v := range all {
		if !contains(picked, v) {
			continue
		}
		c := chosenView{camera: all[v], best: map[string]bool{}}
		for k, m := range marks {
			if from[k] == v {
				c.best[m.id] = true
			}
		}
		out = append(out, c)
	}
	return out
}

// closeUpCamera looks along the surface normal at the middle of a trace, with
// the vehicle's up direction up in the picture where that is possible.
func closeUpCamera(f frame, m mark, w, h int) camera {
	path, toward := m.path, m.normal
	if toward.Norm() == 0 {
		toward = f.up
	}
	up := f.up
	if abs(toward.Dot(up)) > 0.85 {
		up = f.right
	}
	up = up.Sub(toward.Scale(up.Dot(toward))).Unit()
	c := camera{name: "close up", up: up, toward: toward, right: up.Cross(toward)}
	ext := extent(path)
	margin := max(ext*0.55, 35)
	c = c.around(path, margin, w, h)
	// around may be wider than high or the other way: show the whole picture
	c.top += (float64(h)/c.scale - float64(c.h)/c.scale) / 2
	c.h = h
	near := math.Inf(-1)
	for _, p := range path {
		near = max(near, p.Dot(c.toward))
	}
	c.clip = near + closeUpClipMM
	return c
}

// closeUpClipMM is how much of what stands in front of a finding is kept in a
// close-up; the rest is cut away so that the finding is seen.
const closeUpClipMM = 12

// middle is the point half way along a path.
func middle(path []geom.Vec) geom.Vec {
	if len(path) == 1 {
		return path[0]
	}
	total := 0.0
	for i := 1; i < len(path); i++ {
		total += path[i-1].Dist(path[i])
	}
	left := total / 2
	for i := 1; i < len(path); i++ {
		if d := path[i-1].Dist(path[i]); d > 0 && left <= d {
			return path[i-1].Lerp(path[i], left/d)
		} else {
			left -= d
		}
	}
	return path[len(path)-1]
}

// extent is the largest distance of two points of a path.
func extent(path []geom.Vec) float64 {
	e := 0.0
	for i := range path {
		for j := i + 1; j < len(path); j++ {
			e = max(e, path[i].Dist(path[j]))
		}
	}
	return e
}
