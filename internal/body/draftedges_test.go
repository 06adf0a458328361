package body

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// placed is the faults of a draft, each by where it stands: file, line and field.
func placed(t *testing.T, d Draft) []string {
	t.Helper()
	got, err := d.Make()
	var ps diag.Problems
	if !errors.As(err, &ps) || got.Files != nil {
		t.Fatalf("no faults: %v", err)
	}
	out := make([]string, len(ps))
	for i, p := range ps {
		out[i] = fmt.Sprintf("%s:%d:%d %s", p.File, p.Line, p.Col, p.Field)
		if p.Msg == "" {
			t.Errorf("%+v does not say what is wrong", p)
		}
	}
	return out
}

func partsOf(t *testing.T, text string) *Any {
	t.Helper()
	own, least := PartColumns()
	g, problems := doc.ReadGrid("parts.txt", []byte(text), NamesColumns(own, least))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return &Any{Grid: g}
}

// TestWhereFaultsOfADraftStand: in the file, line and column that the person has, or under the
// field that has to be said; those without a file first.
func TestWhereFaultsOfADraftStand(t *testing.T) {
	const points = "id;x;y;z\nA;0.5;0;0\nB;900;0;0\nC;0;0;300\n"
	weld := func(d *Draft) {
		d.Points, d.Wall, d.Price, d.Skill = nil, "4 mm", "1900.00 EUR", "weld"
		d.Procedures = map[string][]byte{"in/cr.yaml": []byte(procedureText)}
	}
	for name, c := range map[string]struct {
		with func(*Draft)
		want []string
	}{
		"nothing at all": {func(d *Draft) { *d = Draft{} }, []string{":0:0 id", ":0:0 name", ":0:0 revision", ":0:0 source", ":0:0 currency", ":0:0 load_state", ":0:0 points"}},
		"blanks":         {func(d *Draft) { d.Name, d.Source = " ", "\t" }, []string{":0:0 name", ":0:0 source"}},
		"of the top":     {func(d *Draft) { d.Currency = "euro" }, []string{":0:0 currency"}},
		"of a whole table": {func(d *Draft) {
			d.Points = pointsOf(t, "id;x;y;z\nA;0.5;0;0\nB;900;0;0\nC;500;0;0\n", "mm", doc.NoMark)
		}, []string{"t:0:0 points"}},
		"of a row": {func(d *Draft) {
			d.Points = pointsOf(t, "id;x;y;z;tol;tol_x\nA;0.5;0;0;1;1\nB;900;0;0;1;\nC;0;0;300;1;\n", "mm", doc.NoMark)
		}, []string{"t:2:0 "}},
		"of a cell, as its head is written": {func(d *Draft) {
			d.Points = pointsOf(t, "id;x;Y [cm];z\n\nA;0.5;0;0\nB;900;0;0\n\nC;0;5000;300\n", "mm", doc.NoMark)
		}, []string{"t:6:0 column Y [cm]"}},
		"asked first, then the tables": {func(d *Draft) {
			d.Points = pointsOf(t, points+"D;left;0;0\n", "mm", doc.NoMark)
			d.Parts = partsOf(t, "id;name\nP-1;One\nP-2;Two\n")
		}, []string{":0:0 skill", "t:5:0 column x"}},
		"too many points": {func(d *Draft) { d.Points.Rows = make([][]string, 2001) }, []string{"t:0:0 "}},
		"just few enough": {func(d *Draft) {
			d.Points.Rows = append(slices.Grow(d.Points.Rows, 2000), d.Points.Rows[1:]...)
			for len(d.Points.Rows) < 2000 {
				d.Points.Rows = append(d.Points.Rows, d.Points.Rows[1])
			}
			d.Points.Unit = ""
		}, []string{":0:0 unit"}},
		"two references that are not there": {func(d *Draft) { d.References = []PointID{"Q", "A", "R"} }, []string{":0:0 reference", ":0:0 reference"}},
		"of the procedure": {func(d *Draft) {
			weld(d)
			d.Procedures["in/cr.yaml"] = []byte(strings.Replace(procedureText, "allow: [weld]", "allow: [wield]", 1))
		}, []string{"in/cr.yaml:13:94 rows[0].allow[0]"}},
		"of the new part": {func(d *Draft) { weld(d); d.Price = "1900.555 EUR" }, []string{":0:0 column price"}},
		"of the new part of a table": {func(d *Draft) {
			weld(d)
			d.Price = "1 USD"
			d.Parts = partsOf(t, "id;name;kind;price;skill\nP-1;One;panel;1 EUR;bench\n")
		}, []string{"parts.txt:0:0 column price"}},
		"no part, since no row": {func(d *Draft) { weld(d); d.Price = ""; d.Parts = partsOf(t, "id;name\n") }, []string{"parts.txt:0:0 "}},
		"wall without its unit": {func(d *Draft) { weld(d); d.Wall = "4" }, []string{":0:0 wall"}},
		"treatments, each":      {func(d *Draft) { d.Treatments = map[string]string{"dress": "40", "wield": "40 min", "weld": "40 min"} }, []string{":0:0 treatment", ":0:0 treatment", ":0:0 skill"}},
		"two castings, and no more": {func(d *Draft) {
			weld(d)
			d.Wall = ""
			d.Procedures["in/ds.yaml"] = []byte(strings.Replace(procedureText, "casting: rear", "casting: fore", 1))
		}, []string{"in/ds.yaml:0:0 casting"}},
		"a procedure that cannot be read": {func(d *Draft) { weld(d); d.Wall = ""; d.Procedures["in/cr.yaml"] = []byte("format: [\n") }, []string{"in/cr.yaml:1:9 "}},
	} {
		d := said()
		d.Points = pointsOf(t, points, "mm", doc.NoMark)
		c.with(&d)
		if got := placed(t, d); !slices.Equal(got, c.want) {
			_, err := d.Make()
			t.Errorf("%s: %q, want %q\n%v", name, got, c.want, err)
		}
	}
}

