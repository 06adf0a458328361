package casting

import (
	"fmt"

	"fettle/internal/geom"
)

// Bore is a round bolt or strut bore. At is the centre of its mouth on the
// seating face, Axis points out of the material there, Zone is a zone ID.
type Bore struct {
	ID       string
	At       geom.Vec
	Axis     geom.Vec
	RadiusMM float64
	Zone     string
}

// A seat is the kind of place a bore sits in.
type seat int

const (
	seatPlate seat = iota
	seatCentre
	seatStrut
	seatSubframe
	seatLamp
)

// leftBore is a bore of the left half; id holds %s where the side goes.
type leftBore struct {
	id     string
	seat   seat
	at     geom.Vec
	out    geom.Vec
	radius float64
	depth  float64
}

// leftBores lists the bores with y < 0.
func leftBores() []leftBore {
	var all []leftBore
	for i, d := range []xy{{-45, -60}, {45, -60}, {45, 60}, {-45, 60}} {
		all = append(all, leftBore{
			fmt.Sprintf("plate-%%s-%d", i+1), seatPlate,
			geom.Vec{-5, -460 + d[0], 390 + d[1]}, geom.Vec{-1, 0, 0}, 6, 24,
		})
	}
	up := geom.Vec{0, 0, 1}
	all = append(all, leftBore{"tower-%s-centre", seatCentre, geom.Vec{towerX, towerY, 794}, up, 42, 20})
	// 80 mm circle, 120 degrees apart, first one outboard.
	for i, d := range []xy{{0, -80}, {69.282, 40}, {-69.282, 40}} {
		all = append(all, leftBore{
			fmt.Sprintf("tower-%%s-%d", i+1), seatStrut,
			geom.Vec{towerX + d[0], towerY + d[1], 795}, up, 5.5, 24,
		})
	}
	down := geom.Vec{0, 0, -1}
	for i, at := range []geom.Vec{{180, -430, 312}, {700, -430, 312}, {960, -520, 320}} {
		all = append(all, leftBore{fmt.Sprintf("subframe-%%s-%d", i+1), seatSubframe, at, down, 5, 30})
	}
	return append(all, leftBore{"lamp-%s-1", seatLamp, geom.Vec{40, -547, 436}, up, 5, 38})
}

// Bores lists every bolt and strut bore, left before right, in a fixed order.
// Lightening holes, drains and the openings of the rear wall are not bores.
func Bores() []Bore {
	var all []Bore
	for _, side := range []string{"L", "R"} {
		for _, b := range leftBores() {
			at, out := b.at, b.out
			if side == "R" {
				at[1] = -at[1]
			}
			all = append(all, Bore{fmt.Sprintf(b.id, side), at, out, b.radius, zoneID(ZoneAt(at))})
		}
	}
	return all
}

// opening is a hole nothing is bolted to: round, or given by its tool.
type opening struct {
	at     geom.Vec
	axis   int
	radius float64
	half   float64
	tool   solid
	middle bool // it crosses y = 0 and has no twin on the other side
}

// openings lists the openings with y <= 0: lightening holes of the nose beam,
// drains in the floor of the longitudinal, holes in the knee gussets, and the
// openings of the rear wall.
func openings() []opening {
	var all []opening
	for _, y := range []float64{-46, -138, -230, -330} {
		all = append(all, opening{at: geom.Vec{5, y, 370}, axis: 0, radius: 27, half: 20})
	}
	for _, x := range []float64{400, 630} {
		all = append(all, opening{at: geom.Vec{x, -460, 322}, axis: 2, radius: 8, half: 10})
	}
	for _, y := range []float64{-425.5, -505.5} {
		all = append(all, opening{at: geom.Vec{972, y, 526}, axis: 1, radius: 18, half: 12})
	}
	window := &prism{0, roundedRectangle(0, 540, 80, 45, 22), 1000, 1060, 0}
	return append(all,
		opening{at: geom.Vec{1030, -280, 540}, axis: 0, radius: 45, half: 25},
		opening{at: geom.Vec{1030, 0, 540}, tool: window, middle: true},
	)
}

// holeTools are the solids taken away for bores and openings.
func holeTools() []solid {
	var all []solid
	for _, b := range leftBores() {
		axis := 2
		if b.out[0] != 0 {
			axis = 0
		}
		// 3 mm of the tool stand out of the seat.
		mid := b.at.Sub(b.out.Scale(b.depth/2 - 3))
		all = append(all, &cylinder{axis, mid, b.radius, b.depth / 2, 0})
	}
	for _, o := range openings() {
		if o.tool != nil {
			all = append(all, o.tool)
			continue
		}
		all = append(all, &cylinder{o.axis, o.at, o.radius, o.half, 0})
	}
	return all
}

// holeMargin is how far [mm] from the wall of a hole its boss reaches.
const holeMargin = 11.0

// besideHole says that a point of the left half lies at the wall of a round
// hole or on the boss around it, which have to stay round when the mesh is
// reduced.
func besideHole(p geom.Vec) bool {
	for _, c := range roundHoles {
		if c.at(p) < holeMargin {
			return true
		}
	}
	return false
}

// roundHoles are the tools of all round holes; nothing changes them.
var roundHoles = allRoundHoles()

func allRoundHoles() []*cylinder {
	var all []*cylinder
	for _, t := range holeTools() {
		if c, ok := t.(*cylinder); ok {
			all = append(all, c)
		}
	}
	return all
}
