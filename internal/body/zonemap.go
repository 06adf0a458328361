package body

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strings"

	"fettle/internal/geom"
	"fettle/internal/unit"
)

// ZoneMap is a picture of a casting on which its zones are drawn: that of the manufacturer, or
// one of our own. Its outlines are in units of its own: x to the right and y down, from the upper
// left corner.
type ZoneMap struct {
	ID      MapID         `doc:"id,required"`
	Name    string        `doc:"name,required" help:"what people call it"`
	View    string        `doc:"view" help:"from where the casting is seen on it"`
	Picture string        `doc:"picture" help:"PNG, JPEG or SVG file in this folder; left out, the outlines alone are drawn"`
	Size    geom.Flat     `doc:"size,required" help:"how wide and how high it is, [width, height]; of a picture most easily in its dots"`
	Std     float64       `doc:"std,required" help:"standard uncertainty of a place that a person points at on it, in the same units"`
	Scale   unit.MM       `doc:"scale" help:"length on the casting of one unit, where the map is true to scale"`
	Zones   []ZoneOutline `doc:"zones,required"`
	Source  string        `doc:"source,required"`
}

// ZoneOutline is where a zone lies on a map. A zone that is seen in several places has several.
type ZoneOutline struct {
	Zone    ZoneID       `doc:"zone,required"`
	Outline geom.Polygon `doc:"outline,required" help:"its corners in order [[x, y], ...]; the last is joined to the first"`
}

// ZoneMap is the map of that identity.
func (c Casting) ZoneMap(id MapID) (ZoneMap, bool) {
	return find(c.Maps, id, func(m *ZoneMap) MapID { return m.ID })
}

// Depths is how deep the deepest place of a way lies in each zone of the map, as places that are
// at most so far apart show it: below zero is how far the whole way lies outside.
func (m ZoneMap) Depths(way []geom.Flat, apart float64) map[ZoneID]float64 {
	out := map[ZoneID]float64{}
	for _, q := range along(way, apart) {
		for _, z := range m.Zones {
			d := z.Outline.Depth(q)
			if was, ok := out[z.Zone]; !ok || d > was {
				out[z.Zone] = d
			}
		}
	}
	return out
}

// Strays is the least by which some place of a way lies outside of the zones, zero when all of it
// lies in them.
func (m ZoneMap) Strays(way []geom.Flat, apart float64, in func(ZoneID) bool) float64 {
	far := 0.0
	for _, q := range along(way, apart) {
		off := math.Inf(1)
		for _, z := range m.Zones {
			if in(z.Zone) {
				off = min(off, -z.Outline.Depth(q))
			}
		}
		far = max(far, off)
	}
	return far
}

// mostPlaces is how many places of a way are looked at, about.
const mostPlaces = 4096

// along is the places of a way and others between them, at most so far apart; of a very long
// way farther.
func along(way []geom.Flat, apart float64) []geom.Flat {
	if len(way) == 0 {
		return nil
	}
	long := 0.0
	for i := range way[1:] {
		long += way[i].Dist(way[i+1])
	}
	apart = max(apart, long/mostPlaces)
	out := []geom.Flat{way[0]}
	for i, a := range way[:len(way)-1] {
		b := way[i+1]
		n := max(1, math.Ceil(a.Dist(b)/apart))
		for k := 1.0; k < n; k++ {
			out = append(out, geom.Flat{a[0] + float64((b[0]-a[0])*(k/n)), a[1] + float64((b[1]-a[1])*(k/n))})
		}
		out = append(out, b)
	}
	return out
}

// On says that a place lies on the map.
func (m ZoneMap) On(q geom.Flat) bool {
	return q[0] >= 0 && q[1] >= 0 && q[0] <= m.Size[0] && q[1] <= m.Size[1]
}

// pictureEndings are the endings of files that a map may be a picture in.
var pictureEndings = []string{".png", ".jpg", ".jpeg", ".svg"}

// Most sides that an outline has, and how fine a map can be read: a person points at no less
// than a ten-thousandth of it.
const (
	mostSides  = 500
	finestRead = 1e-4
	widestMap  = 1e6
)

func (c *checker) zoneMaps(i int, k Casting) {
	for j, m := range k.Maps {
		path := at("castings", i, "zone_maps", j)
		if m.Picture != "" {
			c.mapPicture(path+".picture", m.Picture)
		}
		wide := max(m.Size[0], m.Size[1])
		switch {
		case min(m.Size[0], m.Size[1]) <= 0 || wide > widestMap:
			c.fault(path+".size", fmt.Sprintf("[%g, %g] is out of range", m.Size[0], m.Size[1]), fmt.Sprintf("width and height are more than 0 and at most %g", widestMap))
			continue
		case m.Std < finestRead*wide || m.Std > wide:
			c.fault(path+".std", fmt.Sprintf("%g is out of range", m.Std), fmt.Sprintf("say how well a place can be pointed at: at least a ten-thousandth of the map (%g), in its units", finestRead*wide))
		}
		notNegative(c, path+".scale", m.Scale)
		if len(m.Zones) == 0 {
			c.fault(path+".zones", "no zone is drawn on the map", "give the outline of each zone that is seen on it")
		}
		same(c, path+".zones", m.Zones)
		for n, z := range m.Zones {
			at := fmt.Sprintf("%s.zones[%d]", path, n)
			if !slices.ContainsFunc(k.Zones, func(o Zone) bool { return o.ID == z.Zone }) && c.ref(at+".zone", aZone, string(z.Zone)) {
				c.fault(at+".zone", fmt.Sprintf("zone %q is none of casting %s", z.Zone, k.ID), "name a zone of this casting")
			}
			c.outline(at+".outline", m, z.Outline)
		}
	}
}

func (c *checker) mapPicture(at, file string) {
	if _, ok := c.files[file]; !ok {
		c.fault(at, fmt.Sprintf("the file %q is not in the folder", file), "put it there, or write its name as it is in the folder")
	} else if !slices.Contains(pictureEndings, strings.ToLower(path.Ext(file))) {
		c.fault(at, fmt.Sprintf("%q is no picture of a kind that is shown", file), "use a PNG, JPEG or SVG file")
	}
}

func (c *checker) outline(at string, m ZoneMap, p geom.Polygon) {
	if len(p) < 3 || len(p) > mostSides {
		c.fault(at, fmt.Sprintf("it has %d corners", len(p)), fmt.Sprintf("an outline has three at least, and %d at most", mostSides))
		return
	}
	for k, q := range p {
		if !m.On(q) {
			c.fault(fmt.Sprintf("%s[%d]", at, k), fmt.Sprintf("[%g, %g] lies outside of the map", q[0], q[1]), fmt.Sprintf("x runs from 0 to %g to the right, y from 0 to %g down", m.Size[0], m.Size[1]))
			return
		}
	}
	if i, j, crosses := p.Crossing(); crosses {
		c.fault(fmt.Sprintf("%s[%d]", at, i), fmt.Sprintf("the side that begins here meets that which begins at corner %d", j+1), "name the corners in the order in which they follow one another round the zone")
	}
}
