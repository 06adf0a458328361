package body

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
)

func goodMap(zone ZoneID) ZoneMap {
	return ZoneMap{ID: "M1", Name: "Left side", Size: geom.Flat{200, 100}, Std: 1, Source: "Invented",
		Zones: []ZoneOutline{{zone, geom.Polygon{{0, 0}, {100, 0}, {100, 100}, {0, 100}}}}}
}

// TestFaultsOfZoneMaps: each fault by its field, and what lies just within.
func TestFaultsOfZoneMaps(t *testing.T) {
	square := func(m *ZoneMap) geom.Polygon { return m.Zones[0].Outline }
	for name, c := range map[string]struct {
		set   func(b *Body, m *ZoneMap)
		field string // empty: none
	}{
		"as it is":               {func(*Body, *ZoneMap) {}, ""},
		"no such picture":        {func(_ *Body, m *ZoneMap) { m.Picture = "maps/none.png" }, "picture"},
		"no picture by its name": {func(_ *Body, m *ZoneMap) { m.Picture = PointsFile }, "picture"},
		"without width":          {func(_ *Body, m *ZoneMap) { m.Size[0] = 0 }, "size"},
		"height below zero":      {func(_ *Body, m *ZoneMap) { m.Size[1] = -5 }, "size"},
		"endless":                {func(_ *Body, m *ZoneMap) { m.Size[0] = 1e7 }, "size"},
		"read without doubt":     {func(_ *Body, m *ZoneMap) { m.Std = 0 }, "std"},
		"read too finely":        {func(_ *Body, m *ZoneMap) { m.Std = 0.019 }, "std"},
		"read finely":            {func(_ *Body, m *ZoneMap) { m.Std = 0.02 }, ""},
		"read as the whole":      {func(_ *Body, m *ZoneMap) { m.Std = 200 }, ""},
		"read worse than that":   {func(_ *Body, m *ZoneMap) { m.Std = 201 }, "std"},
		"scale below zero":       {func(_ *Body, m *ZoneMap) { m.Scale = -1 }, "scale"},
		"no zones":               {func(_ *Body, m *ZoneMap) { m.Zones = nil }, "zones"},
		"unknown zone":           {func(_ *Body, m *ZoneMap) { m.Zones[0].Zone = "Z-NONE" }, "zones[0].zone"},
		"zone of another casting": {func(b *Body, m *ZoneMap) {
			k := b.Castings[0]
			k.ID, k.Maps, k.Zones = "other", nil, []Zone{{ID: "Z-OTHER", Name: "Other"}}
			b.Castings = append(b.Castings, k)
			m.Zones[0].Zone = "Z-OTHER"
		}, "zones[0].zone"},
		"two corners":      {func(_ *Body, m *ZoneMap) { m.Zones[0].Outline = square(m)[:2] }, "zones[0].outline"},
		"a triangle":       {func(_ *Body, m *ZoneMap) { m.Zones[0].Outline = square(m)[:3] }, ""},
		"too many corners": {func(_ *Body, m *ZoneMap) { m.Zones[0].Outline = make(geom.Polygon, 501) }, "zones[0].outline"},
		"beside the map":   {func(_ *Body, m *ZoneMap) { square(m)[2] = geom.Flat{100, 100.5} }, "zones[0].outline[2]"},
		"left of the map":  {func(_ *Body, m *ZoneMap) { square(m)[3] = geom.Flat{-0.5, 100} }, "zones[0].outline[3]"},
		"in its corner":    {func(_ *Body, m *ZoneMap) { square(m)[2] = geom.Flat{200, 100} }, ""},
		"crosses itself":   {func(_ *Body, m *ZoneMap) { square(m)[2], square(m)[3] = square(m)[3], square(m)[2] }, "zones[0].outline[1]"},
		"twice the same":   {func(b *Body, m *ZoneMap) { b.Castings[0].Maps = append(b.Castings[0].Maps, *m) }, "id"},
	} {
		fields, all := changed(t, func(b *Body) {
			b.Castings[0].Maps = []ZoneMap{goodMap(b.Castings[0].Zones[0].ID)}
			c.set(b, &b.Castings[0].Maps[0])
		})
		maps := slices.DeleteFunc(fields, func(f string) bool { return !strings.Contains(f, "zone_maps") })
		n := 0
		if name == "twice the same" {
			n = 1
		}
		want := []string{"castings[0].zone_maps[" + string(rune('0'+n)) + "]." + c.field}
		if c.field == "" {
			want = nil
		}
		if !slices.Equal(maps, want) {
			t.Errorf("%s: %q, want %q\n%s", name, maps, want, all)
		}
	}
}

// TestWaysOnAMap: how deep ways lie in zones, and how far they stray from them; by hand on
// two squares with a gap of 20 between them.
func TestWaysOnAMap(t *testing.T) {
	square := func(x float64) geom.Polygon {
		return geom.Polygon{{x, 0}, {x + 40, 0}, {x + 40, 40}, {x, 40}}
	}
	m := ZoneMap{Size: geom.Flat{100, 40}, Zones: []ZoneOutline{{"A", square(0)}, {"B", square(60)}}}
	all := func(ZoneID) bool { return true }
	for _, c := range []struct {
		way          []geom.Flat
		a, b, strays float64
	}{
		{[]geom.Flat{{20, 20}}, 20, -40, 0},
		{[]geom.Flat{{50, 20}}, -10, -10, 10},
		{[]geom.Flat{{10, 20}, {90, 20}}, 20, 20, 10}, // over the gap
		{[]geom.Flat{{5, 20}, {5, 20}}, 5, -55, 0},
		{[]geom.Flat{{20, 40}, {20, 5}}, 20, -40, 0}, // deepest between its ends
	} {
		d := m.Depths(c.way, 0.5)
		if math.Abs(d["A"]-c.a) > 0.25 || math.Abs(d["B"]-c.b) > 0.25 {
			t.Errorf("%v: %v", c.way, d)
		}
		if got := m.Strays(c.way, 0.5, all); math.Abs(got-c.strays) > 0.25 {
			t.Errorf("%v strays by %v, want %v", c.way, got, c.strays)
		}
	}
	if got := m.Strays([]geom.Flat{{70, 20}}, 1, func(z ZoneID) bool { return z == "A" }); got != 30 {
		t.Errorf("30 right of A: %v", got)
	}
	if got := m.Strays([]geom.Flat{{70, 20}}, 1, func(ZoneID) bool { return false }); !math.IsInf(got, 1) {
		t.Errorf("from no zone: %v", got)
	}
	if got := along([]geom.Flat{{0, 0}, {1e9, 0}}, 1e-9); len(got) > 2*mostPlaces {
		t.Errorf("%d places", len(got))
	}
	if got := along(nil, 1); got != nil {
		t.Errorf("%v", got)
	}
	b := Casting{Maps: []ZoneMap{{ID: "M1"}, {ID: "M2"}, {ID: "M3", Name: "third"}}}
	if got, ok := b.ZoneMap("M3"); !ok || got.Name != "third" {
		t.Errorf("%v %v", got, ok)
	}
	if _, ok := b.ZoneMap("M4"); ok {
		t.Error("there is no fourth")
	}
}