// TestZonesThatAProcedureNames: each once, in the order in which it names them, of its rows first
// and then of its areas. A row whose condition cannot be read names none.
func TestZonesThatAProcedureNames(t *testing.T) {
	p := Procedure{
		Rows:  []Row{{When: map[string]string{FactZones: "any of B, A"}}, {}, {When: map[string]string{FactZones: "perhaps C"}}, {When: map[string]string{FactZones: "only A, D"}}},
		Areas: []AreaRule{{Zones: []ZoneID{"D", "E"}}, {Zones: []ZoneID{"F", "B"}}},
	}
	if got := zonesNamed(p); !slices.Equal(got, []ZoneID{"A", "B", "D", "E", "F"}) {
		t.Errorf("%v", got)
	}
	d := said()
	d.Wall, d.Price, d.Skill = "4 mm", "1900.00 EUR", "weld"
	second := strings.NewReplacer(`revision: "1"`, "revision: \"2\"\nsupersedes: \"1\"", "2026-02-01", "2026-03-01", "Z-FLOOR", "Z-END").Replace(procedureText)
	d.Procedures = map[string][]byte{"a.yaml": []byte(procedureText), "b.yaml": []byte(second)}
	got, err := d.Make()
	if err != nil {
		t.Fatal(err)
	}
	if told := "casting rear is part P-REAR, without a mesh; its zones are those that the procedure names: Z-FLOOR, Z-RIM, Z-SILL, Z-END"; got.Told[0] != told || got.Castings != 1 || got.Parts != 1 {
		t.Errorf("%q %+v", got.Told, got)
	}
}

