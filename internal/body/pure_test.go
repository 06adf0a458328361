package body

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/unit"
)

func amount(v float64, u string) unit.Amount { return unit.Amount{Value: v, Unit: u} }

// A treatment waits for its new part at the steps that say so; where none says so, or a section
// only says which do not, at all of them. Every way two steps can say it, by kind.
func TestStepsThatUseTheNewPart(t *testing.T) {
	for _, kind := range TreatmentKinds() {
		for _, one := range []YesNo{"", Yes, No} {
			for _, two := range []YesNo{"", Yes, No} {
				tr := Treatment{Kind: kind, Steps: []Step{{NewPart: one}, {NewPart: two}}}
				said := one == Yes || two == Yes || kind != SectionOff && (one == No || two == No)
				for _, s := range tr.Steps {
					if got, want := tr.UsesNewPart(s), s.NewPart == Yes || !said; got != want {
						t.Errorf("%s, steps say %q and %q: the step that says %q uses it: %v, want %v", kind, one, two, s.NewPart, got, want)
					}
				}
			}
		}
	}
}

// The adhesives of a step are that of its layout, and those it uses whose times are known, each once.
func TestAdhesivesOfAStep(t *testing.T) {
	b := &Body{Materials: []Material{{ID: "G", Kind: Adhesive, Cure: []CureRow{{}}}, {ID: "H", Kind: Adhesive, Cure: []CureRow{{}}}, {ID: "N", Kind: Adhesive}, {ID: "S", Kind: "sealer", Cure: []CureRow{{}}}}}
	use := func(ids ...MaterialID) (out []Use) {
		for _, id := range ids {
			out = append(out, Use{Material: id})
		}
		return out
	}
	for _, k := range []struct {
		s    Step
		want string
	}{
		{Step{}, ""}, {Step{Uses: use("G", "H")}, "G H"}, {Step{Uses: use("G", "G")}, "G"}, {Step{Uses: use("N", "S", "X")}, ""},
		{Step{Layout: &Layout{Adhesive: "N"}, Uses: use("G")}, "N G"}, {Step{Layout: &Layout{Adhesive: "G"}, Uses: use("G", "H")}, "G H"}, {Step{Layout: &Layout{}, Uses: use("G")}, "G"},
	} {
		if got := strings.Join(texts(b.Bonds(k.s)), " "); got != k.want {
			t.Errorf("%+v: %q, want %q", k.s, got, k.want)
		}
	}
}

// Who passes a hold point, and what makes a vehicle safe, is read from the words and from the
// dangers too, so that a body that has only them is not read more mildly.
func TestReadFromWords(t *testing.T) {
	for _, k := range []struct {
		said       bool
		name, hold string
		want       bool
	}{{false, "Weld", "check", false}, {true, "Weld", "", true}, {false, "Weld, second person looks", "", true}, {false, "Weld", "Second Person signs", true}, {false, "Weld a second", "person", true}} {
		if got := (Step{Second: k.said, Name: k.name, HoldPoint: k.hold}).AsksSecond(); got != k.want {
			t.Errorf("step %+v: %v", k, got)
		}
		if got := (Joint{Second: k.said, Name: k.name, Hold: k.hold}).AsksSecond(); got != k.want {
			t.Errorf("joint %+v: %v", k, got)
		}
	}
	for _, when := range taskTimes {
		for _, c := range Cautions() {
			want := when == TaskStart && (c == HighVoltage || c == Airbag)
			if got := (Task{When: when, Step: Step{Cautions: []Caution{Eyes, c}}}).MakesSafe(); got != want {
				t.Errorf("%s at %s makes safe: %v", c, when, got)
			}
		}
		if !(Task{When: when, Safe: true}).MakesSafe() {
			t.Errorf("a task at %s that says so makes nothing safe", when)
		}
	}
}

