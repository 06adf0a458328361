package casting

import "fettle/internal/geom"

// Axis of the left strut tower [mm].
const (
	towerX = 560.0
	towerY = -500.0
)

// tower is the strut tower: a hollow dome of 5 mm wall, open below, standing on
// the longitudinal, with a thick rim, a collar, three bosses and six gussets.
func tower() solid {
	dome := &shell{towerX, towerY, 2.5, []xy{
		{0, 787.5}, {88, 787.5}, {93, 786.8}, {97.2, 784.9}, {100.7, 782}, {103.3, 778.3}, {105.2, 773.8},
		{113, 732}, {129, 650}, {147, 560}, {159, 505}, {162.6, 479},
	}}
	skirt := &both{2, []solid{
		&shell{towerX, towerY, 3, []xy{{162, 482}, {163, 462}}},
		span(geom.Vec{300, -512, 462}, geom.Vec{800, -408, 490}, 1),
	}}
	rim := &shell{towerX, towerY, 2, []xy{{161.3, 488}, {162.6, 479}}}
	collar := &shell{towerX, towerY, 6, []xy{{48, 788}, {50, 788}}}
	parts := []solid{&union{14, []solid{dome, rim}}, skirt, collar}
	for _, b := range leftBores() {
		if b.seat == seatStrut {
			parts = append(parts, &cylinder{2, geom.Vec{b.at[0], b.at[1], 787}, 14, 8, 2.5})
		}
	}
	return &union{fillet, append(parts, towerGussets()...)}
}

// towerGussets are four long ribs that run down to the top of the longitudinal
// and two short ones on the wheel side that end at the rim.
func towerGussets() []solid {
	long := outline{
		{111, 750}, {113, 750}, {121, 728}, {138, 660}, {157, 590}, {183, 526},
		{220, 484}, {240, 471}, {240, 465}, {164, 465}, {165, 477}, {161, 505}, {149.5, 560}, {131.5, 650},
	}
	short := outline{
		{111, 750}, {113, 750}, {119, 728}, {135.5, 655}, {153, 570},
		{163, 510}, {165, 480}, {164, 477}, {161, 505}, {149.5, 560}, {131.5, 650},
	}
	at := geom.Vec{towerX, towerY, 0}
	var all []solid
	for _, d := range []xy{{1, 0}, {-1, 0}, {0.92, 0.38}, {-0.92, 0.38}} {
		all = append(all, flat(at, d[0], d[1], &prism{1, long, -3, 3, 2.9}))
	}
	for _, d := range []xy{{0.6, -0.8}, {-0.6, -0.8}} {
		all = append(all, flat(at, d[0], d[1], &prism{1, short, -3, 3, 2.9}))
	}
	return all
}