// TestTreatmentsThatAreSaid: each of one step, of the skill and the time that are said, and told.
func TestTreatmentsThatAreSaid(t *testing.T) {
	d := said()
	d.Points = pointsOf(t, "id;x;y;z\nA;0.5;0;0\nB;900;0;0\nC;0;0;300\n", "mm", doc.NoMark)
	d.Skill, d.Treatments = "bench", map[string]string{"weld": "40 min", "dress": "5 min"}
	got, err := d.Make()
	if err != nil {
		t.Fatal(err)
	}
	b, err := Decode(got.Files)
	if err != nil || len(b.Treatments) != 2 || b.Treatments[0].ID != "DRESS" || b.Treatments[0].Kind != Dress || b.Treatments[0].Steps[0].Fixed != 5 || b.Treatments[1].ID != "WELD" || b.Treatments[1].Steps[0].Skill != "bench" {
		t.Errorf("%v %+v", err, b)
	}
	if n := len(got.Told); got.Told[n-2] != "treatment dress is one step of 5 min as you say; write its real steps into body.yaml" {
		t.Errorf("%q", got.Told)
	}
}

// TestPointsThatFaceEachOther: on either side of the centre plane, and nowhere farther apart than
// is said in any direction; a point on the plane faces none, however near.
func TestPointsThatFaceEachOther(t *testing.T) {
	at := func(side string, x, y, z float64) spot { return spot{side, [3]float64{x, y, z}} }
	for _, c := range []struct {
		a, b   spot
		within float64
		want   bool
	}{
		{at("L", 5, -7, 1), at("R", 5, 7, 1), 0, true},
		{at("R", 5, 7, 1), at("L", 5, -7, 1), 0, true},
		{at("L", 5, -7, 1), at("R", 5.5, 7, 1), 0.5, true}, // as far as is said
		{at("L", 5, -7, 1), at("R", 5, 7.5, 1), 0.5, true},
		{at("L", 5, -7, 1), at("R", 5, 7, 0.5), 0.5, true},
		{at("L", 5, -7, 1), at("R", 5.75, 7, 1), 0.5, false},
		{at("L", 5, -7, 1), at("R", 5, 7.75, 1), 0.5, false},
		{at("L", 5, -7, 1), at("R", 5, 7, 0.25), 0.5, false},
		{at("L", 5, -1, 1), at("", 5, 0, 1), 2, false},
		{at("", 5, 0, 1), at("R", 5, 1, 1), 2, false},
		{at("", 5, 0, 1), at("", 5, 0, 1), 2, false},
		{at("L", 5, -1, 1), at("L", 5, -1, 1), 4, false}, // a point does not face itself
	} {
		m := maker{}
		m.d.MirrorWithin = unit.MM(c.within)
		if got := m.facing(c.a, c.b); got != c.want {
			t.Errorf("%v, %v within %g: %v", c.a, c.b, c.within, got)
		}
	}
}

// TestSidesOfATable: what of a table of one side is added, with all that holds there too; nothing
// where the other one is there, is named, or is the point itself.
func TestSidesOfATable(t *testing.T) {
	d := said()
	d.BothSides = true
	d.Points = pointsOf(t, "id;x;y;z;mirror;tol;std;name\nM;1;-2;3;N;1;0.5;Tower\nN;9;2;3;;1;;\nA;0.5;0;0;;1;;\nB;900;0;0;;1;;\nC;0;±0;300;;1;;\nE;50;-7;1;;2;0.25;Rail\nF;60;7;1;;2;;\nG;60;-7;1;;2;;\n", "mm", doc.NoMark)
	got, err := d.Make()
	if err != nil {
		t.Fatal(err)
	}
	b, err := Decode(got.Files)
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, p := range b.Points {
		ids = append(ids, string(p.ID+"="+p.Mirror))
	}
	if want := []string{"M=N", "N=M", "A=", "B=", "C=", "E=E-R", "F=G", "G=F", "N-L=", "E-R=E"}; !slices.Equal(ids, want) && !slices.Equal(ids, []string{"M=N", "N=M", "A=", "B=", "C=", "E=E-R", "F=G", "G=F", "E-R=E"}) {
		t.Errorf("%q, want %q", ids, want)
	}
	e, _ := b.Point("E")
	r, _ := b.Point("E-R")
	if r.X != 50 || r.Y != 7 || r.Z != 1 || r.Tol != e.Tol || r.Std != e.Std || r.Name != "Rail" || bool(r.Reference) || e.Std == (unit.Maybe[float64]{}) {
		t.Errorf("%+v of %+v", r, e)
	}
}

