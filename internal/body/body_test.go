package body

import (
	"maps"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/rule"
	"fettle/internal/unit"
)

func good(t testing.TB) *Body {
	t.Helper()
	b, err := Decode(goodFiles(t))
	if err != nil {
		t.Fatalf("\n%v", err)
	}
	return b
}

func TestLookups(t *testing.T) {
	b := good(t)
	part, ok1 := b.Part("P-END")
	point, ok2 := b.Point("Q2")
	zone, ok3 := b.Zone("Z-TIP")
	casting, ok4 := b.CastingOf("Z-TIP")
	line, ok5 := b.Line("C-1")
	joint, ok6 := b.Joint("J-COVER")
	material, ok7 := b.Material("M-GLUE")
	treatment, ok8 := b.Treatment("CUT")
	task, ok9 := b.Task("LOOK")
	section, ok10 := b.Section("front")
	area, ok11 := b.Area("A-ROOT")
	if got := []bool{ok1, ok2, ok3, ok4, ok5, ok6, ok7, ok8, ok9, ok10, ok11}; slices.Contains(got, false) {
		t.Fatal(got)
	}
	if part.Kind != "piece" || point.X != 1900.5 || zone.Label != 2 || casting.ID != "block" || line.Margin != 17 ||
		joint.Count != 6 || len(material.Cure) != 2 || treatment.Kind != SectionOff || task.When != "end" ||
		section.Name != "Front" || area.Finds != 2 {
		t.Error("a look-up gave another item")
	}
	if _, ok := b.Zone("Z"); ok {
		t.Error("a zone that does not exist was found")
	}
	if !point.Reference || point.Tol.Known || !point.TolZ.Known || point.At() != [3]float64{1900.5, 0, 120} {
		t.Errorf("%+v", point)
	}
}

func TestDefaults(t *testing.T) {
	files := goodFiles(t)
	files[MainFile] = []byte(strings.Replace(string(files[MainFile]), "confidence: 95 %\n", "", 1))
	b, err := Decode(files)
	if err != nil {
		t.Fatal(err)
	}
	if b.Confidence != 0.95 || b.Axes != (Axes{"rearward", "right", "up"}) {
		t.Errorf("%v %v", b.Confidence, b.Axes)
	}
}

// TestProcedureFor walks through the life of two revisions. The days are
// constructed.
func TestProcedureFor(t *testing.T) {
	day := func(s string) (d unit.Date) {
		if err := d.UnmarshalText([]byte(s)); err != nil {
			t.Fatal(err)
		}
		return d
	}
	rev := func(revision, effective, recheck, supersedes string) Procedure {
		return Procedure{ID: "P", Casting: "k", Revision: revision, Effective: day(effective), Recheck: day(recheck), Supersedes: supersedes}
	}
	b := &Body{Procedures: []Procedure{
		rev("B", "2026-05-01", "2026-12-01", "A"),
		rev("A", "2026-01-10", "2026-06-01", ""),
	}}
	for _, c := range []struct {
		on, revision string
		expired      bool
	}{
		{"2026-01-09", "", false},
		{"2026-01-10", "A", false},
		{"2026-04-30", "A", false},
		{"2026-05-01", "B", false}, // takes the place of A on its first day
		{"2026-11-30", "B", false},
		{"2026-12-01", "B", true}, // to be looked up again before this day
		{"2030-01-01", "B", true},
	} {
		p, ok := b.ProcedureFor("k", day(c.on))
		if p.Revision != c.revision || ok != (c.revision != "") || p.Expired != c.expired {
			t.Errorf("on %s: revision %q, expired %v; want %q, %v", c.on, p.Revision, p.Expired, c.revision, c.expired)
		}
	}
	if _, ok := b.ProcedureFor("other", day("2026-05-01")); ok {
		t.Error("a casting without a procedure has one")
	}
}

func TestHash(t *testing.T) {
	files := goodFiles(t)
	sum := Hash(files)
	if sum != Hash(maps.Clone(files)) || len(sum) != 64 {
		t.Error("the same files have two hashes")
	}
	// Constructed: two folders whose paths and contents run together alike.
	a := map[string][]byte{"a": []byte("bc"), "d": nil}
	b := map[string][]byte{"a": []byte("b"), "cd": nil}
	if Hash(a) == Hash(b) {
		t.Error("the border between a path and its content is not hashed")
	}
	for name := range files {
		changed := maps.Clone(files)
		changed[name] = append(slices.Clone(files[name]), ' ')
		if Hash(changed) == sum {
			t.Errorf("a change of %s is not seen", name)
		}
	}
}

