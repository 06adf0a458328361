package body

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/doc"
)

// said is a draft that lacks nothing but its tables.
func said() Draft {
	return Draft{ID: "v", Name: "V", Revision: "1", Source: "own", Currency: "EUR", LoadState: "unloaded", Tol: "3 mm", References: []PointID{"A", "B", "C"}}
}

// pointsOf reads a table of points as somebody has it.
func pointsOf(t testing.TB, text string, unit LengthUnit, mark doc.Mark) *Any {
	t.Helper()
	own, least := PointColumns()
	g, problems := doc.ReadGrid("t", []byte(text), NamesColumns(own, least))
	if len(problems) > 0 {
		t.Fatalf("%s\n%v", text, problems)
	}
	return &Any{Grid: g, Unit: unit, Said: mark}
}

// decimals writes thousandths of a millimetre in a unit, exactly: a metre is 1000 mm, an inch 25.4 mm.
func decimals(micro int64, unit LengthUnit, mark string) string {
	digits := map[LengthUnit]int{"mm": 3, "cm": 4, "m": 6}[unit]
	sign := ""
	if micro < 0 {
		sign, micro = "-", -micro
	}
	s := fmt.Sprintf("%0*d", digits+1, micro)
	s = s[:len(s)-digits] + "." + s[len(s)-digits:]
	s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	return sign + strings.Replace(s, ".", mark, 1)
}

// TestAnyTableMakesOneBody: a table of points, drawn by chance and written with any separator,
// decimal mark and unit, in any order of columns, gives the same body; its places are those that
// were drawn.
func TestAnyTableMakesOneBody(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 7))
	for range 12 {
		n := 4 + rng.IntN(12)
		micro := make([][4]int64, n)
		for i := range micro {
			for k := range 3 {
				micro[i][k] = rng.Int64N(8_000_000) - 4_000_000
			}
			micro[i][3] = 500 + rng.Int64N(4000)
		}
		micro[0][0] = 1_234_500 // one number of every table shows its mark in mm, cm and m
		micro[0][1] = 10
		var first Drafted
		for _, unit := range []LengthUnit{"mm", "cm", "m"} {
			for _, mark := range []string{".", ","} {
				for _, sep := range []string{"\t", ";", "|", ",", "  ", " "} {
					text := anyText(rng, micro, unit, mark, sep)
					d := said()
					d.References = []PointID{"P0", "P1", "P2"}
					headSays := rng.IntN(2) == 0
					if headSays {
						head, rest, _ := strings.Cut(text, "\n")
						for _, c := range []string{"x", "y", "z", "tol"} {
							head = strings.Replace(head, "<"+c+">", c+" ["+string(unit)+"]", 1)
						}
						text = head + "\n" + rest
						d.Points = pointsOf(t, text, "", doc.NoMark)
					} else {
						text = strings.NewReplacer("<", "", ">", "").Replace(text)
						d.Points = pointsOf(t, text, unit, doc.NoMark)
					}
					got, err := d.Make()
					if err != nil && strings.Contains(err.Error(), "nearly in one line") {
						continue
					}
					if err != nil {
						t.Fatalf("%s, %q, %q\n%s\n%v", unit, mark, sep, text, err)
					}
					if first.Files == nil {
						first = got
						checkPlaces(t, got, micro)
					}
					if !reflect.DeepEqual(got.Files, first.Files) {
						t.Fatalf("%s, %q, %q\n%s\n%s\nwas\n%s", unit, mark, sep, text, got.Files[PointsFile], first.Files[PointsFile])
					}
				}
			}
		}
	}
}

func checkPlaces(t *testing.T, got Drafted, micro [][4]int64) {
	t.Helper()
	b, err := Decode(got.Files)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range b.Points {
		for k, v := range []float64{p.X, p.Y, p.Z, p.Tol.Value} {
			if want, _ := strconv.ParseFloat(decimals(micro[i][k], "mm", "."), 64); v != want {
				t.Fatalf("point %d, %d: %v, want %v", i, k, v, want)
			}
		}
	}
}