// TestHeadsOfColumns: names and units as tables have them; by hand.
func TestHeadsOfColumns(t *testing.T) {
	for head, want := range map[string][2]string{
		"x": {"x", ""}, " X ": {"x", ""}, "x [mm]": {"x", "mm"}, "X_(cm)": {"x", "cm"}, "x(IN)": {"x", "IN"}, "x mm": {"x", "mm"}, "x_m": {"x", "m"}, "x in": {"x", "in"},
		"x [\"]": {"x", "in"}, "x [Inches]": {"x", "in"}, "x [ft]": {"x", "ft"}, "Price [EUR]": {"price", "EUR"}, "Tolerance X [metre]": {"tol_x", "m"}, "Bolt-on": {"bolt_on", ""}, "point": {"id", ""}, "Twin": {"mirror", ""}, "mm": {"mm", ""}, "[mm]": {"", "mm"},
	} {
		if name, unit := headName(head); [2]string{name, unit} != want {
			t.Errorf("%q: %q %q, want %q", head, name, unit, want)
		}
	}
}

// TestDecimalMarkOfATable: where no number shows it the file itself, or the person, says it; a cell
// that may be either is asked for by its place. By hand.
func TestDecimalMarkOfATable(t *testing.T) {
	for _, c := range []struct {
		cell       string
		file, said doc.Mark
		want       string // the cell as it is read, or the start of what is asked or told
	}{
		{"1.234", doc.NoMark, doc.NoMark, ": decimal: t:2: column x"}, {"1,234", doc.NoMark, doc.NoMark, ": decimal: t:2: column x"},
		{"1.234", doc.Point, doc.NoMark, "1.234"}, {"1,234", doc.Comma, doc.NoMark, "1.234"}, {"1,234", doc.NoMark, doc.Comma, "1.234"}, {"1.234", doc.NoMark, doc.Point, "1.234"},
		{"1.234", doc.NoMark, doc.Comma, "t:2: column x: "}, {"1,234", doc.Point, doc.Point, "t:2: column x: "}, {"1.234", doc.Comma, doc.NoMark, ": decimal: t:2: column x"},
		{"1234,5", doc.NoMark, doc.NoMark, "1234.5"}, {"0.234", doc.NoMark, doc.NoMark, "0.234"}, {"12.34", doc.NoMark, doc.Comma, "12.34"}, {"1234", doc.NoMark, doc.NoMark, "1234"},
	} {
		d := said()
		d.Points = pointsOf(t, "id;x;y;z\nA;"+c.cell+";0;0\nB;900;0;0\nC;0;0;300\n", "mm", c.said)
		d.Points.Mark = c.file
		got, err := d.Make()
		if err != nil {
			if !strings.HasPrefix(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("%+v: %v", c, err)
			}
		} else if !strings.Contains(string(got.Files[PointsFile]), "\nA,"+c.want+",0,0,") {
			t.Errorf("%+v: %s", c, got.Files[PointsFile])
		}
	}
}

// TestHeadsThatSayNoUnit: asked for once, whatever number of columns lacks it.
func TestHeadsThatSayNoUnit(t *testing.T) {
	for unit, want := range map[LengthUnit]string{"": ":0:0 unit", "ell": ":0:0 unit"} {
		d := said()
		d.Points = pointsOf(t, "id;x;y;z\nA;0.5;0;0\nB;900;0;0\nC;0;0;300\n", unit, doc.NoMark)
		if got := placed(t, d); !slices.Equal(got, []string{want}) {
			t.Errorf("%q: %q", unit, got)
		}
	}
	d := said()
	d.Points = pointsOf(t, "id;;x;y;z\nA;left;0.5;0;0\nB;;900;0;0\nC;;0;0;300\n", "mm", doc.NoMark)
	_, err := d.Make()
	if err == nil || !strings.HasPrefix(err.Error(), "t:1: column 2 has no name") {
		t.Errorf("%v", err)
	}
	d.Points = pointsOf(t, "id;;x;y;z\nA;;0.5;0;0\nB;;900;0;0\nC;;0;0;300\n", "mm", doc.NoMark)
	if got, err := d.Make(); err != nil || slices.ContainsFunc(got.Told, func(s string) bool { return strings.Contains(s, "left out") }) {
		t.Errorf("an empty column: %v %q", err, got.Told)
	}
}

