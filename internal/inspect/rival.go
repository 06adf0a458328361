package inspect

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// Between two places on the two sides of a thin wall ways lead round each of its edges,
// and nothing says that the crack took the shorter of two that are nearly as long. The
// others are looked for where there is room for them: ways no longer than one of the
// length L between places e apart stay in the ellipsoid of half width sqrt(L^2 - e^2)/2
// about the two, which has to be wider than the corridor of a way, corridorPart L.
//
// With a, b the places and d the distance along the surface, every way that is locally
// the shortest and made of two shortest ones crosses some edge of the mesh where
//
//	d(a, x) + d(b, x)
//
// is least along that edge; such places are looked for between the ends of the edges, every
// few tenths of a millimetre. A way counts that costs no more than detourCost above the
// shortest, and lies elsewhere.
const (
	rivalStep  = 0.25 // of a wall, between places on an edge
	mostOnEdge = 32   // places on one edge
	mostRivals = 8    // between two places; the shortest first
	mostTried  = 24   // places that a way is looked for over, of those that lie on none so far
)

// findRivals adds the ways that are nearly as short as those that the trace may take.
func (t *trace) findRivals() {
	look := func(from int, a, b mesh.Site, way mesh.Path) {
		for _, w := range t.rivals(a, b, way) {
			t.detours = append(t.detours, detour{likely: true, from: from, sites: []mesh.Site{a, b}, ways: []mesh.Path{w}})
		}
	}
	for i, way := range t.raw {
		look(i, t.sites[i], t.sites[i+1], way)
	}
	for _, d := range slices.Clone(t.detours) {
		if !d.likely {
			continue
		}
		for k, way := range d.ways {
			look(d.from+k, d.sites[k], d.sites[k+1], way)
		}
	}
}

// rivals is the ways from a to b that are nearly as short as the shortest.
func (t *trace) rivals(a, b mesh.Site, way mesh.Path) []mesh.Path {
	if !hasRoom(way) {
		return nil
	}
	if way = t.shortest(a, b, way); !hasRoom(way) {
		return nil
	}
	most := way.ChordMM + float64(t.wall()*math.Sqrt(t.excess(way)+detourCost))
	places := t.crossings(a, b, most)
	known, out := []mesh.Path{way}, []mesh.Path(nil)
	for _, x := range places {
		if len(known) > mostTried || len(out) == mostRivals {
			break
		}
		if slices.ContainsFunc(known, func(w mesh.Path) bool { return t.onWay(x.site, w) }) {
			continue
		}
		w, ok := t.over(a, x.site, b)
		if !ok || w.LengthMM > most {
			continue
		}
		if !t.alike([]mesh.Path{w}, known) {
			out = append(out, w)
		}
		known = append(known, w)
	}
	return out
}

// hasRoom says that ways as short as this one may lie outside its corridor.
func hasRoom(w mesh.Path) bool {
	return math.Sqrt(max(0, float64(w.LengthMM*w.LengthMM)-float64(w.ChordMM*w.ChordMM))) > 2*corridorPart*w.LengthMM
}

// over is the shortest way from a to x and on to b, pulled tight.
func (t *trace) over(a, x, b mesh.Site) (mesh.Path, bool) {
	p, err := t.at.ShortestWay(a, x)
	if err != nil {
		return mesh.Path{}, false
	}
	q, err := t.at.ShortestWay(x, b)
	if err != nil {
		return mesh.Path{}, false
	}
	w, err := t.at.Surface.Through([]mesh.Path{p, q})
	return w, err == nil
}

// crossing is a place of an edge where a way may cross it, and how long that is.
type crossing struct {
	site mesh.Site
	mm   float64
}

// crossings is where ways from a to b of no more than most millimetres may cross the
// edges of the mesh, the shortest first.
func (t *trace) crossings(a, b mesh.Site, most float64) []crossing {
	edges := t.edgesBetween(a.At, b.At, most)
	var sites []mesh.Site
	for _, e := range edges {
		sites = append(sites, e...)
	}
	from, err := t.at.DistancesTo(a, sites, most)
	if err != nil {
		return nil
	}
	to, err := t.at.DistancesTo(b, sites, most)
	if err != nil {
		return nil
	}
	var out []crossing
	k := 0
	for _, e := range edges {
		sum := make([]float64, len(e))
		for i := range e {
			sum[i] = from.Targets[k+i] + to.Targets[k+i]
		}
		k += len(e)
		for i := 1; i+1 < len(sum); i++ {
			if sum[i] <= min(most, sum[i-1], sum[i+1]) {
				out = append(out, crossing{e[i], sum[i]})
			}
		}
	}
	slices.SortStableFunc(out, func(x, y crossing) int { return cmp.Compare(x.mm, y.mm) })
	return out
}

// edgesBetween is places along every edge of the mesh that ways of no more than most
// millimetres between two places may cross.
func (t *trace) edgesBetween(a, b geom.Vec, most float64) [][]mesh.Site {
	m := t.at.Surface.Mesh()
	step := rivalStep * t.wall()
	var out [][]mesh.Site
	for f, c := range m.Faces {
		for k := range 3 {
			u, v := c[k], c[(k+1)%3]
			p, q := m.Points[u], m.Points[v]
			if u > v || geom.NearestOnSegment(a, p, q).Dist(a)+geom.NearestOnSegment(b, p, q).Dist(b) > most {
				continue
			}
			n := min(mostOnEdge, max(2, int(math.Ceil(p.Dist(q)/step))))
			edge := make([]mesh.Site, n+1)
			for i := range edge {
				var at [3]float64
				part := float64(i) / float64(n)
				at[k], at[(k+1)%3] = 1-part, part
				edge[i] = t.at.Surface.Site(f, at)
			}
			out = append(out, edge)
		}
	}
	return out
}