// anyText writes points as a table in a random order of columns, with <x> for the names of lengths.
func anyText(rng *rand.Rand, micro [][4]int64, unit LengthUnit, mark, sep string) string {
	order := rng.Perm(5)
	var b strings.Builder
	line := func(cells [5]string) {
		for i, k := range order {
			if i > 0 {
				b.WriteString(sep)
			}
			c := cells[k]
			if strings.Contains(c, sep) && sep == "," {
				c = `"` + c + `"`
			}
			b.WriteString(c)
		}
		b.WriteString("\n")
	}
	line([5]string{"id", "<x>", "<y>", "<z>", "<tol>"})
	for i, m := range micro {
		cells := [5]string{fmt.Sprintf("P%d", i)}
		for k, v := range m {
			cells[k+1] = decimals(v, unit, mark)
		}
		line(cells)
	}
	return b.String()
}

// TestInches: 25.4 mm by definition.
func TestInches(t *testing.T) {
	d := said()
	d.Points = pointsOf(t, "id;x;y;z\nA;0;0;0\nB;10.5;0;0\nC;0;-1.1;0\n", "in", doc.NoMark)
	got, err := d.Make()
	if err != nil || !strings.Contains(string(got.Files[PointsFile]), "B,266.7,0,0,3") || !strings.Contains(string(got.Files[PointsFile]), "C,0,-27.94,0,3") {
		t.Errorf("%s %v", got.Files[PointsFile], err)
	}
}

// TestWhatIsFilledInIsTold: twins by their places and names, each told, nothing where it is not clear.
func TestWhatIsFilledInIsTold(t *testing.T) {
	for name, c := range map[string]struct {
		rows string
		with func(*Draft)
		file []string
		told []string
		not  []string
	}{
		"by place":  {"D;5;-7;1\nE;5;7;1\n", nil, []string{"D,5,-7,1,3,E,", "E,5,7,1,3,D,"}, []string{"mirror points by their places: D and E"}, nil},
		"not exact": {"D;5;-7;1\nE;5;7.1;1\n", nil, []string{"D,5,-7,1,3,"}, []string{"no point lies at the mirrored place of: D, E"}, []string{"D and E"}},
		"within":    {"D;5;-7;1\nE;5;7.1;1\n", func(d *Draft) { d.MirrorWithin = 0.2 }, []string{"D,5,-7,1,3,E,"}, []string{"D and E"}, nil},
		"two":       {"D;5;-7;1\nE;5;7;1\nF;5;7;1\n", nil, []string{"D,5,-7,1,3,"}, []string{"not clear which point is the mirror of: D, E, F"}, []string{"D and"}},
		"one name":  {"D;5;-7;1\nD;5;7;1\n", nil, []string{"D-L,5,-7,1,3,D-R", "D-R,5,7,1,3,D-L"}, []string{"one name: D"}, nil},
		"y left":    {"D;5;±7;1\n", func(d *Draft) { d.Axes = Axes{"rearward", "left", "up"} }, []string{"D-R,5,-7,1,3,D-L"}, []string{"two points each, -L and -R by the sign of y, since y is given with ±: D", "y left"}, nil},
		"one side":  {"D1L;5;-7;1\nE;5;0;1\nGR;5;9;1\n", func(d *Draft) { d.BothSides = true }, []string{"D1R,5,7,1,3,D1L", "GR-L,5,-9,1,3,GR"}, []string{"added at mirrored places, since the table holds for both sides: D1R, GR-L"}, []string{"E-"}},
		"units": {"", func(d *Draft) {
			d.Points.Rows[0][2] = "Y [CM]"
			d.Points.Rows[2][2] = "-3"
			d.Points.Unit = "m"
			d.Points.Rows[2][1] = "0.9"
			d.Points.Rows[3][3] = "0.3"
			d.Points.Rows[1][1] = "0"
		}, []string{"B,900,-30,0,3"}, []string{"t: in m, as you say: x, z"}, nil},
		"unused": {"", func(d *Draft) { d.Points.Rows[0] = append(d.Points.Rows[0], "Bolt"); pad(d) }, nil, []string{"t: left out, since a body has no such column: Bolt"}, nil},
	} {
		d := said()
		d.Points = pointsOf(t, "id;x;y;z\nA;0.5;0;0\nB;900;0;0\nC;0;0;300\n"+c.rows, "mm", doc.NoMark)
		if c.with != nil {
			c.with(&d)
		}
		got, err := d.Make()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		told, file := strings.Join(got.Told, "\n"), string(got.Files[PointsFile])
		for _, w := range c.told {
			if !strings.Contains(told, w) {
				t.Errorf("%s: %q is not told in\n%s", name, w, told)
			}
		}
		for _, w := range c.file {
			if !strings.Contains(file, "\n"+w) {
				t.Errorf("%s: no line %q in\n%s", name, w, file)
			}
		}
		for _, w := range c.not {
			if strings.Contains(told, w) {
				t.Errorf("%s: %q is told in\n%s", name, w, told)
			}
		}
	}
}