// TestProblemWithoutFiles: a body made in Go has no places, and still no panic.
func TestProblemWithoutFiles(t *testing.T) {
	b := &Body{}
	for path, want := range map[string]string{
		"joints[2].skill":       "body.yaml: joints[2].skill: odd",
		"points[7].section":     "points.csv: column section: odd",
		"parts":                 "parts.csv: odd",
		"procedures[3].rows[1]": "body.yaml: procedures[3].rows[1]: odd",
	} {
		if got := b.Problem(path, "odd", "").String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// TestWordsMatchTags: the closed sets in tags are those the program uses.
func TestWordsMatchTags(t *testing.T) {
	tag := func(v any, field string) []string {
		f, ok := reflect.TypeOf(v).FieldByName(field)
		if !ok {
			t.Fatalf("no field %s", field)
		}
		return strings.Split(f.Tag.Get("oneof"), "|")
	}
	kinds := texts(TreatmentKinds())
	for name, got := range map[string][]string{
		"treatment": tag(Treatment{}, "Kind"), "allow": tag(Row{}, "Allow"), "forbid": tag(Row{}, "Forbid"),
		"expect allow": tag(RowExpect{}, "Allow"), "expect forbid": tag(RowExpect{}, "Forbid"),
	} {
		if !slices.Equal(got, kinds) {
			t.Errorf("%s: %v, want %v", name, got, kinds)
		}
	}
	if got := tag(Step{}, "Cautions"); !slices.Equal(got, texts(Cautions())) {
		t.Errorf("cautions: %v", got)
	}
	if got := tag(Task{}, "When"); !slices.Equal(got, texts(taskTimes)) {
		t.Errorf("when: %v", got)
	}
}

func texts[S ~string](words []S) []string {
	var out []string
	for _, w := range words {
		out = append(out, string(w))
	}
	return out
}

func TestFactDefs(t *testing.T) {
	names := []string{}
	for _, d := range FactDefs() {
		names = append(names, d.Name)
		if d.Help == "" || d.Get == "" {
			t.Errorf("%s does not say what it is and how a person gets it", d.Name)
		}
		if (d.Unit != "") && d.rule() != rule.Number {
			t.Errorf("%s has a unit but is no number", d.Name)
		}
	}
	if !slices.IsSorted(names) {
		t.Errorf("not in alphabetical order: %v", names)
	}
}

// The page about procedures lists every fact with its kind and meaning, and no other.
func TestFactsAreDocumented(t *testing.T) {
	page, err := os.ReadFile("../../docs/formats/procedure.md")
	if err != nil {
		t.Fatal(err)
	}
	_, table, ok := strings.Cut(string(page), "| fact | kind | meaning |\n|---|---|---|\n")
	if !ok {
		t.Fatal("the page has no table of facts")
	}
	table, _, _ = strings.Cut(table, "\n\n")
	var want []string
	for _, d := range FactDefs() {
		kind := map[FactType]string{FactText: "one word", FactSet: "set of words", FactBool: "yes or no", FactNumber: "number, " + d.Unit}[d.Kind]
		switch {
		case d.Kind == FactNumber && d.Unit == "":
			kind = "count"
		case d.Unit == rule.UnitDate:
			kind = "date"
		}
		want = append(want, "| `"+d.Name+"` | "+kind+" | "+d.Help+" |")
	}
	if got := strings.Split(strings.TrimSpace(table), "\n"); !slices.Equal(got, want) {
		t.Errorf("the page has\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// The words of a fact are those of the body: a zone of another casting is none.
func TestWordsOfFacts(t *testing.T) {
	b := good(t)
	c := b.Castings[0]
	for _, d := range FactDefs() {
		words, listed := d.Words(b, c.ID)
		if listed != slices.Contains([]string{FactKind, FactPart, FactTips, FactZones, FactOutboard}, d.Name) {
			t.Errorf("%s: listed %v: %v", d.Name, listed, words)
		}
		if listed && d.Kind != FactText && d.Kind != FactSet {
			t.Errorf("%s has words and is no words", d.Name)
		}
		if none, _ := d.Words(b, "no such casting"); len(none) > 0 && (d.Name == FactZones || d.Name == FactOutboard) {
			t.Errorf("%s of no casting: %v", d.Name, none)
		}
	}
	if got, _ := Fact(FactZones).Words(b, c.ID); len(got) != len(c.Zones) || len(got) == 0 || got[0] != string(c.Zones[0].ID) {
		t.Errorf("zones of %s: %v", c.ID, got)
	}
}

func TestEncodeReadsBack(t *testing.T) {
	b := good(t)
	checkStable(t, b, goodFiles(t))
}

// checkStable: a body written and read again is written alike.
func checkStable(t *testing.T, b *Body, files map[string][]byte) {
	t.Helper()
	first := Encode(b)
	for _, k := range b.Castings {
		first[k.Mesh] = files[k.Mesh]
	}
	again, err := Decode(first)
	if err != nil {
		t.Fatalf("%v\n%s", err, first[MainFile])
	}
	for name, text := range Encode(again) {
		if string(text) != string(first[name]) {
			t.Errorf("%s is written in two ways:\n%s\n%s", name, first[name], text)
		}
	}
}

// FuzzDecode changes body.yaml, points.csv, parts.csv and the procedure:
// nothing panics, and what is read is written and read alike.
func FuzzDecode(f *testing.F) {
	files := goodFiles(f)
	f.Add(files[MainFile], files[PointsFile], files[PartsFile], files["procedures/tb-1.yaml"])
	f.Fuzz(func(t *testing.T, main, points, parts, procedure []byte) {
		in := map[string][]byte{MainFile: main, PointsFile: points, PartsFile: parts, "procedures/p.yaml": procedure, "block.ply": nil}
		if b, err := Decode(in); err == nil {
			checkStable(t, b, in)
		}
	})
}

// BenchmarkDecode reads the good folder, about five kilobytes.
func BenchmarkDecode(b *testing.B) {
	files := goodFiles(b)
	for b.Loop() {
		if _, err := Decode(files); err != nil {
			b.Fatal(err)
		}
	}
}
