package job

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// TestFaultsOfPins: each fault of a pin by its field and what is wrong with it. The map is 200 by
// 100 units.
func TestFaultsOfPins(t *testing.T) {
	pin := func(at ...geom.Flat) Pin { return Pin{Map: "M1", At: at} }
	for name, c := range map[string]struct {
		set  func(f *Finding, k *body.Casting)
		want string // begins with the field below the finding; empty: none
	}{
		"a way":            {func(f *Finding, _ *body.Casting) { f.Pins = []Pin{pin(geom.Flat{0, 0}, geom.Flat{200, 100})} }, ""},
		"unknown map":      {func(f *Finding, _ *body.Casting) { f.Pins = []Pin{{"M7", []geom.Flat{{1, 1}}}} }, `pins[0].map: zone map "M7" does not exist; did you mean "M1"?`},
		"map twice":        {func(f *Finding, _ *body.Casting) { f.Pins = []Pin{pin(geom.Flat{1, 1}), pin(geom.Flat{2, 2})} }, `pins[1].map: zone map "M1" has a pin of the finding already`},
		"no place":         {func(f *Finding, _ *body.Casting) { f.Pins = []Pin{pin()} }, "pins[0].at_map: it has 0 places"},
		"too many places":  {func(f *Finding, _ *body.Casting) { f.Pins = []Pin{pin(make([]geom.Flat, 501)...)} }, "pins[0].at_map: it has 501 places"},
		"beside the map":   {func(f *Finding, _ *body.Casting) { f.Pins = []Pin{pin(geom.Flat{1, 1}, geom.Flat{1, 100.5})} }, "pins[0].at_map[1]: [1, 100.5] lies outside of the map"},
		"right of the map": {func(f *Finding, _ *body.Casting) { f.Pins = []Pin{pin(geom.Flat{201, 1})} }, "pins[0].at_map[0]: [201, 1] lies outside of the map"},
		"on another part":  {func(f *Finding, _ *body.Casting) { f.Part, f.Pins = "P-SKIN", []Pin{pin(geom.Flat{1, 1})} }, "zones: part P-SKIN is no casting"},
		"one place of a crack without mesh": {func(f *Finding, k *body.Casting) {
			k.Mesh, f.Pins = "", []Pin{pin(geom.Flat{1, 1})}
		}, "pins[0].at_map: a single place does not say into which zones the crack runs"},
		"one place twice": {func(f *Finding, k *body.Casting) {
			k.Mesh, f.Pins = "", []Pin{pin(geom.Flat{1, 1}, geom.Flat{1, 1})}
		}, "pins[0].at_map: a single place does not say into which zones the crack runs"},
		"one place of a dent without mesh": {func(f *Finding, k *body.Casting) {
			k.Mesh, f.Kind, f.Pins = "", body.Dent, []Pin{pin(geom.Flat{1, 1})}
		}, ""},
		"one place and zones": {func(f *Finding, k *body.Casting) {
			k.Mesh, f.Zones, f.Pins = "", []body.ZoneID{k.Zones[0].ID}, []Pin{pin(geom.Flat{1, 1})}
		}, ""},
		"neither zones nor pins": {func(f *Finding, k *body.Casting) { k.Mesh = "" }, "zones: it is not said in which zones the crack lies"},
		"a way without mesh":     {func(f *Finding, k *body.Casting) { k.Mesh, f.Pins = "", []Pin{pin(geom.Flat{1, 1}, geom.Flat{2, 2})} }, ""},
	} {
		s, b := goodState(t), goodBody(t)
		i := slices.IndexFunc(b.Castings, func(k body.Casting) bool { return k.Part == s.Findings[0].Part })
		b.Castings[i].Maps = []body.ZoneMap{{ID: "M1", Size: geom.Flat{200, 100}}}
		c.set(&s.Findings[0], &b.Castings[i])
		problems, _ := CheckAgainst(&s, b, goodShop(t))
		problems = append(s.Validate(), problems...)
		var got []string
		for _, p := range problems {
			if strings.HasPrefix(p.Field, "findings[0].pins") || strings.HasPrefix(p.Field, "findings[0].zones") {
				got = append(got, strings.TrimPrefix(p.Field, "findings[0].")+": "+p.Msg+"; "+p.Hint)
			}
		}
		if c.want == "" && len(got) > 0 || c.want != "" && (len(got) != 1 || !strings.HasPrefix(got[0], c.want)) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// TestPinsAreTold: what is told to the manufacturer has the pins, and a pin that was moved since is
// another finding. Without a signature that stands nothing of them counts.
func TestPinsAreTold(t *testing.T) {
	s := goodState(t)
	s.Findings[0].Pins = []Pin{{"M1", []geom.Flat{{1, 1}, {2, 2}}}}
	told := s.AsTold(s.Findings[0].ID)
	was := told.Findings[0]
	if was.otherByHand(s.Findings[0]) != "" || len(was.Pins) != 1 {
		t.Errorf("told as %+v", was.Pins)
	}
	s.Findings[0].Pins[0].At[1][0] = 3
	if was.Pins[0].At[1][0] != 2 || s.Findings[0].otherByHand(was) == "" {
		t.Errorf("moved since: %+v", was.Pins)
	}
	other := was
	other.Pins = []Pin{{"M2", was.Pins[0].At}}
	if other.otherByHand(was) == "" {
		t.Error("the same places on another map are the same")
	}
	if f, why := s.Claims(Finding{By: "nobody", Pins: was.Pins}, goodShop(t), s.Opened); why == "" || f.Pins != nil {
		t.Errorf("%q: %+v", why, f.Pins)
	}
}