func pad(d *Draft) {
	for i := range d.Points.Rows[1:] {
		d.Points.Rows[i+1] = append(d.Points.Rows[i+1], "M8")
	}
}

// TestTablesRefused: each fault is told where it stands in what the person has, and nothing is made.
func TestTablesRefused(t *testing.T) {
	ok := "A;0.5;0;0\nB;900;0;0\nC;0;0;300\n"
	for name, c := range map[string]struct {
		text string
		with func(*Draft)
		want string
	}{
		"no unit":        {"id;x;y;z\n" + ok, func(d *Draft) { d.Points.Unit = "" }, "unit: t: the column x does not say which unit it is in"},
		"foot":           {"id;x [ft];y;z\n" + ok, nil, `t:1: column x [ft]: "ft" is no unit of length; write mm, cm, m or in`},
		"either mark":    {"id;x;y;z\nA;1.234;0;0\nB;900;0;0\nC;0;0;300\n", nil, `decimal: t:2: column x: "1.234" may be 1234, or 1 and 234 thousandths`},
		"both marks":     {"id;x;y;z\nA;1.2;0;0\nB;900,5;0;0\nC;0;0;300\n", nil, `t:3: column x: "900,5" has another decimal mark than "1.2" on line 2`},
		"thousands":      {"id;x;y;z\nA;1.234,5;0;0\nB;900;0;0\nC;0;0;300\n", nil, `t:2: column x: "1.234,5" is not a number`},
		"said otherwise": {"id;x;y;z\nA;1.234;0;0\nB;900;0;0\nC;0;0;300\n", func(d *Draft) { d.Points.Said = doc.Comma }, `t:2: column x: "1.234" has another mark than the decimal one that is said`},
		"word":           {"id;x;y;z\nA;0.5;left;0\nB;900;0;0\nC;0;0;300\n", nil, `t:2: column y: "left" is not a number`},
		"unit in a cell": {"id;x;y;z\nA;0.5;0;5 mm\nB;900;0;0\nC;0;0;300\n", nil, `t:2: column z: "5 mm" is more than a number`},
		"no place":       {"id;x;y;z\nA;0.5;0;0\nB;900;;0\nC;0;0;300\n", nil, "t:3: column y: no value is given"},
		"twice":          {"id;x;y;z\n" + ok + "A;1;2;3\n", nil, `t:5: column id: the point "A" is there twice`},
		"far":            {"id;x;y;z\n" + ok + "D;30000;2;3\n", nil, "t:5: column x: 30000 mm lies outside any vehicle"},
		"column twice":   {"id;x;X [cm];y;z\nA;0.5;1;0;0\n", nil, "t:1: column X [cm]: this column is there twice"},
		"± x":            {"id;x;y;z\nA;±5;1;0\n", nil, `t:2: column x: "±5" is not a number; only y`},
		"no tolerance":   {"id;x;y;z\n" + ok, func(d *Draft) { d.Tol = "" }, "tol: 3 of 3 points have no tolerance"},
		"bad tolerance":  {"id;x;y;z\n" + ok, func(d *Draft) { d.Tol = "3" }, "tol: "},
		"no references":  {"id;x;y;z\n" + ok, func(d *Draft) { d.References = nil }, "reference: at least three reference points are needed"},
		"no such point":  {"id;x;y;z\n" + ok, func(d *Draft) { d.References[1] = "Q" }, `reference: there is no point "Q"`},
		"in line":        {"id;x;y;z\nA;0;0;0\nB;900;0;0\nC;500;0;0\n", nil, "t: points: the reference points lie nearly in one line"},
		"no row":         {"id;x;y;z\n", nil, "t: there is no row below the head"},
		"odd reference":  {"id;x;y;z;reference\nA;0;0;0;maybe\nB;900;0;0;\nC;500;0;7;\n", func(d *Draft) { d.References = nil }, `t:2: column reference: "maybe" is neither yes nor no`},
		"named twice":    {"id;x;y;z;reference\nA;0;0;0;yes\nB;900;0;0;\nC;500;0;7;\n", nil, "reference: the table names reference points itself"},
		"head":           {"id;x;y;z\n" + ok, func(d *Draft) { d.Name, d.Currency = "", "euro" }, "name: is not said"},
		"currency":       {"id;x;y;z\n" + ok, func(d *Draft) { d.Currency = "euro" }, `currency: "euro" is not a currency`},
		"twin there":     {"id;x;y;z\nD1L;0;-5;0\nD1R;9;5;0\n" + ok, func(d *Draft) { d.BothSides = true }, `t:2: the point on the other side of "D1L" would be called "D1R", and a point of that name is there at another place`},
	} {
		d := said()
		d.Points = pointsOf(t, c.text, "mm", doc.NoMark)
		if c.with != nil {
			c.with(&d)
		}
		got, err := d.Make()
		if err == nil || !strings.Contains(err.Error(), c.want) || got.Files != nil {
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
	}
}

// procedureText is a small procedure.
const procedureText = `format: fettle-procedure 1
id: CR
title: Rear
revision: "1"
casting: rear
source: Invented
issued: 2026-01-10
effective: 2026-02-01
recheck_before: 2027-02-01
tip_allowance_visual: 2 mm
group_gap: 10 mm
rows:
  - {id: R1, cite: p. 3, when: {kind: crack, zones: only Z-FLOOR, length: <= 45 mm}, allow: [weld]}
  - {id: R2, cite: p. 3, when: {zones: "any of Z-SILL, Z-RIM"}, forbid: [weld]}
tests:
  - {name: a, facts: {kind: crack, zones: Z-FLOOR, length: 30 +- 2 mm}, expect: {allow: [weld], rows: [R1]}}
  - {name: b, facts: {kind: crack, zones: Z-SILL, length: 30 +- 2 mm}, expect: {forbid: [weld], rows: [R2]}}
acceptance:
  - {id: A1, cite: p. 5, for: [weld], show: dimensions}
`

// TestBodyOfAProcedure: the casting with the zones that the procedure names, its part, and the
// treatments that are said.
func TestBodyOfAProcedure(t *testing.T) {
	d := said()
	d.Procedures = map[string][]byte{"in/cr.yaml": []byte(procedureText)}
	if _, err := d.Make(); err == nil || !strings.Contains(err.Error(), "wall: nothing says how thick") || !strings.Contains(err.Error(), "price: ") || !strings.Contains(err.Error(), "skill: ") {
		t.Errorf("%v", err)
	}
	d.Wall, d.Price, d.Skill, d.Treatments = "4 mm", "1900.00 EUR", "weld", map[string]string{"weld": "40 min"}
	got, err := d.Make()
	if err != nil {
		t.Fatal(err)
	}
	b, err := Decode(got.Files)
	if err != nil {
		t.Fatal(err)
	}
	if z := zonesOf(b, "rear"); !slices.Equal(z, []string{"Z-FLOOR", "Z-RIM", "Z-SILL"}) || b.Castings[0].Part != "P-REAR" || len(b.Points) != 0 || b.Treatments[0].Steps[0].Fixed != 40 {
		t.Errorf("%v %+v", z, b.Castings)
	}
	if string(got.Files["procedures/cr.yaml"]) != procedureText {
		t.Error("the procedure was changed")
	}
	for name, more := range map[string]string{"other/cr.yaml": procedureText, "b.yaml": strings.Replace(procedureText, "casting: rear", "casting: front", 1), "c.yaml": procedureText, "d.txt": strings.Replace(procedureText, "id: CR", "id: CS", 1)} {
		e := d
		e.Procedures = map[string][]byte{"in/cr.yaml": []byte(procedureText), name: []byte(more)}
		want := map[string]string{"other/cr.yaml": "has the name of another procedure that is given", "b.yaml": "is about casting rear, and another procedure about front", "c.yaml": "revision", "d.txt": "d.txt: this file would not be read"}[name]
		if got, err := e.Make(); err == nil || !strings.Contains(err.Error(), want) || got.Files != nil {
			t.Errorf("%s: %v, want %s", name, err, want)
		}
	}
	// The one casting of a table of parts is the part; of two, a person says which.
	own, least := PartColumns()
	for text, want := range map[string]string{
		"id;name;kind;price [EUR];mass [kg]\nP-1;Casting;casting;1900,5;12,5\nP-2;Skin;panel;95;\n": "P-1",
		"id;name;kind;price [EUR]\nP-1;Casting;casting;1900,5\nP-2;Other;casting;95\n":              "part: the table of parts has several castings (P-1, P-2)",
		"id;name;kind;price [EUR]\nP-1;Casting;casting;1900,555\n":                                  "t:2: column price [EUR]: ",
		"id;name;kind;price [EUR]\nP-1;Casting;casting;95 USD\n":                                    `t:2: column price [EUR]: "95 USD" is in another unit than the head of the column says`,
		"id;name;kind;price [USD]\nP-1;Casting;casting;95\n":                                        "t:2: column price [USD]: the price is in USD",
		"id;name;kind\nP-1;Casting;casting\n":                                                       "price",
		"id;name;kind;price\nP-1;Casting;cast;95 EUR\n":                                             "t:2: column kind: ",
	} {
		g, problems := doc.ReadGrid("t", []byte(text), NamesColumns(own, least))
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		d.Parts = &Any{Grid: g}
		got, err := d.Make()
		if err != nil {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%v, want %s", err, want)
			}
			continue
		}
		b, err := Decode(got.Files)
		if err != nil || string(b.Castings[0].Part) != want || b.Parts[0].Price.String() != "1900.50 EUR" || b.Parts[0].Mass != 12.5 {
			t.Errorf("%s %v %+v", got.Files[PartsFile], err, b.Parts)
		}
	}
}

