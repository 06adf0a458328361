package mesh

import "fettle/internal/geom"

// trace is the best way the search found, read backwards from its end.
func (w *wavefront) trace() (Path, bool) {
	if !w.found {
		return Path{}, false
	}
	var points []geom.Vec // backwards
	var faces []int
	at, why := w.to.at, w.end
	points = append(points, at)
	for {
		source := why.point
		if why.window != none {
			source = w.windows.at(why.window).source
			w.traceWindow(why.window, at, &points, &faces)
		} else {
			faces = append(faces, int(why.face))
		}
		if source == none {
			points = append(points, w.from.at)
			break
		}
		at = w.s.m.Points[source]
		points = append(points, at)
		why = w.cause[source]
	}
	out := Path{Points: []geom.Vec{w.from.at}}
	for i := len(points) - 2; i >= 0; i-- {
		out.add(points[i], int32(faces[i]))
	}
	out.LengthMM = geom.PolylineLength(out.Points)
	return out, true
}

// traceWindow adds the points where the straight way from the window's source
// to the point at, in the face the window enters, crosses the edges between,
// and the faces, backwards.
func (w *wavefront) traceWindow(id int32, at geom.Vec, points *[]geom.Vec, faces *[]int) {
	m := w.s.m
	h := w.windows.at(id).h
	u, v := m.halfEnds(h)
	ex, ey := place(m.Points[u], m.Points[v], at)
	q := flat{ex, ey}
	for {
		win := w.windows.at(id)
		*faces = append(*faces, int(win.h/3))
		x := max(win.b0, min(win.b1, win.cross(q)))
		u, v := m.halfEnds(win.h)
		pu, pv := m.Points[u], m.Points[v]
		p := pu.Lerp(pv, x/pu.Dist(pv))
		*points = append(*points, p)
		if win.parent == none {
			*faces = append(*faces, int(w.s.adj.twin[win.h]/3))
			return
		}
		id = win.parent
		u, v = m.halfEnds(w.windows.at(id).h)
		q.x, q.y = place(m.Points[u], m.Points[v], p)
	}
}
