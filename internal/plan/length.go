package plan

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/vehicle"
)

// measure is what an item's times and materials are reckoned by.
type measure struct {
	mm    float64
	known bool
	from  string // in words
	flaw  string // why it is not known

	m2   float64 // area of the surface that is worked on
	over string  // of what, in words
}

// length is the length an item is reckoned by: of the cut for a section, of the
// joints for a new casting, else of the cracks (a group once).
func (b *builder) length(it Item) measure {
	switch it.Kind {
	case body.SectionOff:
		return b.cutLength(it.Line)
	case body.ReplaceCasting:
		sum := 0.0
		for _, j := range b.joints {
			if slices.Contains(j.Layers, it.Part) {
				sum += float64(j.Length)
			}
		}
		return measure{mm: sum, known: true, from: "joints of the casting"}
	case body.Exchange, body.ReplacePart, body.Leave:
		return measure{known: true, from: "no length"}
	}
	return b.crackLength(it)
}

func (b *builder) crackLength(it Item) measure {
	sum, from := 0.0, ""
	for _, g := range b.in.Inspect.Groups {
		if len(g.Findings) > 1 && subset(g.Findings, it.Findings) {
			sum += g.LengthMM
			from += " + group " + g.ID
		}
	}
	for _, id := range it.Findings {
		f := b.findings[id]
		if b.grouped(it, string(id)) {
			continue
		}
		if f.Length == nil {
			return measure{flaw: fmt.Sprintf("the length of %s is not known", id)}
		}
		sum += f.Length.MM
		from += " + " + string(id)
	}
	return measure{mm: sum, known: true, from: "crack" + from[min(2, len(from)):]}
}

// grouped says that the finding is counted with a group of the item.
func (b *builder) grouped(it Item, id string) bool {
	for _, g := range b.in.Inspect.Groups {
		if len(g.Findings) > 1 && subset(g.Findings, it.Findings) {
			for _, f := range g.Findings {
				if string(f) == id {
					return true
				}
			}
		}
	}
	return false
}

func subset[T comparable](a, b []T) bool {
	for _, x := range a {
		if !slices.Contains(b, x) {
			return false
		}
	}
	return true
}

func (b *builder) cutLength(id body.LineID) measure {
	if mm, ok := b.in.Seams[id]; ok {
		return measure{mm: mm, known: true, from: "cut along " + string(id)}
	}
	line, ok := b.in.Body.Line(id)
	if !ok {
		return measure{flaw: fmt.Sprintf("section line %s is not in the body's data", id)}
	}
	if b.in.Vehicle.Surface(line.Casting) == nil {
		return measure{flaw: fmt.Sprintf("the mesh of casting %s was not given, so the cut along %s has no length", line.Casting, id)}
	}
	mm, err := Seam(line, b.in.Vehicle)
	if err != nil {
		return measure{flaw: fmt.Sprintf("section line %s: %v", id, err)}
	}
	return measure{mm: mm, known: true, from: "cut along " + string(id)}
}

// Seam is the length of the wall that a section line cuts, in millimetres.
// Where the mesh shows both faces of the wall (every loop is closed) the line
// runs along it twice, so that half of its length is taken; the error is about
// the wall thickness for each loop.
func Seam(line body.Line, v *vehicle.Vehicle) (float64, error) {
	open := line
	open.Within = body.Box{} // the loops are cut off at the box exactly, below
	p, err := v.Part(open)
	if err != nil {
		return 0, err
	}
	sum, closed := 0.0, true
	for _, l := range p.Section.Loops {
		n := len(l.Points)
		closed = closed && l.Closed
		for i := range n {
			if i+1 < n || l.Closed {
				sum += inside(l.Points[i], l.Points[(i+1)%n], line.Within)
			}
		}
	}
	if closed {
		sum /= 2
	}
	if sum == 0 {
		return 0, fmt.Errorf("the line does not cut the casting inside its box")
	}
	return sum, nil
}

// inside is the length of the part of segment pq that lies in the box: the
// share of it between the planes of each axis (Liang and Barsky 1984).
func inside(p, q geom.Vec, box body.Box) float64 {
	length := p.Dist(q)
	if box.Unlimited() {
		return length
	}
	lo, hi := 0.0, 1.0
	for k := range 3 {
		d := q[k] - p[k]
		if d == 0 {
			if p[k] < box.Min[k] || p[k] > box.Max[k] {
				return 0
			}
			continue
		}
		a, c := (box.Min[k]-p[k])/d, (box.Max[k]-p[k])/d
		lo, hi = max(lo, min(a, c)), min(hi, max(a, c))
	}
	return float64(max(0, hi-lo) * length)
}
