package job

import (
	"os"
	"path"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// goodBody is the test body of package body.
func goodBody(t testing.TB) *body.Body {
	t.Helper()
	files := map[string][]byte{}
	for _, name := range []string{"body.yaml", "points.csv", "parts.csv", "procedures/tb-1.yaml", "block.ply"} {
		b, err := os.ReadFile(path.Join("../body/testdata/good", name))
		if err != nil {
			t.Fatal(err)
		}
		files[name] = b
	}
	b, err := body.Decode(files)
	if err != nil {
		t.Fatalf("\n%v", err)
	}
	return b
}

func goodShop(t testing.TB) *shop.Shop {
	t.Helper()
	data, err := os.ReadFile("../shop/testdata/good/shop.yaml")
	if err != nil {
		t.Fatal(err)
	}
	s, err := shop.Decode("shop.yaml", data)
	if err != nil {
		t.Fatalf("\n%v", err)
	}
	return s
}

func TestAccessAgainstTheBody(t *testing.T) {
	s := goodState(t)
	s.Access = []Accessible{{To: []string{"Z-TYP", "Z-TIP"}, Off: []body.PartID{"P-SKYN"}, By: "W2", On: s.Opened}, {To: []string{"P-SKIN"}, By: "W2", On: s.Opened}}
	problems, _ := CheckAgainst(&s, goodBody(t), goodShop(t))
	for at, hint := range map[string]string{"access[0].to[0]": "Z-TIP", "access[0].off[0]": "P-SKIN", "access[1].to[0]": ""} {
		if !slices.ContainsFunc(problems, func(p diag.Problem) bool { return p.Field == at && strings.Contains(p.Hint, hint) }) {
			t.Errorf("%s is not told: %v", at, problems)
		}
	}
	if len(problems) != 3 {
		t.Errorf("%v", problems)
	}
}

func TestCheckAgainst(t *testing.T) {
	s := goodState(t)
	problems, notes := CheckAgainst(&s, goodBody(t), goodShop(t))
	if len(problems) != 0 || len(notes) != 0 {
		t.Errorf("the good job: %v %v", problems, notes)
	}
	for name, c := range map[string]struct {
		file, old, by string // a change of the good job
		body          func(*body.Body)
		want          string
	}{
		"load state": {MainFile, "load_state: unloaded", "load_state: loaded", nil,
			"job.yaml:16:15: vehicle.load_state: the vehicle was measured loaded, but the body's points are for the unloaded state; the weight of the drive line bends the structure: measure in the state the data are for, or get data for this one"},
		"another body": {MainFile, "vin: TEST1", "vin: TXST1", nil,
			`job.yaml:11:8: vehicle.vin: the body is for vehicles whose number begins with "TEST"; is this the right body?`},
		// TEST followed by thirteen ones: T 3, E 5, S 2, T 3 weighted 8 7 6 5
		// give 24+35+12+15 = 86; the ones weigh 4+3+2+10+9+8+7+6+5+4+3+2 = 63;
		// 149 leaves 6 (49 CFR 565.15(c), from memory; by hand).
		"check digit": {MainFile, "", "", func(b *body.Body) { b.VIN.CheckDigit = true },
			"job.yaml:11:8: vehicle.vin: the check digit, character 9, is 1; the other characters give 6; a character is misread or two are swapped"},
		"right check digit": {MainFile, "vin: TEST11111", "vin: TEST11116", func(b *body.Body) { b.VIN.CheckDigit = true }, ""},
		"part":              {MainFile, "part: P-SKIN", "part: P-SKINS", nil, `job.yaml:53:32: findings[2].part: part "P-SKINS" does not exist; did you mean "P-SKIN"?`},
		"trace of one point": {MainFile, "[[321, 110, 246], [330, 112, 246]]", "[[321, 110, 246], [321, 110, 246]]", nil,
			"job.yaml:46:15: findings[1].trace_mm: a crack on a casting needs a trace of at least two different points; its length and zone are judged along the trace"},
		"a service piece": {MainFile, "part: P-SKIN", "part: P-END", nil, `job.yaml:53:32: findings[2].part: "P-END" is a service piece, which is bought and on no vehicle yet; name the casting: a piece that was joined is a part of it`},
		"area":            {MainFile, "area: A-ROOT", "area: A-ROT", nil, `job.yaml:55:12: areas[0].area: inspection area "A-ROT" does not exist; did you mean "A-ROOT"?`},
		"zone":            {MainFile, "zone: Z-TIP", "zone: Z-TOP", nil, `job.yaml:57:12: earlier_repairs[0].zone: zone "Z-TOP" does not exist; did you mean "Z-TIP"?`},
		"procedure":       {MainFile, "procedure: TB", "procedure: TX", nil, `job.yaml:67:17: procedure_checks[0].procedure: procedure "TX" does not exist; did you mean "TB"?`},
		"answer when": {MainFile, "forbid: [weld], by: engineering", "forbid: [weld], when: {length: short, zones: only Z-TOP, lenght: <= 3 mm}, by: engineering", nil, `job.yaml:63:76: answers[0].when.length: "short" does not begin with a comparison; write <=, <, >=, > or = and the limit
job.yaml:63:90: answers[0].when.zones: "Z-TOP" is not known to the fact "zones"; did you mean "Z-TIP"?
job.yaml:63:110: answers[0].when.lenght: there is no fact "lenght"; did you mean "length"?`},
		"choice by nobody":   {MainFile, "route: R-1, by: W2", "route: R-1, by: W9", nil, `job.yaml:65:22: choices[0].by: person "W9" does not exist; did you mean "W1"?`},
		"look-up by nobody":  {MainFile, "on: 2026-03-02, by: W2}", "on: 2026-03-02, by: the boss}", nil, `job.yaml:67:56: procedure_checks[0].by: "the boss" names no person of the shop file; people: W1, W2`},
		"question by nobody": {MainFile, "on: 2026-03-04, by: W2", "on: 2026-03-04, by: me", nil, `job.yaml:61:49: questions[0].by: "me" names no person of the shop file; people: W1, W2`},
		"points":             {ReadingsFile, "S1,height,Q1L,Q2", "S1,height,Q9,Q2R", nil, "readings.csv:6: column to: point \"Q2R\" does not exist; did you mean \"Q1R\"?\nreadings.csv:6: column from: point \"Q9\" does not exist; did you mean \"Q2\"?"},
		"currency":           {"", "", "", func(b *body.Body) { b.Currency = "CHF" }, "job.yaml:6:7: shop: the shop works in EUR, the body's prices are in CHF; take the shop file that has the rates in the currency of the body\njob.yaml:14:10: vehicle.value: the value is in EUR, the body's prices in CHF; give all amounts in the currency of the body"},
	} {
		t.Run(name, func(t *testing.T) {
			files, b := goodFiles(t), goodBody(t)
			if c.old != "" {
				if !strings.Contains(string(files[c.file]), c.old) {
					t.Fatalf("%q is not in %s", c.old, c.file)
				}
				files[c.file] = []byte(strings.ReplaceAll(string(files[c.file]), c.old, c.by))
			}
			if c.body != nil {
				c.body(b)
			}
			s, err := Decode(files)
			if err != nil {
				t.Fatal(err)
			}
			got, _ := CheckAgainst(s, b, goodShop(t))
			if got.Error() != c.want {
				t.Errorf("got\n%s\nwant\n%s", got.Error(), c.want)
			}
		})
	}
}

func TestCalibrationNotes(t *testing.T) {
	for _, c := range []struct{ until, want string }{
		{"calibrated_until: 2026-03-03", ""}, // its last day is the day of the measurement
		{"calibrated_until: 2026-03-02", "The calibration of Test device ended on 2026-03-02; set-up S1 was measured on 2026-03-03."},
		{"stage: before", "It is not known whether Test device was calibrated when set-up S1 was measured."},
	} {
		files := goodFiles(t)
		files[MainFile] = []byte(strings.Replace(string(files[MainFile]), "calibrated_until: 2026-09-30", c.until, 1))
		s, err := Decode(files)
		if err != nil {
			t.Fatal(err)
		}
		_, notes := CheckAgainst(s, goodBody(t), goodShop(t))
		got := ""
		for _, n := range notes {
			got += n.Text
			if n.Severity != diag.Caution || n.Where != "S1" {
				t.Errorf("%+v", n)
			}
		}
		if got != c.want {
			t.Errorf("%s: got %q, want %q", c.until, got, c.want)
		}
	}
}

// TestEncodeReadsBack: what is written is read as the same job.
func TestEncodeReadsBack(t *testing.T) {
	s := goodState(t)
	again, err := Decode(Encode(&s))
	if err != nil {
		t.Fatal(err)
	}
	if text := Encode(again); string(text[MainFile]) != string(Encode(&s)[MainFile]) || string(text[ReadingsFile]) != string(Encode(&s)[ReadingsFile]) {
		t.Errorf("written twice:\n%s", text[MainFile])
	}
}

// TestTemperatureOutsideTheBodyData: a set-up colder or warmer than the body's
// data allow for is a caution; one in between, and one without a temperature,
// is none here.
func TestTemperatureOutsideTheBodyData(t *testing.T) {
	th := &body.Thermal{Low: 5, High: 35}
	at := func(c unit.Celsius) Setup { return Setup{ID: "S", Temp: unit.Some(c)} }
	for _, k := range []struct {
		setup Setup
		want  int
	}{{at(4.9), 1}, {at(35.5), 1}, {at(5), 0}, {at(35), 0}, {Setup{ID: "S"}, 0}} {
		if n := warmthNotes([]Setup{k.setup}, th); len(n) != k.want {
			t.Errorf("%v: %+v", k.setup.Temp, n)
		}
	}
	if n := warmthNotes([]Setup{at(50)}, nil); len(n) != 0 {
		t.Errorf("the body says nothing of temperature: %+v", n)
	}
}

// Tips said to be found with penetrant, in no inspection, count as seen by eye: the
// check says so.
func TestTipNotes(t *testing.T) {
	f := Finding{ID: "F1", Tips: []body.TipMethod{"visual", "penetrant"}}
	if got := TipNotes([]Finding{f}); len(got) != 1 || got[0].Where != "F1" {
		t.Errorf("%+v", got)
	}
	f.Look = "PT"
	g := Finding{ID: "F2", Tips: []body.TipMethod{"visual", "stop-hole"}}
	if got := TipNotes([]Finding{f, g}); len(got) != 0 {
		t.Errorf("%+v", got)
	}
}