// TestPlacesOfAWay: on whole numbers, as the way is paced off by hand; and drawn, no two in order
// farther apart than is said, and no place of the way itself left out.
func TestPlacesOfAWay(t *testing.T) {
	for _, c := range []struct {
		way   []geom.Flat
		apart float64
		want  []geom.Flat
	}{
		{[]geom.Flat{{1, 2}}, 1, []geom.Flat{{1, 2}}},
		{[]geom.Flat{{0, 0}, {4, 0}}, 1, []geom.Flat{{0, 0}, {1, 0}, {2, 0}, {3, 0}, {4, 0}}},
		{[]geom.Flat{{0, 8}, {0, 0}, {2, 0}}, 4, []geom.Flat{{0, 8}, {0, 4}, {0, 0}, {2, 0}}},
		{[]geom.Flat{{0, 0}, {5, 0}}, 4, []geom.Flat{{0, 0}, {2.5, 0}, {5, 0}}},
		{[]geom.Flat{{0, 0}, {3, 4}}, 9, []geom.Flat{{0, 0}, {3, 4}}},
		{[]geom.Flat{{7, 7}, {7, 7}}, 1, []geom.Flat{{7, 7}, {7, 7}}},
	} {
		if got := along(c.way, c.apart); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%v, %g apart: %v, want %v", c.way, c.apart, got, c.want)
		}
	}
	if got := along([]geom.Flat{{0, 0}, {8192, 0}}, 1); len(got) != 4097 || got[1] != (geom.Flat{2, 0}) {
		t.Errorf("a very long way: %d places, %v", len(got), got[:2])
	}
	rng := rand.New(rand.NewPCG(19, 3))
	for range 40 {
		var way []geom.Flat
		for range 1 + rng.IntN(5) {
			way = append(way, geom.Flat{float64(rng.IntN(9)), float64(rng.IntN(9))})
		}
		got := along(way, 0.75)
		next := 0
		for i, q := range got {
			if next < len(way) && q == way[next] {
				next++
			}
			if i > 0 && got[i-1].Dist(q) > 0.75+1e-12 {
				t.Errorf("%v: %v and %v lie %g apart", way, got[i-1], q, got[i-1].Dist(q))
			}
		}
		if next != len(way) {
			t.Errorf("%v: a corner is left out of %v", way, got)
		}
	}
}

// TestEdgesOfAMap: a place on the border lies on it, one beyond does not.
func TestEdgesOfAMap(t *testing.T) {
	m := ZoneMap{Size: geom.Flat{200, 100}}
	for q, want := range map[geom.Flat]bool{{0, 0}: true, {200, 100}: true, {0, 100}: true, {200, 0}: true, {-1, 50}: false, {201, 50}: false, {50, -1}: false, {50, 101}: false, {100, 50}: true} {
		if m.On(q) != want {
			t.Errorf("%v: %v", q, !want)
		}
	}
}