// FuzzAnyTable: nothing panics, and a folder that is made is sound and has a point for every row at least.
func FuzzAnyTable(f *testing.F) {
	f.Add("id;x;y;z\nA;0,5;±1;0\nB;900;0;0\nC;0;0;300\n", "mm", true)
	f.Add("id x[cm] y[m] z[in] tol[mm]\nA 1 2 3 4\nA 1 -2 3 4\n", "", false)
	own, least := PointColumns()
	f.Fuzz(func(t *testing.T, text, unit string, both bool) {
		g, problems := doc.ReadGrid("t", []byte(text), NamesColumns(own, least))
		if len(problems) > 0 || len(g.Rows) < 2 {
			return
		}
		d := said()
		d.References = nil
		for _, r := range g.Rows[1:] {
			d.References = append(d.References, PointID(r[0]))
		}
		d.Points, d.BothSides = &Any{Grid: g, Unit: LengthUnit(unit)}, both
		got, err := d.Make()
		if err != nil {
			return
		}
		if b, err := Decode(got.Files); err != nil || len(b.Points) < len(g.Rows)-1 {
			t.Errorf("%q %v", text, err)
		}
	})
}

// TestMirrorPointsAreSure tries to make the table of mirror points lie: points drawn on a coarse
// lattice, so that several lie at one place, some with a mirror point given. Whatever is filled in lies
// at the mirrored place, as the only one there, and names the other one; whatever could be is.
func TestMirrorPointsAreSure(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 71))
	filled, left := 0, 0
	for range 300 {
		n := 4 + rng.IntN(10)
		at := make([][3]int, n)
		given := make([]bool, n)
		var b strings.Builder
		b.WriteString("id;x;y;z;mirror\nA;0;0;0;\nB;900;0;0;\nC;0;0;300;\n")
		for i := range at {
			at[i] = [3]int{rng.IntN(2), rng.IntN(5) - 2, rng.IntN(2)}
			given[i] = i > 0 && !given[i-1] && rng.IntN(8) == 0
			mirror := ""
			if given[i] {
				mirror = fmt.Sprintf("P%d", i-1)
			}
			fmt.Fprintf(&b, "P%d;%d;%d;%d;%s\n", i, at[i][0], at[i][1], at[i][2], mirror)
		}
		d := said()
		d.Points = pointsOf(t, b.String(), "mm", doc.NoMark)
		got, err := d.Make()
		if err != nil {
			t.Fatalf("%s%v", b.String(), err)
		}
		made, err := Decode(got.Files)
		if err != nil {
			t.Fatal(err)
		}
		across := func(i int) (out []int) { // what lies at the mirrored place of a point off the plane
			for k := range at {
				if at[i][1] != 0 && at[k] == [3]int{at[i][0], -at[i][1], at[i][2]} {
					out = append(out, k)
				}
			}
			return out
		}
		named := func(i int) bool { return given[i] || i+1 < n && given[i+1] }
		for i := range at {
			p, _ := made.Point(PointID(fmt.Sprintf("P%d", i)))
			facing := across(i)
			sure := !named(i) && len(facing) == 1 && len(across(facing[0])) == 1 && !named(facing[0])
			if named(i) {
				continue
			}
			if want := ""; sure {
				want = fmt.Sprintf("P%d", facing[0])
				filled++
				if string(p.Mirror) != want {
					t.Fatalf("%smirror of P%d is %q, want %q", b.String(), i, p.Mirror, want)
				}
			} else if left++; p.Mirror != "" {
				t.Fatalf("%smirror of P%d is %q, which nothing shows", b.String(), i, p.Mirror)
			}
		}
	}
	if filled < 200 || left < 200 {
		t.Errorf("%d filled in, %d left: hardly tried", filled, left)
	}
}

