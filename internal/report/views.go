package report

import (
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/picture"
	"fettle/internal/vehicle"
)

// standardViews are the six directions a casting is looked at from; the front
// of the vehicle is to the left in plan, as in the drawing of the points.
func standardViews(f frame) []picture.Camera {
	back := func(v geom.Vec) geom.Vec { return v.Scale(-1) }
	return []picture.Camera{
		{Name: "from above, front to the left", Right: f.rear, Up: f.right, Toward: f.up},
		{Name: "from the left side, front to the left", Right: f.rear, Up: f.up, Toward: back(f.right)},
		{Name: "from the front", Right: back(f.right), Up: f.up, Toward: back(f.rear)},
		{Name: "from the right side, front to the right", Right: back(f.rear), Up: f.up, Toward: f.right},
		{Name: "from behind", Right: f.right, Up: f.up, Toward: f.rear},
		{Name: "from below, front to the left", Right: f.rear, Up: back(f.right), Toward: back(f.up)},
	}
}

// sightsOf is what is seen of a mesh from each side; solid is that of its surface.
func sightsOf(a *vehicle.Album, m *mesh.Mesh, solid bool, views []picture.Camera) []sight {
	var out []sight
	for _, v := range views {
		c := v.Around(m.Points, 10, 420, 420)
		c.Solid = solid
		out = append(out, sight{c, a.Seen(m, c)})
	}
	return out
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
func (m mark) facing(c picture.Camera) float64 {
	d := m.normal.Dot(c.Toward)
	if m.both {
		d = math.Abs(d)
	}
	return max(0, d)
}

// surfaceSlackMM is how far a point of a trace may lie behind the drawn
// surface and still count as seen.
const surfaceSlackMM = 4

// chosenView is a view with the findings it is the best one for.
type chosenView struct {
	picture.Camera
	best map[string]bool
}

// chooseViews takes the views that show the most of all findings, at most
// three and at least two: each time the one that adds most. Ties go to the
// earlier of the standard views.
func chooseViews(a *vehicle.Album, m *mesh.Mesh, solid bool, f frame, marks []mark) []chosenView {
	all := standardViews(f)
	share := make([][]float64, len(all))
	for i := range all {
		all[i] = all[i].Around(m.Points, 10, 420, 420)
		if len(marks) == 0 {
			continue // all views show as much
		}
		c := all[i]
		c.Solid = solid
		dm := a.Seen(m, c)
		for _, k := range marks {
			share[i] = append(share[i], dm.Share(k.path, surfaceSlackMM)*k.facing(all[i]))
		}
	}
	picked, from := pickViews(share, len(marks))
	return inOrder(all, picked, marks, from)
}

// pickViews is the views that are taken, and for each of so many marks the one that it is
// drawn best in; share is how much of each mark each view shows.
func pickViews(share [][]float64, marks int) (picked, from []int) {
	best := make([]float64, marks)
	from = make([]int, marks)
	for len(picked) < 3 {
		v, gain := nextView(share, best, picked)
		if len(picked) >= 2 && gain < 0.25 {
			break
		}
		for k := range marks {
			if share[v][k] > best[k]+0.15 || len(picked) == 0 {
				best[k], from[k] = share[v][k], v
			}
		}
		picked = append(picked, v)
	}
	return picked, from
}

// nextView is the view that adds most to what is seen already.
func nextView(share [][]float64, best []float64, picked []int) (view int, gain float64) {
	view, gain = -1, -1
	for v := range share {
		if slices.Contains(picked, v) {
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

func inOrder(all []picture.Camera, picked []int, marks []mark, from []int) []chosenView {
	var out []chosenView
	for v := range all {
		if !slices.Contains(picked, v) {
			continue
		}
		c := chosenView{Camera: all[v], best: map[string]bool{}}
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
func closeUpCamera(f frame, m mark, w, h int) picture.Camera {
	path, toward := m.path, m.normal
	if toward.Norm() == 0 {
		toward = f.up
	}
	up := f.up
	if math.Abs(toward.Dot(up)) > 0.85 {
		up = f.right
	}
	up = up.Sub(toward.Scale(up.Dot(toward))).Unit()
	c := picture.Camera{Name: "close up", Up: up, Toward: toward, Right: up.Cross(toward)}
	ext := picture.Extent(path)
	margin := max(ext*0.55, 35)
	c = c.Around(path, margin, w, h)
	// around may be wider than high or the other way: show the whole picture
	c.Top += (float64(h)/c.Scale - float64(c.H)/c.Scale) / 2
	c.H = h
	near := math.Inf(-1)
	for _, p := range path {
		near = max(near, p.Dot(c.Toward))
	}
	c.Clip = near + closeUpClipMM
	return c
}

// closeUpClipMM is how much of what stands in front of a finding is kept in a
// close-up; the rest is cut away so that the finding is seen.
const closeUpClipMM = 12