// TestMapsAreCheckedEach: the largest map and the longest outline that are taken; a map without a
// size hides no fault of the next one, and of an outline the first corner beside the map is told.
func TestMapsAreCheckedEach(t *testing.T) {
	around := func(n int) geom.Polygon { // a comb of n corners without a crossing
		p := geom.Polygon{}
		for i := range n - 2 {
			p = append(p, geom.Flat{float64(i) / 8, float64(2 + i%2)})
		}
		return append(p, geom.Flat{float64(n) / 8, 0}, geom.Flat{0, 0})
	}
	for name, c := range map[string]struct {
		set  func(b *Body, m *ZoneMap)
		want []string
	}{
		"widest":      {func(_ *Body, m *ZoneMap) { m.Size, m.Std = geom.Flat{1e6, 100}, 100 }, nil},
		"high":        {func(_ *Body, m *ZoneMap) { m.Size, m.Std = geom.Flat{100, 1e6}, 99 }, []string{"castings[0].zone_maps[0].std"}},
		"500 corners": {func(_ *Body, m *ZoneMap) { m.Zones[0].Outline = around(500) }, nil},
		"501 corners": {func(_ *Body, m *ZoneMap) { m.Zones[0].Outline = around(501) }, []string{"castings[0].zone_maps[0].zones[0].outline"}},
		"two outside": {func(_ *Body, m *ZoneMap) { m.Zones[0].Outline[1][0], m.Zones[0].Outline[2][0] = 201, 202 }, []string{"castings[0].zone_maps[0].zones[0].outline[1]"}},
		"two maps": {func(b *Body, m *ZoneMap) {
			next := *m
			next.ID, next.Scale, m.Size[0] = "M2", -1, 0
			b.Castings[0].Maps = append(b.Castings[0].Maps, next)
		}, []string{"castings[0].zone_maps[0].size", "castings[0].zone_maps[1].scale"}},
	} {
		fields, all := changed(t, func(b *Body) {
			b.Castings[0].Maps = []ZoneMap{goodMap(b.Castings[0].Zones[0].ID)}
			c.set(b, &b.Castings[0].Maps[0])
		})
		if !slices.Equal(fields, c.want) {
			t.Errorf("%s: %q, want %q\n%s", name, fields, c.want, all)
		}
	}
	for file, want := range map[string]bool{"a.png": true, "a.PNG": true, "a.jpg": true, "a.jpeg": true, "a.svg": true, "a.gif": false, "png": false} {
		c := checker{b: &Body{}, files: map[string][]byte{file: nil}}
		if c.mapPicture("p", file); (len(c.problems) == 0) != want {
			t.Errorf("%s: %v", file, c.problems)
		}
	}
}

// TestYesInATable: in capitals or not.
func TestYesInATable(t *testing.T) {
	d := said()
	d.References = nil
	d.Points = pointsOf(t, "id;x;y;z;Reference\nA;0.5;0;0;YES\nB;900;0;0;Yes\nC;0;0;300;yes\nD;0;0;30;NO\nE;0;0;40;\nF;0;0;50;False\n", "mm", doc.NoMark)
	got, err := d.Make()
	if err != nil {
		t.Fatal(err)
	}
	b, err := Decode(got.Files)
	if err != nil || !b.Points[0].Reference || !b.Points[1].Reference || !b.Points[2].Reference || b.Points[3].Reference || b.Points[4].Reference || b.Points[5].Reference {
		t.Errorf("%v %+v", err, b.Points)
	}
}

// TestReferencesAreAskedForByName: as far as twenty-four points are named among which they are; two are
// not enough, and three are.
func TestReferencesAreAskedForByName(t *testing.T) {
	for n, want := range map[int]string{4: ": reference: at least three reference points are needed, of A0, A1, A2, A3;", 24: ", of A0, A1, A2, ", 25: "needed; name the points"} {
		var text strings.Builder
		text.WriteString("id;x;y;z\n")
		for i := range n {
			fmt.Fprintf(&text, "A%d;%d;0;%d\n", i, 100*i, 20*i*i)
		}
		d := said()
		d.Points, d.References = pointsOf(t, text.String(), "mm", doc.NoMark), []PointID{"A0", "A1"}
		if _, err := d.Make(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%d points: %v", n, err)
		}
		d.References = append(d.References, "A3")
		if _, err := d.Make(); err != nil {
			t.Errorf("%d points: %v", n, err)
		}
	}
}