// BenchmarkManyPoints: the largest table that is taken.
func BenchmarkManyPoints(b *testing.B) {
	var text strings.Builder
	text.WriteString("id;x;y;z\nA;0;0;0\nB;900;0;0\nC;0;0;300\n")
	for i := range (maxDraftPoints - 4) / 2 {
		fmt.Fprintf(&text, "P%d;%d.5;-%d;3\nQ%d;%d.5;%d;3\n", i, i, i+1, i, i, i+1)
	}
	d := said()
	d.Points = pointsOf(b, text.String(), "mm", doc.NoMark)
	for b.Loop() {
		if _, err := d.Make(); err != nil {
			b.Fatal(err)
		}
	}
}

// TestWhichPartIsTheCasting: the one that is said, of the table or a new one.
func TestWhichPartIsTheCasting(t *testing.T) {
	own, least := PartColumns()
	for say, want := range map[string]string{"P-2": "P-2", "P-9": "P-9"} {
		d := said()
		g, problems := doc.ReadGrid("t", []byte("id;name;kind;price\nP-1;One;casting;1 EUR\nP-2;Two;casting;2 EUR\n"), NamesColumns(own, least))
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		d.Parts, d.CastingPart, d.Procedures = &Any{Grid: g}, PartID(say), map[string][]byte{"cr.yaml": []byte(procedureText)}
		d.Wall, d.Price, d.Skill = "4 mm", "1900.00 EUR", "weld"
		got, err := d.Make()
		if err != nil {
			t.Fatal(err)
		}
		b, err := Decode(got.Files)
		if err != nil || string(b.Castings[0].Part) != want || (len(b.Parts) == 3) != (say == "P-9") || got.Parts != len(b.Parts) {
			t.Errorf("%s: %+v %v", say, b.Parts, err)
		}
	}
}

