// Package vehicle owns a body made ready: the meshes of its castings with what does
// not depend on a job, which is borders, edges, ends of walls, joints, feet of ribs,
// bores, and the castings divided along their section lines.
//
// It refuses to know a finding: traces, limits and verdicts are of the packages that
// take a Vehicle.
package vehicle

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/halt"
	"fettle/internal/mesh"
)

// Vehicle is the castings of one body made ready. From outside nothing of it ever
// changes: what is worked out only when it is first asked for is the same whoever asks.
// Jobs that share a Vehicle, one after another or at once, share that work.
type Vehicle struct {
	Castings []*Casting // in the order of the body
	Album    *Album     // what their pictures are drawn over

	body *body.Body
	work *halt.Work
}

// New is the vehicle of a body and its castings' meshes; neither may change
// afterwards. It costs nothing until it is used. What other vehicles know of castings
// with the very same surface is taken over: how lines divide them that the body has too.
func New(b *body.Body, surfaces map[body.CastingID]*mesh.Surface, others ...*Vehicle) *Vehicle {
	v := &Vehicle{Album: &Album{}, body: b}
	for i := range b.Castings {
		of := &b.Castings[i]
		c := &Casting{Of: of, Surface: surfaces[of.ID], body: b, worked: &worked{}}
		for _, o := range others {
			for _, k := range o.Castings {
				if k.Surface.Same(c.Surface) {
					c.takeOver(k, b.Lines)
				}
			}
		}
		v.Castings = append(v.Castings, c)
	}
	return v
}

// For is v where it is of the castings and joints of a body, whatever its procedures are;
// otherwise a vehicle of the body with the same meshes, and without any where v is nil.
func (v *Vehicle) For(b *body.Body) *Vehicle {
	if v == nil {
		return New(b, nil)
	}
	if sameSlice(v.body.Castings, b.Castings) && sameSlice(v.body.Joints, b.Joints) {
		return v
	}
	surfaces := map[body.CastingID]*mesh.Surface{}
	for _, c := range v.Castings {
		surfaces[c.Of.ID] = c.Surface.While(nil)
	}
	return New(b, surfaces).While(v.work)
}

// Ready works out at once all that jobs ask for, as a server does before the first of
// them comes.
func (v *Vehicle) Ready() {
	for _, c := range v.Castings {
		if c.Surface == nil {
			continue
		}
		c.Surface.SidesDoubt()
		c.outlook()
		c.Region(body.Zone{})
		c.FreeEdges()
		if len(c.Of.Edges) == 0 {
			c.WallEnds()
		}
		c.Joints()
		c.RibFeet()
		for _, b := range c.Of.Bores {
			c.rim(b)
		}
		for _, l := range v.body.Lines {
			if l.Casting == c.Of.ID {
				_, _ = c.Part(l) // whoever asks for it is told what is wrong with it
			}
		}
	}
}

// While is the vehicle for questions that are part of some work: when that is stopped, so are
// they, and what they were working out is left to the next who asks.
func (v *Vehicle) While(w *halt.Work) *Vehicle {
	if v == nil || v.work == w {
		return v
	}
	out := &Vehicle{Album: v.Album.while(w), body: v.body, work: w}
	for _, c := range v.Castings {
		out.Castings = append(out.Castings, c.while(w))
	}
	return out
}

// sameSlice: the same elements in memory, not just equal ones.
func sameSlice[T any](a, b []T) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// Surface is the surface of a casting; nil where its mesh was not given.
func (v *Vehicle) Surface(id body.CastingID) *mesh.Surface {
	if c := v.casting(id); c != nil {
		return c.Surface
	}
	return nil
}

func (v *Vehicle) casting(id body.CastingID) *Casting {
	if v == nil {
		return nil
	}
	i := slices.IndexFunc(v.Castings, func(c *Casting) bool { return c.Of.ID == id })
	if i < 0 {
		return nil
	}
	return v.Castings[i]
}

// Part divides the casting of a line along it, once for every line.
func (v *Vehicle) Part(l body.Line) (*Parted, error) {
	c := v.casting(l.Casting)
	if c == nil || c.Surface == nil {
		return nil, fmt.Errorf("the mesh of casting %s has not been read", l.Casting)
	}
	return c.Part(l)
}