// An adhesive is open as long as the next warmer row says, and cures as slowly as the next colder
// one says: at every temperature both are on the safe side of the rows about it. Invented times.
func TestTimesOfAnAdhesive(t *testing.T) {
	m := Material{Cure: []CureRow{{10, 90, 500, 900}, {20, 60, 300, 700}, {30, 40, 200, 500}}}
	for _, k := range []struct {
		at          unit.Celsius
		open        unit.Minutes
		openKnown   bool
		cures       unit.Minutes
		curingKnown bool
	}{
		{9.9, 0, false, 0, false}, {10, 90, true, 500, true}, {10.1, 60, true, 500, true}, {19.9, 60, true, 500, true}, {20, 60, true, 300, true},
		{25, 40, true, 300, true}, {30, 40, true, 200, true}, {30.1, 0, false, 200, true},
	} {
		open, ok := m.WorkingAt(k.at)
		row, cures := m.CuringAt(k.at)
		if open != k.open || ok != k.openKnown || row.Handling != k.cures || cures != k.curingKnown {
			t.Errorf("at %s: open %v %v, handling %v %v; want %+v", k.at, open, ok, row.Handling, cures, k)
		}
	}
	if _, ok := (Material{}).WorkingAt(20); ok {
		t.Error("open without times")
	}
	if _, ok := (Material{}).CuringAt(20); ok {
		t.Error("cures without times")
	}
}

// Limits of a figure that is read: each pair of them in words, and which values keep them.
func TestLimitsOfAReading(t *testing.T) {
	none := unit.Amount{}
	for _, k := range []struct {
		low, high unit.Amount
		text      string
		keep      string // of 59, 60, 90, 120, 121
	}{
		{none, none, "", "yyyyy"}, {amount(60, "C"), none, "at least 60 C", "nyyyy"}, {none, amount(120, "C"), "at most 120 C", "yyyyn"},
		{amount(60, "C"), amount(120, "C"), "60 C to 120 C", "nyyyn"}, {amount(60, "C"), amount(60, "C"), "60 C", "nynnn"},
	} {
		r := Reading{Unit: "C", Low: k.low, High: k.high}
		if r.Limits() != k.text || r.HasLimit() != (k.text != "") {
			t.Errorf("%q, want %q; has one: %v", r.Limits(), k.text, r.HasLimit())
		}
		for i, v := range []float64{59, 60, 90, 120, 121} {
			if got := r.Keeps(v); got != (k.keep[i] == 'y') {
				t.Errorf("%v keeps %q: %v", v, k.text, got)
			}
		}
	}
	zero := 0.0
	for _, v := range []float64{zero / zero, 1 / zero, -1 / zero} {
		if (Reading{}).Keeps(v) {
			t.Errorf("%v is a reading", v)
		}
	}
	for u, want := range map[string]bool{"C": true, "mm": true, "kJ/mm": true, "%": true, TextUnit: false, "s": false, "min": false, "h": false, "d": false} {
		if got := (Reading{Unit: u}).ByDevice(); got != want {
			t.Errorf("%s is read with a device: %v", u, got)
		}
	}
	for _, k := range []struct {
		r    Reading
		want bool
	}{{Reading{ID: BatchReading("M"), Unit: TextUnit}, true}, {Reading{ID: BatchReading("M"), Unit: "C"}, false}, {Reading{ID: OpenReading("M"), Unit: TextUnit}, false}} {
		if k.r.IsBatch() != k.want {
			t.Errorf("%+v is a batch: %v", k.r, !k.want)
		}
	}
	ids := []string{BatchReading("X"), OpenReading("X"), CureReading("X"), TorqueReading("X")}
	if slices.Sort(ids); len(slices.Compact(ids)) != 4 {
		t.Errorf("two figures have one identity: %v", ids)
	}
}

// The heat input at the set values is that of EN 1011-1 at any unit of the speed: 480 mm/min is
// 8 mm/s, 48 cm/min and 0.48 m/min; 0.8 x 20 V x 100 A / 8 mm/s is 0.2 kJ/mm by hand.
func TestHeatInputInAnyUnitOfSpeed(t *testing.T) {
	for _, speed := range []unit.Amount{amount(8, "mm/s"), amount(480, "mm/min"), amount(48, "cm/min"), amount(0.48, "m/min")} {
		q, ok := Heat{Factor: 0.8, Voltage: amount(20, "V"), Current: amount(100, "A"), Speed: speed}.Input()
		if !ok || q < 0.2-1e-12 || q > 0.2+1e-12 {
			t.Errorf("%s: %v %v", speed, q, ok)
		}
	}
	if _, ok := (Heat{Factor: 1, Voltage: amount(20, "V"), Current: amount(100, "A"), Speed: amount(8, "km/h")}).Input(); ok {
		t.Error("km/h are a travel speed")
	}
}