// TestFaultsOfTwoTablesStandInOrder: by file and line, as the person has them.
func TestFaultsOfTwoTablesStandInOrder(t *testing.T) {
	d := said()
	d.Points = pointsOf(t, "id;x;y;z\nA;0;0;0\nB;900;0;0\nC;0;0;300\nA;1;1;1\nB;1;1;1\n", "mm", doc.NoMark)
	own, least := PartColumns()
	g, _ := doc.ReadGrid("a", []byte("id;name;kind;price;skill\nP-1;One;panel;1 USD;body\n"), NamesColumns(own, least))
	d.Parts = &Any{Grid: g}
	_, err := d.Make()
	if err == nil {
		t.Fatal("nothing is told")
	}
	var at []string
	for _, l := range strings.Split(err.Error(), "\n") {
		at = append(at, strings.Join(strings.SplitN(l, ":", 3)[:2], ":"))
	}
	if !slices.Equal(at, []string{"a:2", "t:5", "t:6"}) {
		t.Errorf("%v", err)
	}
}

// Sections that points name are made, each once, in the order of the table.
func TestSectionsOfATable(t *testing.T) {
	d := said()
	d.Points = pointsOf(t, "id;x;y;z;section\nA;0;0;0;front\nB;900;0;0;rear\nC;0;0;300;front\nD;0;0;400;\n", "mm", doc.NoMark)
	got, err := d.Make()
	if err != nil {
		t.Fatal(err)
	}
	b, err := Decode(got.Files)
	if err != nil {
		t.Fatal(err)
	}
	if want := []Section{{ID: "front", Name: "front"}, {ID: "rear", Name: "rear"}}; !reflect.DeepEqual(b.Sections, want) {
		t.Errorf("%+v, want %+v", b.Sections, want)
	}
}

