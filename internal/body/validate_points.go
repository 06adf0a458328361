package body

import (
	"fmt"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

func (c *checker) points() {
	before := len(c.problems)
	for i, p := range c.b.Points {
		c.point(i, p)
	}
	if len(c.problems) == before {
		c.references()
	}
}

// CheckPoints judges a table of control points that belongs to no body; lines
// are those of the rows. Sections and parts may have any name.
func CheckPoints(points []Point, lines []int) diag.Problems {
	b := &Body{Points: points}
	b.at.points = lines
	c := &checker{b: b, known: map[string][]string{}, there: map[[2]string]bool{}}
	note(c, aPoint, "points", points, func(p Point) string { return string(p.ID) })
	for i, p := range points {
		c.tolerances(i, p)
		c.spread(i, p)
		if c.ref(at("points", i, "mirror"), aPoint, string(p.Mirror)) && p.Mirror == p.ID {
			c.fault(at("points", i, "mirror"), fmt.Sprintf("point %q is its own mirror point", p.ID), "leave the cell empty for a point on the centre plane")
		}
	}
	return c.problems
}

func (c *checker) point(i int, p Point) {
	for axis, column := range []string{"x_mm", "y_mm", "z_mm"} {
		if v := p.At()[axis]; v > farMM || v < -farMM {
			c.fault(at("points", i, column), fmt.Sprintf("%s lies outside any vehicle", unit.MM(v)), "coordinates are in millimetres")
		}
	}
	c.tolerance(i, p)
	c.spread(i, p)
	c.ref(at("points", i, "section"), aSection, string(p.Section))
	c.ref(at("points", i, "part"), aPart, string(p.Part))
	if c.ref(at("points", i, "mirror"), aPoint, string(p.Mirror)) {
		c.mirror(i, p)
	}
}

// widest keeps slips of the unit out: no maker lets a point be so far off, and none makes it so badly.
const widest = 1000 // [mm]

// spread checks how well the maker makes a point.
func (c *checker) spread(i int, p Point) {
	switch {
	case p.Std.Known && p.Std.Value < 0:
		c.fault(at("points", i, "std_mm"), "the spread is negative", "write it without the sign, or leave it out")
	case p.Std.Known && p.Std.Value > widest:
		c.fault(at("points", i, "std_mm"), fmt.Sprintf("%s is no spread of making", unit.MM(p.Std.Value)), "spreads are in millimetres")
	}
}

// tolerance: either one radius, or one limit along each axis.
func (c *checker) tolerance(i int, p Point) {
	axes := c.tolerances(i, p)
	if p.Tol.Known == (axes == 3) || axes == 1 || axes == 2 {
		c.fault(at("points", i), fmt.Sprintf("the tolerance of point %q is not clear", p.ID),
			"give either tol_mm, or tol_x_mm, tol_y_mm and tol_z_mm")
	}
}

// tolerances checks those that are given, and counts those along an axis.
func (c *checker) tolerances(i int, p Point) (axes int) {
	for k, t := range []struct {
		column string
		known  bool
		value  float64
	}{
		{"tol_mm", p.Tol.Known, p.Tol.Value},
		{"tol_x_mm", p.TolX.Known, p.TolX.Value},
		{"tol_y_mm", p.TolY.Known, p.TolY.Value},
		{"tol_z_mm", p.TolZ.Known, p.TolZ.Value},
	} {
		if t.known && k > 0 {
			axes++
		}
		if t.known && t.value <= 0 {
			c.fault(at("points", i, t.column), "the tolerance is not more than zero", "write how far off the point may be, or leave it out")
		}
		if t.known && t.value > widest {
			c.fault(at("points", i, t.column), fmt.Sprintf("%s is no tolerance of a vehicle", unit.MM(t.value)), "tolerances are in millimetres")
		}
	}
	return axes
}

func (c *checker) mirror(i int, p Point) {
	path := at("points", i, "mirror")
	if p.Mirror == p.ID {
		c.fault(path, fmt.Sprintf("point %q is its own mirror point", p.ID), "leave the cell empty for a point on the centre plane")
		return
	}
	if twin, _ := c.b.Point(p.Mirror); twin.Mirror != p.ID {
		c.fault(path, fmt.Sprintf("point %q names %q as its mirror point, but %q does not name %q", p.ID, p.Mirror, p.Mirror, p.ID), "two mirror points name each other")
	}
}

// thinnest is the least height of the triangle of reference points over its
// longest side, as a share of that side. A thinner triangle magnifies every
// error across it more than fifty times. Common practice, no source.
const thinnest = 0.02

// references demands three reference points that are not in line: without
// them there is nothing to align to.
func (c *checker) references() {
	var refs []geom.Vec
	for _, p := range c.b.Points {
		if p.Reference {
			refs = append(refs, p.At())
		}
	}
	if len(c.b.Points) == 0 { // a table without rows: nothing is said of what moved
		return
	}
	if len(refs) < 3 {
		c.fault("points", fmt.Sprintf("%d reference points are given; at least three are needed", len(refs)), "write yes in the column 'reference' of the points the manufacturer nominates")
		return
	}
	if base, height := spread(refs); height < thinnest*base || base == 0 {
		c.fault("points", "the reference points lie nearly in one line", fmt.Sprintf("no point is further than %.0f mm from the line through the two that are %.0f mm apart", height, base))
	}
}

// spread is the distance of the two points furthest apart, and the largest
// distance of any point from the line through them.
func spread(points []geom.Vec) (base, height float64) {
	var a, b geom.Vec
	for i, p := range points {
		for _, q := range points[i+1:] {
			if d := p.Dist(q); d > base {
				base, a, b = d, p, q
			}
		}
	}
	along := b.Sub(a).Unit()
	for _, p := range points {
		height = max(height, p.Sub(a).Cross(along).Norm())
	}
	return base, height
}