// The manner of a row in words; its limits are no words but conditions, those under 'when' first.
func TestMannerInWords(t *testing.T) {
	b := &Body{Materials: []Material{{ID: "S", Name: "Sheet"}, {ID: "W"}}}
	for want, m := range map[string]Manner{
		"": {InZone: 2, LengthOnCasting: 9},
		"backing plate, Sheet (S), 3 mm thick, reaching 20 mm past the crack on each side|filler W|slowly": {Plate: "S", Thickness: 3, Overlap: 20, Filler: "W", Text: "slowly"},
		"backing plate, 3 mm thick": {Thickness: 3}, "backing plate, reaching 20 mm past the crack on each side": {Overlap: 20}, "cold": {Cold: Yes}, "heated to 150 C at most|pulled or pressed once at most": {HeatedTo: 150, Pulls: 1}, "pulled or pressed 3 times at most|slowly": {Pulls: 3, Text: "slowly"},
		"backing plate, X": {Plate: "X"}, "filler Sheet (S)": {Filler: "S"},
	} {
		if got := strings.Join(m.Words(b), "|"); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := (Manner{Plate: "S", Filler: "S"}).Words(nil); !slices.Equal(got, []string{"backing plate, S", "filler S"}) {
		t.Errorf("without a body: %q", got)
	}
	r := Row{When: map[string]string{"kind": "crack", FactCount: "<= 9"}, With: Manner{InZone: 2, OnCasting: 3, LengthInZone: 40, LengthOnCasting: 50.5}}
	if got, want := fmt.Sprint(r.Conditions()), "map[count_in_zone:<= 2 count_on_casting:<= 9 crack_length_in_zone:<= 40 mm crack_length_on_casting:<= 50.5 mm kind:crack]"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if len(r.When) != 2 {
		t.Error("the row was changed")
	}
	if got := (Row{With: Manner{InZone: 1}}).Conditions(); got[FactInZone] != "<= 1" || len(got) != 1 {
		t.Errorf("%v", got)
	}
}

// What a test of a procedure expects of the manner has to be said by a row that applies, and by
// none otherwise: each field on its own.
func TestMannerThatIsExpected(t *testing.T) {
	set := map[string]func(*Manner, int){
		"plate": func(m *Manner, k int) { m.Plate = MaterialID(fmt.Sprint("P", k)) }, "plate_thickness": func(m *Manner, k int) { m.Thickness = unit.MM(k) },
		"plate_overlap": func(m *Manner, k int) { m.Overlap = unit.MM(k) }, "filler": func(m *Manner, k int) { m.Filler = MaterialID(fmt.Sprint("F", k)) },
		"cold": func(m *Manner, k int) { m.Cold = []YesNo{"", Yes, No}[k] }, "heated_to": func(m *Manner, k int) { m.HeatedTo = unit.Celsius(k) }, "most_pulls": func(m *Manner, k int) { m.Pulls = k },
		"text": func(m *Manner, k int) { m.Text = fmt.Sprint("t", k) }, "most_in_zone": func(m *Manner, k int) { m.InZone = k }, "most_on_casting": func(m *Manner, k int) { m.OnCasting = k },
		"most_length_in_zone": func(m *Manner, k int) { m.LengthInZone = unit.MM(k) }, "most_length_on_casting": func(m *Manner, k int) { m.LengthOnCasting = unit.MM(k) },
	}
	for name, to := range set {
		var want, same, other Manner
		to(&want, 1)
		to(&same, 1)
		to(&other, 2)
		for _, k := range []struct {
			rows []Manner
			want string
		}{{nil, name + " is not given"}, {[]Manner{{}}, name + " is not given"}, {[]Manner{same}, ""}, {[]Manner{{}, same}, ""}, {[]Manner{same, other}, name + " is "}, {[]Manner{other, same}, name + " is "}} {
			if got := want.Differs(k.rows); got != k.want && (k.want == "" || !strings.HasPrefix(got, k.want) || strings.HasSuffix(got, "given") != strings.HasSuffix(k.want, "given")) {
				t.Errorf("%s of %+v: %q, want %q", name, k.rows, got, k.want)
			}
		}
		if got := (Manner{}).Differs([]Manner{other}); got != "" {
			t.Errorf("nothing is expected: %q", got)
		}
	}
}

// The areas that a job may speak of: those written, and those of each casting whose procedure
// says how they are found, of its own joints only.
func TestAreasOfABody(t *testing.T) {
	b := &Body{Castings: []Casting{{ID: "one", Part: "P1", Zones: []Zone{{ID: "A"}, {ID: "B"}}}, {ID: "two", Part: "P2", Zones: []Zone{{ID: "C"}}}},
		Joints: []Joint{{ID: "J1", Layers: []PartID{"P1", "P9"}}, {ID: "J2", Layers: []PartID{"P2", "P9"}}, {ID: "J3", Layers: []PartID{"P9", "P1"}}}, Inspect: []Area{{ID: "X"}}}
	if got := b.AreaIDs(); !slices.Equal(got, []string{"X"}) {
		t.Errorf("no procedure says how: %v", got)
	}
	b.Castings = append([]Casting{{ID: "none", Zones: []Zone{{ID: "Z"}}}}, b.Castings...)
	b.Procedures = []Procedure{{Casting: "one"}, {Casting: "one", Areas: []AreaRule{{}}}, {Casting: "two"}}
	if got, want := strings.Join(b.AreaIDs(), " "), "X A-A A-A.ribs A-A.bores A-B A-B.ribs A-B.bores A-J1 A-J3"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// What a line takes off lies on the far side of all its planes, and not on them, and within its
// box; of a curve it is never known. Points drawn, and on the planes themselves: seed 111.
func TestWhatALineTakesOffSeed111(t *testing.T) {
	r := rand.New(rand.NewPCG(111, 111))
	off := 0
	for range 2000 {
		whole := func() float64 { return float64(r.IntN(7) - 3) }
		p := geom.Vec{whole(), whole(), whole()}
		one, two := LinePlane{geom.Vec{1, 0, 0}, unit.MM(whole())}, LinePlane{geom.Vec{0, -1, 1}, unit.MM(whole())}
		box := Box{geom.Vec{-2, -2, -2}, geom.Vec{2, 2, 2}}
		in := max(p[0], -p[0], p[1], -p[1], p[2], -p[2]) <= 2
		below := func(pl LinePlane) bool {
			return pl.Normal[0]*p[0]+pl.Normal[1]*p[1]+pl.Normal[2]*p[2] < float64(pl.Offset)
		}
		for _, k := range []struct {
			l    Line
			want bool
			cuts int
		}{
			{Line{Normal: one.Normal, Offset: one.Offset}, below(one), 1}, {Line{Normal: one.Normal, Offset: one.Offset, Within: box}, below(one) && in, 1},
			{Line{Planes: []LinePlane{one, two}}, below(one) && below(two), 2}, {Line{Planes: []LinePlane{two}, Within: box}, below(two) && in, 1},
			{Line{Curve: []geom.Vec{{}, {1, 0, 0}, {0, 1, 0}}}, false, 0},
		} {
			if got := k.l.TakesOff(p); got != k.want || len(k.l.Cuts()) != k.cuts {
				t.Fatalf("%+v takes off %v: %v, with %d planes", k.l, p, got, len(k.l.Cuts()))
			}
			if k.want {
				off++
			}
		}
	}
	if off < 1000 {
		t.Errorf("only %d were taken off", off)
	}
}

// Of several revisions in effect the latest counts that none in effect takes the place of; drawn
// chains of up to five, in any order: seed 112.
func TestRevisionInForceSeed112(t *testing.T) {
	r := rand.New(rand.NewPCG(112, 112))
	first := unit.Date{Year: 2030, Month: 1, Day: 10}
	for range 1000 {
		var all []Procedure
		on := first
		for k := range 1 + r.IntN(5) {
			p := Procedure{ID: "P", Casting: "k", Revision: fmt.Sprint(k), Effective: on, Recheck: on.AddDays(1 + r.IntN(20))}
			if k > 0 {
				p.Supersedes = fmt.Sprint(k - 1)
			}
			all, on = append(all, p), on.AddDays(1+r.IntN(9))
		}
		today := first.AddDays(r.IntN(40) - 3)
		want := -1
		for k, p := range all {
			if !today.Before(p.Effective) {
				want = k
			}
		}
		b := &Body{Procedures: slices.Clone(all)}
		r.Shuffle(len(all), func(i, j int) { b.Procedures[i], b.Procedures[j] = b.Procedures[j], b.Procedures[i] })
		got, ok := b.ProcedureFor("k", today)
		if ok != (want >= 0) || ok && (got.Revision != fmt.Sprint(want) || got.Expired != !today.Before(all[want].Recheck)) {
			t.Fatalf("on %s revision %q of %+v, want %d", today, got.Revision, b.Procedures, want)
		}
	}
}

// Points as far apart as any give the base; the height is the largest distance from the line
// through them: by the area of each triangle. Drawn: seed 113. Nearly in line is under one in fifty.
func TestSpreadOfReferencesSeed113(t *testing.T) {
	r := rand.New(rand.NewPCG(113, 113))
	for range 500 {
		var points []geom.Vec
		for range 3 + r.IntN(4) {
			points = append(points, geom.Vec{1000 * r.Float64(), 300 * r.Float64(), 100 * r.Float64()})
		}
		base, height := spread(points)
		best, a, b := 0.0, geom.Vec{}, geom.Vec{}
		for _, p := range points {
			for _, q := range points {
				if d := p.Sub(q).Norm(); d > best {
					best, a, b = d, p, q
				}
			}
		}
		most := 0.0
		for _, p := range points {
			most = max(most, p.Sub(a).Cross(p.Sub(b)).Norm()/best)
		}
		if base != best || height < most-1e-9 || height > most+1e-9 {
			t.Fatalf("%v: %v, %v; want %v, %v", points, base, height, best, most)
		}
	}
	for y, want := range map[float64]bool{19.9: true, 20.1: false} {
		fields, text := changed(t, func(b *Body) {
			for i, at := range []geom.Vec{{0, 0, 0}, {1000, 0, 0}, {500, y, 0}} {
				b.Points[i].X, b.Points[i].Y, b.Points[i].Z = at[0], at[1], at[2]
			}
		})
		if (len(fields) > 0) != want {
			t.Errorf("%v mm off a base of a metre: %s", y, text)
		}
	}
	fields, text := changed(t, func(b *Body) {
		for i := range b.Points {
			b.Points[i].X, b.Points[i].Y, b.Points[i].Z = 5, 5, 5
		}
	})
	if len(fields) != 1 {
		t.Errorf("all at one place: %s", text)
	}
}

// A circle of access is told along the parts that are in the way, and nothing that can be reached
// by another way is told. Constructed.
func TestCirclesOfAccess(t *testing.T) {
	for _, k := range []struct {
		access []Access
		want   string
	}{
		{[]Access{{To: "P-SKIN", Needs: [][]PartID{{"P-COVER"}}}, {To: "P-COVER", Needs: [][]PartID{{"P-FLAP"}}}}, ""},
		{[]Access{{To: "P-SKIN", Needs: [][]PartID{{"P-COVER"}}}, {To: "P-COVER", Needs: [][]PartID{{"P-SKIN"}, {"P-FLAP"}}}}, ""},
		{[]Access{{To: "P-SKIN", Needs: [][]PartID{{"P-FLAP", "P-COVER"}}}, {To: "P-COVER", Needs: [][]PartID{{"P-SKIN"}}}}, "P-SKIN needs P-COVER, P-COVER needs P-SKIN|P-COVER needs P-SKIN, P-SKIN needs P-COVER"},
		{[]Access{{To: "Z-TIP", Needs: [][]PartID{{"P-SKIN"}}}, {To: "P-SKIN", Needs: [][]PartID{{"P-COVER"}}}, {To: "P-COVER", Needs: [][]PartID{{"P-SKIN"}}}}, "Z-TIP needs P-SKIN, P-SKIN needs P-COVER, P-COVER needs P-SKIN|P-SKIN needs P-COVER, P-COVER needs P-SKIN|P-COVER needs P-SKIN, P-SKIN needs P-COVER"},
	} {
		theGood.once.Do(func() { theGood.files, theGood.body = goodFiles(t), good(t) })
		b := *theGood.body
		b.Access = k.access
		var got []string
		for _, p := range b.validate(theGood.files) {
			got = append(got, p.Hint)
		}
		if strings.Join(got, "|") != k.want {
			t.Errorf("%v: %q, want %q", k.access, got, k.want)
		}
	}
}

// A walk of tasks back to where it began names the words along it. Constructed.
func TestCirclesOfTasks(t *testing.T) {
	for _, k := range []struct {
		tasks []Task
		want  string
	}{
		{[]Task{{ID: "A", Needs: []TaskID{"B"}}, {ID: "B"}}, ""},
		{[]Task{{ID: "A", Needs: []TaskID{"B"}}, {ID: "B", Follows: []TaskID{"A"}}}, "A needs B, B follows A|B follows A, A needs B"},
		{[]Task{{ID: "A", Needs: []TaskID{"C", "B"}}, {ID: "B", Needs: []TaskID{"C"}, Follows: []TaskID{"A"}}, {ID: "C"}}, "A needs B, B follows A|B follows A, A needs B|"},
		{[]Task{{ID: "A", Needs: []TaskID{"B"}}, {ID: "B", Needs: []TaskID{"C"}}, {ID: "C", Needs: []TaskID{"B"}}}, "|B needs C, C needs B|C needs B, B needs C"},
	} {
		c := &checker{b: &Body{Tasks: k.tasks}}
		var got []string
		for _, task := range k.tasks {
			got = append(got, c.taskCircle(task.ID))
		}
		if text := strings.Join(got, "|"); strings.Trim(text, "|") != strings.Trim(k.want, "|") {
			t.Errorf("%+v: %q, want %q", k.tasks, text, k.want)
		}
	}
}

// Conditions outside a procedure are judged as those in one, each by its own fact; what the body
// itself lacks is not told.
func TestConditionsOutsideAProcedure(t *testing.T) {
	b := good(t)
	b.ID = "no identity"
	got := CheckWhen(b, "block", map[string]string{"length": "<= 3 mm", "depth": "deep", "zones": "any of Z-NO", "colour": "red", FactOutboard: "includes C-1"})
	if len(got) != 3 || got["depth"].Msg == "" || !strings.Contains(got["zones"].Msg, "Z-NO") || !strings.Contains(got["colour"].Msg, "no fact") {
		t.Errorf("%+v", got)
	}
	if got := CheckWhen(b, "other", map[string]string{"zones": "any of Z-TIP"}); len(got) != 1 {
		t.Errorf("a zone of another casting: %+v", got)
	}
	p := b.Procedures[0]
	p.Supersedes = "nowhere"
	if problems := CheckProcedure(b, p); len(problems) > 0 {
		t.Errorf("%v", problems)
	}
	p.Rows = slices.Clone(p.Rows)
	p.Rows[0].When = map[string]string{"zones": "only Z-NO"}
	if problems := CheckProcedure(b, p); len(problems) == 0 || !strings.Contains(problems.Error(), "Z-NO") {
		t.Errorf("%v", problems)
	}
}

// A path names its list, its place in it and the rest, and is made of them.
func TestPathsOfADocument(t *testing.T) {
	for _, k := range []struct {
		path, list string
		i          int
		rest       string
	}{{"points[3].section", "points", 3, "section"}, {"points", "points", -1, ""}, {"parts[0]", "parts", 0, ""}, {"procedures[2].rows[1].when", "procedures", 2, "rows[1].when"}, {"points[x].id", "points", -1, "id"}} {
		if list, i, rest := splitIndex(k.path); list != k.list || i != k.i || rest != k.rest {
			t.Errorf("%s: %q %d %q", k.path, list, i, rest)
		}
	}
	if got := at("joints", 2, "layers", 1); got != "joints[2].layers[1]" {
		t.Errorf("%q", got)
	}
	b := good(t)
	for path, want := range map[string]string{"points[0].id": "points.csv:2: column id: odd", "points[2]": "points.csv:4: odd", "points[3].id": "points.csv: column id: odd", "parts[4].price": "parts.csv:6: column price: odd",
		"procedures[0].rows[1].cite": "procedures/tb-1.yaml:22:11: rows[1].cite: odd", "procedures[1].id": "body.yaml:1:1: procedures[1].id: odd"} {
		if got := b.Problem(path, "odd", "").String(); got != want && !(strings.HasPrefix(path, "procedures[1]") && strings.HasPrefix(got, "body.yaml")) {
			t.Errorf("%s: %q, want %q", path, got, want)
		}
	}
}

// A coordinate is rounded to a share of a unit, and nothing is minus zero: a document written again
// is written alike.
func TestTidyCoordinates(t *testing.T) {
	got := tidy(geom.Vec{-0.0004, 1.23456, -2.0006}, 1e3)
	if got != (geom.Vec{0, 1.235, -2.001}) || math.Signbit(got[0]) {
		t.Errorf("%v", got)
	}
}