// TestEveryColumnOfADraft: five broken cells in every column of the tables that a body is begun from, each refused in its
// row and column with what would be right. Texts that may be anything are not among them: name.
func TestEveryColumnOfADraft(t *testing.T) {
	number := []string{"abc", "1e999", "NaN", "1,2,3", "--4", "12 kg"}
	for _, c := range []struct {
		table string
		cells map[string][]string
	}{
		{"points", map[string][]string{
			"id": {"", "A B", "B", "x/y", "-", "A;"}, "x": append(number, ""), "y": append(number, ""), "z": append(number, ""),
			"tol": append(number, "-1", "0"), "std": append(number, "-1"), "section": {"a b", "x/y", "-", "?", "a?b"}, "mirror": {"Z", "A", "a b", "x/y", "??"},
			"reference": {"maybe", "1.5", "yess", "x", "?"}, "part": {"P-9", "a b", "?", "x/y", "-"},
		}},
		{"parts", map[string][]string{
			"id": {"", "P B", "P-2", "x/y", "-"}, "kind": {"panell", "?", "7", "pannel x", "door"}, "price": {"abc", "1.2.3 EUR", "-3 EUR", "7 USD", "EUR"},
			"mass": {"abc", "-3 kg", "7 m", "kg", "1e999 kg"}, "bolt_on": {"maybe", "1.5", "yess", "x", "?"}, "off": {"abc", "-3 min", "7 m2", "min", "NaN min"},
			"on": {"abc", "-3 min", "7 m2", "min", "NaN min"}, "delivery": {"abc", "-3 d", "7 m2", "d", "NaN d"}, "outer_area": {"abc", "-3 m2", "7 kg", "m2", "NaN m2"},
			"metal": {"alu minium", "?", "7", "aluminum1", "stone"},
		}},
	} {
		for column, cells := range c.cells {
			refused := 0
			for _, cell := range cells {
				d := said()
				d.References = nil // the table names them
				points := map[string]string{"id": "A", "x": "0", "y": "0", "z": "0", "tol": "2", "std": "0.5", "section": "front", "mirror": "", "reference": "yes", "part": "P-1"}
				parts := map[string]string{"id": "P-1", "name": "One", "kind": "panel", "price": "12 EUR", "mass": "3 kg", "bolt_on": "yes", "off": "5 min", "on": "5 min", "skill": "body", "delivery": "2 d", "outer_area": "1 m2", "metal": "steel"}
				map[string]map[string]string{"points": points, "parts": parts}[c.table][column] = cell
				pointHead, pointRow := tableOf(points)
				d.Points = pointsOf(t, pointHead+pointRow+pointRowOf(pointHead, "B", "900", "yes")+pointRowOf(pointHead, "C", "300", "yes"), "mm", doc.NoMark)
				partHead, partRow := tableOf(parts)
				own, least := PartColumns()
				g, problems := doc.ReadGrid("parts", []byte(partHead+partRow+pointRowOf(partHead, "P-2", "", "")), NamesColumns(own, least))
				if len(problems) > 0 {
					t.Fatal(problems)
				}
				d.Parts = &Any{Grid: g}
				_, err := d.Make()
				if err == nil {
					t.Errorf("%s, %s: %q is taken", c.table, column, cell)
					continue
				}
				told := diag.Problems{}
				if !errors.As(err, &told) {
					t.Fatalf("%s %s %q: %v", c.table, column, cell, err)
				}
				if p := told[0]; p.File != map[string]string{"points": "t", "parts": "parts"}[c.table] || p.Line != 2 && p.Line != 3 || !strings.HasPrefix(p.Field, "column "+column) && p.Field != column || p.Hint == "" {
					t.Errorf("%s %s %q: %+v", c.table, column, cell, p)
				}
				refused++
			}
			if refused < 5 {
				t.Errorf("%s: only %d broken cells of %s are refused", c.table, refused, column)
			}
		}
	}
}

// tableOf is the head of a table and one row of it.
func tableOf(cells map[string]string) (head, row string) {
	var names, values []string
	for _, name := range slices.Sorted(maps.Keys(cells)) {
		names, values = append(names, name), append(values, cells[name])
	}
	return strings.Join(names, "|") + "\n", strings.Join(values, "|") + "\n"
}

// pointRowOf is a sound row under a head: a point of that name and place, or a part.
func pointRowOf(head, id, x, reference string) string {
	sound := map[string]string{"id": id, "x": x, "y": "0", "z": "0", "reference": reference, "name": "Two", "kind": "panel", "price": "12 EUR", "mass": "3 kg", "bolt_on": "yes", "off": "5 min", "on": "5 min", "skill": "body", "delivery": "2 d", "outer_area": "1 m2", "metal": "steel", "tol": "2", "std": "0.5"}
	if id == "C" {
		sound["x"], sound["z"] = "0", x
	}
	var out []string
	for _, name := range strings.Split(strings.TrimSpace(head), "|") {
		out = append(out, sound[name])
	}
	return strings.Join(out, "|") + "\n"
}
