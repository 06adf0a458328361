package casting

import "fettle/internal/geom"

// Zone is one region of the casting. Label is the number on the faces of the
// mesh, ID the short stable name, Name the readable one.
type Zone struct {
	Label int32
	ID    string
	Name  string
}

// Zones lists the zones in the order of their labels, which start at 1.
func Zones() []Zone {
	return []Zone{
		{1, "NOSE", "nose beam"},
		{2, "RAIL-L", "left longitudinal"},
		{3, "RAIL-R", "right longitudinal"},
		{4, "TOWER-L", "left strut tower"},
		{5, "TOWER-R", "right strut tower"},
		{6, "CROWN-L", "left tower crown"},
		{7, "CROWN-R", "right tower crown"},
		{8, "KNEE-L", "left knee"},
		{9, "KNEE-R", "right knee"},
		{10, "WALL", "rear wall"},
		{11, "BRACE-L", "left diagonal brace"},
		{12, "BRACE-R", "right diagonal brace"},
	}
}

// zoneID is the ID of a label; labels outside the list have none.
func zoneID(label int32) string {
	if label < 1 || int(label) > len(Zones()) {
		return ""
	}
	return Zones()[label-1].ID
}

// Limits of the zones [mm]; ZoneRules says how they combine.
const (
	noseEndX    = 150.0
	kneeStartX  = 840.0
	wallStartX  = 985.0
	towerFootZ  = 470.0
	towerRadius = 170.0
	crownZ      = 765.0
	crownRadius = 115.0
	kneeY       = 330.0
	railY       = 395.0
)

// ZoneRule is one line of the rule that decides the zone of a point.
type ZoneRule struct {
	Zone string // ID without the side
	When string
}

// ZoneRules is the rule in words, first line that fits; r is the distance from
// the vertical axis of the nearer tower, (560, +-500). Zones with a side are L
// for y < 0 and R otherwise.
func ZoneRules() []ZoneRule {
	return []ZoneRule{
		{"NOSE", "x < 150"},
		{"WALL", "x >= 985"},
		{"CROWN", "z > 765 and r <= 115"},
		{"TOWER", "z > 470 and r <= 170"},
		{"KNEE", "x >= 840 and |y| > 330"},
		{"RAIL", "x < 840 and |y| > 395"},
		{"BRACE", "everything else"},
	}
}

// ZoneAt is the label of the zone a point of the casting lies in, by ZoneRules.
func ZoneAt(p geom.Vec) int32 {
	x, z := p[0], p[2]
	y, right := -p[1], int32(0)
	if p[1] >= 0 {
		y, right = p[1], 1
	}
	r := towerDistance(p)
	switch {
	case x < noseEndX:
		return 1
	case x >= wallStartX:
		return 10
	case z > crownZ && r <= crownRadius:
		return 6 + right
	case z > towerFootZ && r <= towerRadius:
		return 4 + right
	case x >= kneeStartX && y > kneeY:
		return 8 + right
	case x < kneeStartX && y > railY:
		return 2 + right
	}
	return 11 + right
}

// towerDistance is the distance from the axis of the tower on the same side.
func towerDistance(p geom.Vec) float64 {
	y := p[1]
	if y > 0 {
		y = -y
	}
	return geom.Vec{p[0] - towerX, y - towerY, 0}.Norm()
}

// A border is a surface side = 0 along which zones meet; where limits it to the
// places at which they do.
type border struct {
	side  func(geom.Vec) float64
	where func(geom.Vec) bool
}

// borders lists the surfaces the mesh is cut along, so that zones meet in clean
// curves. It follows ZoneAt.
func borders() []border {
	always := func(geom.Vec) bool { return true }
	atX := func(x float64) func(geom.Vec) float64 { return func(p geom.Vec) float64 { return p[0] - x } }
	atZ := func(z float64) func(geom.Vec) float64 { return func(p geom.Vec) float64 { return p[2] - z } }
	round := func(r float64) func(geom.Vec) float64 {
		return func(p geom.Vec) float64 { return towerDistance(p) - r }
	}
	return []border{
		{atX(noseEndX), always},
		{atX(wallStartX), always},
		{atX(kneeStartX), func(p geom.Vec) bool { return p[1] < -kneeY }},
		{round(towerRadius), func(p geom.Vec) bool { return p[2] > towerFootZ-1 }},
		{atZ(towerFootZ), func(p geom.Vec) bool { return towerDistance(p) < towerRadius+1 }},
		{atZ(crownZ), func(p geom.Vec) bool { return towerDistance(p) < crownRadius+1 }},
		{round(crownRadius), func(p geom.Vec) bool { return p[2] > crownZ-1 }},
	}
}
