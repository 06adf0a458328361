package casting

import "fettle/internal/geom"

// fillet is the blend width [mm] between walls of the casting.
const fillet = 7.0

// leftHalf is the whole casting, right for points with y <= 0; the other half
// is its mirror image. Parts that cross y = 0 are symmetric about it.
func leftHalf() solid {
	body := &union{fillet, []solid{
		nosePiece(), canPlate(), rail(), tower(), wallPiece(), kneeGussets(), brace(), bosses(),
	}}
	return &cut{3, body, holeTools()}
}

// The nose beam reaches as far to the right as to the left, outside and inside.
const (
	noseOuterY = 560.0
	noseInnerY = 554.0
)

// beyond is farther [mm] than the casting reaches.
const beyond = 900.0

// nosePiece is the cross beam: a channel open to the rear, with upright ribs
// and a collar round every lightening hole.
func nosePiece() solid {
	inside := []solid{&inverse{span(geom.Vec{5, -noseInnerY, 315.5}, geom.Vec{300, noseInnerY, 424.5}, 9)}}
	for _, y := range []float64{0, -92, -184, -276} {
		inside = append(inside, noseRib(y, 5))
	}
	// The diagonal brace runs into this one.
	inside = append(inside, span(geom.Vec{2, -389, 300}, geom.Vec{104, -381, 440}, 2.5))
	for _, h := range openings() {
		if h.tool == nil && h.at[0] < 150 && h.axis == 0 {
			inside = append(inside, &cylinder{0, geom.Vec{8, h.at[1], h.at[2]}, h.radius + 8, 6, 2.5})
		}
	}
	outer := span(geom.Vec{0, -noseOuterY, 310}, geom.Vec{110, noseOuterY, 430}, 5)
	return &both{4, []solid{outer, &union{fillet, inside}}}
}

func noseRib(y, thick float64) solid {
	o := outline{{3, 300}, {100, 300}, {92, 330}, {92, 410}, {100, 440}, {3, 440}}
	return &prism{1, o, y - thick/2, y + thick/2, 2.4}
}

// canPlate is the pad a crush can is bolted to, with a thickening round each
// bolt.
func canPlate() solid {
	parts := []solid{span(geom.Vec{-5, -535, 305}, geom.Vec{5, -385, 475}, 4)}
	for _, b := range leftBores() {
		if b.seat == seatPlate {
			parts = append(parts, &cylinder{0, geom.Vec{4, b.at[1], b.at[2]}, 15, 8, 2.5})
		}
	}
	// Two webs carry the upper edge of the plate back to the longitudinal.
	for _, y := range []float64{-476, -444} {
		o := outline{{2, 427}, {100, 427}, {100, 457.5}, {2, 457.5}}
		parts = append(parts, &prism{1, o, y - 3, y + 3, 2.9})
	}
	return &union{fillet, parts}
}

// railSide and railPlan bound the longitudinal in side view (x,z) and in plan
// (x,y); toward the rear wall it grows upward and outward into the knee.
var (
	railSide = outline{
		{0, 312}, {112, 312}, {150, 320}, {840, 320}, {960, 326}, {1036, 330},
		{1036, 512}, {985, 490}, {910, 472}, {840, 466}, {0, 466},
	}
	railPlan = outline{
		{0, -405}, {0, -515}, {845, -515}, {900, -524}, {960, -548}, {1036, -590},
		{1036, -390}, {960, -398}, {880, -405},
	}
	railPlanOpen = outline{
		{0, -250}, {0, -515}, {845, -515}, {900, -524}, {960, -548}, {1036, -590}, {1036, -250},
	}
)

// rail is the longitudinal: a channel of 5 mm walls open toward the middle,
// stiffened by a zig-zag of 6 mm ribs.
func rail() solid {
	hollow := &both{8, []solid{&column{1, railSide, -5}, &column{2, railPlanOpen, -5}}}
	inside := []solid{&inverse{hollow}}
	// The last rib ends on the rear wall, clear of the mount under the knee.
	zigzag := []xy{
		{120, 316}, {230, 470}, {340, 316}, {450, 470}, {560, 316}, {670, 470}, {780, 316}, {890, 472}, {1040, 388},
	}
	for i, a := range zigzag[:len(zigzag)-1] {
		b := zigzag[i+1]
		o := bar(a[0], a[1], b[0], b[1], 0.2)
		inside = append(inside, &prism{1, o, -640, -413, 2.9})
	}
	outer := []solid{&column{1, railSide, 0}, &column{2, railPlan, 0}, &union{fillet, inside}}
	lips := []solid{&both{4, outer}}
	// A bead stiffens both free edges of the channel.
	for _, z := range []float64{323.5, 462.5} {
		lips = append(lips, span(geom.Vec{118, -411, z - 4.5}, geom.Vec{838, -403, z + 4.5}, 3.5))
	}
	return &union{4, lips}
}
