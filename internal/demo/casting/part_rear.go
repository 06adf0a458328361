package casting

import "fettle/internal/geom"

// wallOutline bounds the rear wall in (y,z).
var wallOutline = outline{
	{-640, 372}, {-598, 330}, {598, 330}, {640, 372}, {640, 556}, {560, 640}, {-560, 640}, {-640, 556},
}

// wallPiece is the rear wall: a 6 mm sheet with a rim, a grid of ribs on its
// front side and a collar round every opening.
func wallPiece() solid {
	pocket := &both{8, []solid{
		&column{0, wallOutline, -6},
		span(geom.Vec{700, -beyond, -beyond}, geom.Vec{1034, beyond, beyond}, 0),
	}}
	inside := []solid{&inverse{pocket}}
	for _, y := range []float64{-100, -200, -345, -465, -602} {
		inside = append(inside, span(geom.Vec{994, y - 2.75, 320}, geom.Vec{1060, y + 2.75, 650}, 2.4))
	}
	for _, z := range []float64{400, 482, 598} {
		inside = append(inside, span(geom.Vec{998, -beyond, z - 2.75}, geom.Vec{1060, beyond, z + 2.75}, 2.4))
	}
	inside = append(inside,
		&prism{0, roundedRectangle(0, 540, 82, 47, 24), 1013, 1053, 6},
		&cylinder{0, geom.Vec{1033, -280, 540}, 53, 17, 3},
	)
	outer := []solid{
		&column{0, wallOutline, 0},
		span(geom.Vec{990, -beyond, -beyond}, geom.Vec{1040, beyond, beyond}, 0),
		&union{fillet, inside},
	}
	return &both{4, outer}
}

// roundedRectangle is an outline in which each corner of radius r is drawn with
// nine points.
func roundedRectangle(cx, cy, hx, hy, r float64) outline {
	// Cosines of 0, 11.25, ... 90 degrees, to nine digits, so that every
	// machine has the same outline.
	quarter := [9]float64{1, 0.980785280, 0.923879533, 0.831469612, 0.707106781, 0.555570233, 0.382683432, 0.195090322, 0}
	var o outline
	for corner := range 4 {
		for i := range quarter {
			c, s := quarter[i], quarter[8-i]
			switch corner {
			case 0:
				o = append(o, xy{cx + hx - r + float64(r*c), cy + hy - r + float64(r*s)})
			case 1:
				o = append(o, xy{cx - hx + r - float64(r*s), cy + hy - r + float64(r*c)})
			case 2:
				o = append(o, xy{cx - hx + r - float64(r*c), cy - hy + r - float64(r*s)})
			case 3:
				o = append(o, xy{cx + hx - r + float64(r*s), cy - hy + r - float64(r*c)})
			}
		}
	}
	return o
}

// kneeGussets tie the longitudinal to the rear wall: two big upright ones stand
// on its top, one lies on its outer side. They end in its walls, not in its
// hollow.
func kneeGussets() solid {
	upright := outline{
		{850, 466}, {900, 486}, {950, 538}, {990, 596}, {1010, 620}, {1033, 624}, {1033, 510}, {985, 489}, {910, 471},
	}
	lying := outline{
		{870, -518}, {920, -538}, {975, -580}, {1012, -620}, {1033, -624}, {1033, -587}, {960, -547}, {900, -523},
	}
	return &union{fillet, []solid{
		&prism{1, upright, -429, -422, 3.3},
		&prism{1, upright, -509, -502, 3.3},
		&prism{2, lying, 392, 398, 2.9},
	}}
}

// brace is one of the two long members seen in plan: a web with a bead along
// its top and bottom edge, from the nose beam to the rear wall.
func brace() solid {
	from, to := geom.Vec{110, -380, 370}, geom.Vec{990, -200, 400}
	dir := to.Sub(from).Unit()
	side := geom.Vec{0, 0, 1}.Cross(dir).Unit()
	a := from.Add(dir.Scale(-58 / dir[0]))
	b := to.Add(dir.Scale(42 / dir[0]))
	half := a.Dist(b) / 2
	section := &union{4, []solid{
		&box{geom.Vec{}, geom.Vec{half, 3, 24}, 1},
		&box{geom.Vec{0, 0, 21}, geom.Vec{half, 6, 4}, 2.5},
		&box{geom.Vec{0, 0, -21}, geom.Vec{half, 6, 4}, 2.5},
	}}
	return &framed{a.Lerp(b, 0.5), [3]geom.Vec{dir, side, dir.Cross(side)}, section}
}

// bosses are the bolt bosses under the subframe mounts and lamp brackets.
func bosses() solid {
	var parts []solid
	for _, b := range leftBores() {
		switch b.seat {
		case seatSubframe:
			parts = append(parts, &cylinder{2, b.at.Add(geom.Vec{0, 0, 10}), 15.5, 10, 2.5})
		case seatLamp:
			parts = append(parts, &cylinder{2, b.at.Add(geom.Vec{0, 0, -14}), 15.5, 14, 2.5})
		}
	}
	return &union{2, parts}
}
