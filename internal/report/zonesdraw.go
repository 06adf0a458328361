package report

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/picture"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// ZonesDrawing draws the zones of a mesh as an SVG file that needs nothing
// else: each hatched, with its identity where it has room and a flag where it
// has not. It takes as many views as show one more zone. Faces of a label that
// is no zone stay plain.
func ZonesDrawing(m *mesh.Mesh, zones []body.Zone, axes body.Axes) ([]byte, error) {
	s, err := mesh.NewSurface(m)
	if err != nil {
		return nil, err
	}
	p := castingPicture{surface: s, frame: frameOf(axes), zoneOf: zoneHatches(m, zones), names: map[int32]string{}, album: &vehicle.Album{}}
	for _, z := range zones {
		p.names[int32(z.Label)] = string(z.ID)
	}
	views := p.zoneViews(zones)
	text := []string{unit.Count(len(zones), "zone") + "."}
	if hidden := p.flagNarrow(views, zones); len(hidden) > 0 {
		text = append(text, "Not seen from any side: "+strings.Join(hidden, ", ")+".")
	}
	return p.sheet(views, text)
}

// nameRoom is the least room for a name [pixels of a view].
const nameRoom = 26

// zoneViews takes the views in which the most zones have room for their names,
// then those in which a zone is seen that was not, one after the other.
func (p castingPicture) zoneViews(zones []body.Zone) []chosenView {
	m := p.mesh()
	all := append(standardViews(p.frame), cornerViews(p.frame)...)
	share := make([][]float64, len(all)) // 1 where a name has room, a tenth where the zone is seen
	for i := range all {
		c := all[i].Around(m.Points, 8, viewWidth, viewHeight)
		at := map[int32]float64{}
		for _, r := range picture.Roomiest(p.album.Seen(m, c.Times(2)), m, 8, nil) {
			at[r.Label] = 0.1
			if r.Room >= nameRoom {
				at[r.Label] = 1
			}
		}
		for _, z := range zones {
			share[i] = append(share[i], at[int32(z.Label)])
		}
	}
	best := make([]float64, len(zones))
	from := make([]int, len(zones))
	var picked []int
	for {
		v, gain := nextView(share, best, picked)
		if v < 0 || len(picked) > 1 && gain < 0.05 {
			break
		}
		for k, s := range share[v] {
			if s > best[k] {
				best[k], from[k] = s, v
			}
		}
		picked = append(picked, v)
	}
	var out []chosenView
	for v := range all {
		if !slices.Contains(picked, v) {
			continue
		}
		c := chosenView{Camera: all[v], best: map[string]bool{}}
		for k, z := range zones {
			if from[k] == v && best[k] > 0 && best[k] < 1 {
				c.best[string(z.ID)] = true
			}
		}
		out = append(out, c)
	}
	return out
}

// cornerViews are the eight directions from the corners of a box about the
// casting: they see into what the six sides do not.
func cornerViews(f frame) []picture.Camera {
	var out []picture.Camera
	for _, v := range []struct {
		s    float64
		name string
	}{{1, "from above"}, {-1, "from below"}} {
		for _, r := range []struct {
			s    float64
			name string
		}{{-1, "front"}, {1, "rear"}} {
			for _, q := range []struct {
				s    float64
				name string
			}{{-1, "left"}, {1, "right"}} {
				toward := f.up.Scale(v.s).Add(f.rear.Scale(r.s)).Add(f.right.Scale(q.s)).Unit()
				right := f.up.Cross(toward).Unit()
				out = append(out, picture.Camera{Name: v.name + " and the " + r.name + " " + q.name, Right: right, Up: toward.Cross(right), Toward: toward})
			}
		}
	}
	return out
}

// flagNarrow gives a flag to every zone that is seen without room for its
// name, in the view that sees it, and returns those that no view sees.
func (p *castingPicture) flagNarrow(views []chosenView, zones []body.Zone) (hidden []string) {
	m := p.mesh()
	named := map[int32]bool{}
	for _, v := range views {
		c := v.Camera.Around(m.Points, 8, viewWidth, viewHeight)
		for _, r := range picture.Roomiest(p.album.Seen(m, c.Times(2)), m, 8, nil) {
			if r.Room >= nameRoom {
				named[r.Label] = true
			}
		}
	}
	for _, z := range zones {
		if named[int32(z.Label)] {
			continue
		}
		at, normal, ok := p.seenFace(views, z)
		if !ok {
			hidden = append(hidden, string(z.ID))
			continue
		}
		p.marks = append(p.marks, mark{string(z.ID), []geom.Vec{at}, normal, true})
	}
	return hidden
}

// seenFace is the middle of the largest face of a zone that the view chosen for
// it shows, and its normal.
func (p castingPicture) seenFace(views []chosenView, z body.Zone) (at, normal geom.Vec, ok bool) {
	m := p.mesh()
	most := 0.0
	for _, v := range views {
		if !v.best[string(z.ID)] {
			continue
		}
		fine := v.Camera.Around(m.Points, 8, viewWidth, viewHeight).Times(2)
		dm := p.album.Seen(m, fine)
		for f, t := range m.Faces {
			if m.Label == nil || m.Label[f] != int32(z.Label) || m.FaceAreaMM2(f) <= most {
				continue
			}
			a, b, c := m.Points[t[0]], m.Points[t[1]], m.Points[t[2]]
			mid := a.Add(b).Add(c).Scale(1. / 3)
			if n := b.Sub(a).Cross(c.Sub(a)).Unit(); dm.Seen(mid, surfaceSlackMM) && n.Dot(v.Camera.Toward) > 0 {
				at, normal, ok, most = mid, n, true, m.FaceAreaMM2(f)
			}
		}
	}
	return at, normal, ok
}
