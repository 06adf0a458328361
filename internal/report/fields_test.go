package report

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/golden"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// chaptersOf is what each part of the documents is filled with, without the pages around it.
func chaptersOf(in Input) (map[string]string, error) {
	p := picked(in)
	front, err := buildFront(in, p)
	if err != nil {
		return nil, err
	}
	casting, err := buildCasting(in)
	if err != nil {
		return nil, err
	}
	draw := sheetDrawings{in: in}
	stop := stopReasons(in, p.Route)
	days, err := daySheets(in, p.Route, stop, &draw)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for name, of := range map[string]any{
		"head": buildHead(in), "front": front, "measured": buildMeasured(in), "casting": casting, "decisions": buildDecisions(in, p, casting),
		"opening": buildOpening(in, p), "routes": buildRoutes(in, p), "steps": buildSteps(in, p), "sign": buildSign(in, p), "proof": buildProof(in),
		"sheets": []any{titleSheetOf(in, p.Route, stop), readyRows(p.Route.Plan), days, draw.all},
		"owner":  []any{ownerMoved(in), ownerCasting(in), ownerSafe(in), ownerPlan(in, p), ownerMoney(in, p), ownerOpen(in, p), ownerLoss(p.Route), ownerBefore(in, p)},
		"screen": []any{Summary(in, 80), MeasureText(in.Body.Points, in.Body.Sections, in.Body.Axes, in.Measure, 80)},
		"said":   saidOf(in, p),
	} {
		text, err := json.Marshal(of)
		if err != nil {
			return nil, err
		}
		out[name] = string(text)
	}
	return out, nil
}

// orRefused is the chapters of an input; what contradicts itself, as no stage writes it, may
// be refused in any way.
func orRefused(in Input) (out map[string]string, err error) {
	defer func() {
		if recover() != nil {
			out, err = nil, errors.New("contradicts itself")
		}
	}()
	return chaptersOf(in)
}

// saidOf is what is said of each thing to who asks for it alone; what needs a whole chapter
// is held by TestDocumentsStayAsTheyAre.
func saidOf(in Input, p pick) [][]string {
	var out [][]string
	say := func(s ...string) { out = append(out, s) }
	for _, h := range in.Measure.Hypotheses {
		for _, b := range in.Body.Points[:min(2, len(in.Body.Points))] {
			say(fmt.Sprint(PointSays(in, b, h)))
		}
	}
	for _, f := range in.Inspect.Findings {
		say(append(FindingSays(in, f), RouteDoes(in, p.Route, f.ID))...)
	}
	for _, c := range in.Inspect.Coverage {
		say(append(AreaSays(in, c), AreaWord(in, c))...)
	}
	for _, j := range in.Inspect.Inspections {
		say(InspectionSays(in, j)...)
	}
	for _, s := range in.Job.Setups {
		say(SetupSays(in, s.ID)...)
	}
	for _, l := range in.Measure.Lengths {
		say(LengthSays(in.Measure, l.Setup, string(l.From), string(l.To))...)
	}
	for _, s := range in.Body.Sections {
		say(SectionSays(in, s.ID)...)
	}
	for _, l := range in.Body.Lines {
		say(LineSays(in, l)...)
	}
	for _, s := range p.Route.Plan.Steps {
		say(StepSays(in, s)...)
	}
	for _, l := range p.Route.Bill.Loss {
		say(LossSays(p.Route, l.ID)...)
	}
	for _, t := range p.Route.Plan.Takeoff {
		say(TakeoffSays(t)...)
	}
	for _, r := range in.Compare.Routes {
		say(append(SpreadSays(in, r.ID), Span(r.Plan))...)
	}
	if s := in.Compare.Spread; s != nil {
		for _, d := range s.Drivers {
			say(append(DriverSays(in, d.Name), DriverName(in, d.Name))...)
		}
		for _, d := range s.Days {
			say(append(DriverSays(in, d.Name), DriverName(in, d.Name))...)
		}
	}
	say(MeasurementSays(in)...)
	return append(out, DoneSays(in, p.Route))
}

// fields changes an input at one field after the other, in every way that its kind allows,
// and puts it back.
type fields struct {
	pool map[string][]reflect.Value // what stands in the fields of a type, or in a field of no own type
	seen map[string]int
	// known is the fields that were changed in an input before: the same again in a fuller one
	// would take long and tell little
	known map[string]bool
	note  func(field string)
}

// enough is in how many places a field is changed that stands in many.
const enough = 1

// key is by what values may stand in each other's place: their type, or where it is a plain
// one their field. A word of a closed set is as plain, but for those that stand in many fields.
func key(v reflect.Value, field string) string {
	of := v.Type().String()
	if v.Type().PkgPath() == "" || v.Kind() == reflect.String && !strings.HasSuffix(of, "ID") && !slices.Contains(inManyFields, of) {
		return field
	}
	return of
}

var inManyFields = []string{"body.TreatmentKind", "body.Caution", "body.BayKind", "job.Stage", "job.RecordName", "diag.Deed", "decide.QuestionState", "plan.AwaitedKind"}

func isLeaf(v reflect.Value) bool {
	switch v.Interface().(type) {
	case time.Time, unit.Date, geom.Vec:
		return true
	}
	switch v.Kind() {
	case reflect.Struct, reflect.Slice, reflect.Pointer, reflect.Map, reflect.Array:
		return false
	}
	return true
}

// under calls a function for each field of a value that can be set, with its name.
func under(v reflect.Value, name string, f func(v reflect.Value, name string)) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Field(i).CanSet() {
				f(v.Field(i), name+"."+v.Type().Field(i).Name)
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			f(v.Index(i), name)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			f(v.Elem(), name)
		}
	}
}

func (s *fields) collect(v reflect.Value, name string) {
	if !isLeaf(v) {
		under(v, name, s.collect)
		return
	}
	k := key(v, name)
	if !slices.ContainsFunc(s.pool[k], func(x reflect.Value) bool { return x.Equal(v) }) {
		c := reflect.New(v.Type()).Elem()
		c.Set(v)
		s.pool[k] = append(s.pool[k], c)
	}
}

// walk changes a value and what is under it.
func (s *fields) walk(v reflect.Value, name string) {
	was := reflect.New(v.Type()).Elem()
	was.Set(v)
	try := func(with reflect.Value) {
		if s.seen[name] > enough || s.known[name] {
			return
		}
		v.Set(with)
		s.note(name)
		v.Set(was)
	}
	if v.Kind() != reflect.Struct || isLeaf(v) {
		s.seen[name]++
	}
	switch {
	case isLeaf(v):
		for _, with := range s.others(v, name) {
			try(with)
		}
		return
	case v.Kind() == reflect.Slice && v.Len() == 0:
		one := reflect.MakeSlice(v.Type(), 1, 1)
		s.fill(one.Index(0), name, 0)
		try(one)
	case v.Kind() == reflect.Slice:
		try(v.Slice(0, v.Len()-1))
		try(reflect.Append(v.Slice3(0, v.Len(), v.Len()), v.Index(0)))
		try(reflect.Zero(v.Type()))
	case v.Kind() == reflect.Pointer && v.IsNil():
		one := reflect.New(v.Type().Elem())
		s.fill(one.Elem(), name, 0)
		try(one)
	case v.Kind() == reflect.Pointer:
		try(reflect.Zero(v.Type()))
	}
	under(v, name, s.walk)
}

// others is what may stand in a field instead.
func (s *fields) others(v reflect.Value, name string) []reflect.Value {
	var out []reflect.Value
	add := func(x any) { out = append(out, reflect.ValueOf(x).Convert(v.Type())) }
	switch x := v.Interface().(type) {
	case time.Time:
		add(x.Add(26*time.Hour + 7*time.Minute))
		add(time.Time{})
		return out
	case unit.Date:
		add(unit.Date{})
		add(unit.Date{Year: 2026, Month: 3, Day: 9})
		add(unit.Date{Year: 2026, Month: 2, Day: 27})
		return out
	case geom.Vec:
		add(geom.Vec{})
		add(x.Add(geom.Vec{11, -23, 37}))
		return out
	}
	switch v.Kind() {
	case reflect.Bool:
		add(!v.Bool())
	case reflect.Int, reflect.Int64, reflect.Int32, reflect.Uint8, reflect.Uint64, reflect.Int8, reflect.Uint:
		for _, n := range []int64{0, 1, 3} {
			add(n)
		}
	case reflect.Float64:
		add(-v.Float()*1.3 - 0.07)
		add(v.Float()*2.7 + 0.31)
	case reflect.String:
		add("")
		for _, x := range s.pool[key(v, name)] {
			if len(out) < 4 {
				out = append(out, x)
			}
		}
	}
	return slices.DeleteFunc(out, func(x reflect.Value) bool { return x.Equal(v) })
}

// fillEmpty puts something into every field that is empty.
func (s *fields) fillEmpty(v reflect.Value, name string) {
	if v.IsZero() || v.Kind() == reflect.Slice && v.Len() == 0 {
		s.fill(v, name, 0)
		return
	}
	if !isLeaf(v) {
		under(v, name, s.fillEmpty)
	}
}

// fill puts something into every field: where there is one, a value that stands elsewhere in
// a field of the same type.
func (s *fields) fill(v reflect.Value, name string, depth int) {
	if known := s.pool[key(v, name)]; len(known) > 0 && isLeaf(v) {
		if v.Set(known[len(known)-1]); !v.IsZero() {
			return
		}
	}
	switch x := v.Addr().Interface().(type) {
	case *time.Time:
		*x = time.Date(2026, 3, 5, 9, 30, 0, 0, time.UTC)
		return
	case *unit.Date:
		*x = unit.Date{Year: 2026, Month: 3, Day: 5}
		return
	}
	switch v.Kind() {
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int64, reflect.Int32, reflect.Int8:
		v.SetInt(int64(2 + len(name)%7))
	case reflect.Uint8, reflect.Uint64, reflect.Uint:
		v.SetUint(uint64(2 + len(name)%7))
	case reflect.Float64:
		v.SetFloat(0.25 + float64(len(name)%11))
	case reflect.String:
		v.SetString("the " + name[strings.LastIndex(name, ".")+1:])
	case reflect.Slice:
		if depth < 3 {
			v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		}
	case reflect.Pointer:
		if depth < 3 {
			v.Set(reflect.New(v.Type().Elem()))
		}
	}
	under(v, name, func(v reflect.Value, name string) { s.fill(v, name, depth+1) })
}

// TestFieldsShowWhereTheyDid: each field of the input, changed by itself, shows in the same
// parts of the documents, to the letter, as when they were last looked at: of the fixtures,
// and of the fixtures with something in every field that is empty there. testdata/fields.tsv
// says for each in which; one that shows nowhere has no part there.
func TestFieldsShowWhereTheyDid(t *testing.T) {
	in, whole := fixture(t), fixture(t)
	in.Vehicle, whole.Vehicle, whole.Full = nil, nil, true
	s := filling(&in, &whole)
	var b strings.Builder
	for _, line := range slices.Concat(s.shown(t, "as it is", &in), s.shown(t, "filled", &whole)) {
		b.WriteString(line)
	}
	golden.Same(t, "testdata/fields.tsv", b.String())
}

// filling puts something into every field of an input that is empty there, out of what
// stands in the fields of another.
func filling(from, into *Input) *fields {
	s := &fields{pool: map[string][]reflect.Value{}}
	for name, of := range sourcesOf(from) {
		s.collect(of, name)
	}
	for name, of := range sourcesOf(into) {
		s.fillEmpty(of, name)
	}
	return s
}

// changed is a text without what it begins and ends with as it did before: the table hangs on
// what a field does, and little on what else the page says.
func changed(before, now string) string {
	n := 0
	for n < min(len(before), len(now)) && before[n] == now[n] {
		n++
	}
	before, now = before[n:], now[n:]
	for len(before) > 0 && len(now) > 0 && before[len(before)-1] == now[len(now)-1] {
		before, now = before[:len(before)-1], now[:len(now)-1]
	}
	return before + "\t" + now
}

// sourcesOf is what of an input comes from documents and stages.
func sourcesOf(in *Input) iter.Seq2[string, reflect.Value] {
	return func(yield func(string, reflect.Value) bool) {
		v := reflect.ValueOf(in).Elem()
		for _, name := range []string{"Body", "Shop", "Job", "Measure", "Inspect", "Decide", "Compare", "Notes", "History", "Progress"} {
			f := v.FieldByName(name)
			if f.Kind() == reflect.Pointer && !f.IsNil() {
				f = f.Elem()
			}
			if !yield(name, f) {
				return
			}
		}
	}
}

// shown is a line for each field: the parts of the documents in which its changes show, and
// the fingerprint of what they make of these parts.
func (s *fields) shown(t *testing.T, base string, in *Input) []string {
	before, err := chaptersOf(*in)
	if err != nil {
		t.Fatal(err)
	}
	parts, sums := map[string]map[string]bool{}, map[string][]byte{}
	s.seen = map[string]int{}
	s.note = func(field string) {
		if parts[field] == nil {
			parts[field] = map[string]bool{}
		}
		text := ""
		now, err := orRefused(*in)
		if err != nil {
			text = err.Error()
		}
		for _, part := range slices.Sorted(maps.Keys(now)) {
			if now[part] != before[part] {
				parts[field][part] = true
				text += changed(before[part], now[part])
			}
		}
		sum := sha256.Sum256(append(sums[field], text...))
		sums[field] = sum[:]
	}
	for name, of := range sourcesOf(in) {
		if s.known == nil || name != "Body" && name != "Shop" {
			s.walk(of, name)
		}
	}
	if s.known == nil {
		s.known = map[string]bool{}
	}
	for field := range sums {
		s.known[field] = true
	}
	var out []string
	for _, field := range slices.Sorted(maps.Keys(sums)) {
		out = append(out, fmt.Sprintf("%s\t%s\t%s\t%.4x\n", base, field, strings.Join(slices.Sorted(maps.Keys(parts[field])), " "), sums[field]))
	}
	return out
}

// A finding that names no casting is drawn on none.
func TestFindingOfNoCastingIsNotDrawn(t *testing.T) {
	in := fixture(t)
	for i := range in.Inspect.Findings {
		in.Inspect.Findings[i].Casting = ""
	}
	if f, err := buildFront(in, picked(in)); err != nil || f.Findings.SVG != "" {
		t.Errorf("drawn: %v, error %v", f.Findings.SVG != "", err)
	}
}

// Documents whose work is stopped stop where the vehicle is asked, and nothing comes of them.
func TestStoppedDocumentsAreNone(t *testing.T) {
	stop := fmt.Errorf("stopped")
	for name, make := range map[string]func(in Input) ([]byte, error){
		"report": HTML, "owner": Owner,
		"sheets":   func(in Input) ([]byte, error) { return Sheets(in, in.Compare.Routes[0]) },
		"question": func(in Input) ([]byte, error) { return QuestionHTML(in, decide.Question{ID: "Q1", Finding: "F2"}, nil) },
	} {
		in := fixture(t)
		s, err := fixtureSurface()
		if err != nil {
			t.Fatal(err)
		}
		in.Vehicle = vehicle.New(in.Body, map[body.CastingID]*mesh.Surface{"C1": s}) // with nothing drawn yet
		ctx, cancel := context.WithCancelCause(t.Context())
		var page []byte
		err = halt.Do(ctx, func(w *halt.Work) {
			in.Work = w
			cancel(stop)
			page, err = make(in)
		})
		if name == "owner" { // it has no picture: nothing of it takes long
			continue
		}
		if !errors.Is(err, stop) || page != nil {
			t.Errorf("%s: %d bytes, error %v", name, len(page), err)
		}
	}
}

// TestRareJobsStayAsTheyAre: what the fixtures do not have: a vehicle that has not moved but
// was not measured everywhere, parts that are promised, or came, points that lie close
// together so that their names make room, and rivets laid out in rows.
func TestRareJobsStayAsTheyAre(t *testing.T) {
	var b strings.Builder
	for _, c := range []struct {
		name string
		set  func(in *Input)
	}{
		{"not moved", func(in *Input) {
			in.Measure.Ambiguous = false
			for i := range in.Measure.Hypotheses[0].Points {
				p := &in.Measure.Hypotheses[0].Points[i]
				p.Moved, p.Firm, p.Tolerance = false, true, measure.Met
			}
		}},
		{"promised", func(in *Input) {
			in.Job.Promises = []job.Promised{{ID: "PR-1", Item: "WING", Expected: d(10), On: d(2), By: "ST1"}}
		}},
		{"promised for before the work", func(in *Input) {
			in.Job.Promises = []job.Promised{{ID: "PR-1", Item: "WING", Expected: d(3), On: d(2), By: "ST1"}}
		}},
		{"came", func(in *Input) {
			in.Job.Deliveries = []job.Arrival{{ID: "A-1", Item: "WING", Count: 1, On: d(6), By: "ST1"}}
		}},
		{"crowded", func(in *Input) {
			for i := range in.Body.Points {
				p := &in.Body.Points[i]
				p.X, p.Y, p.Z = 100*float64(i%4), 90*float64(i%3), 400+25*float64(i)
			}
		}},
		{"crowded more", func(in *Input) {
			for i := range in.Body.Points {
				p := &in.Body.Points[i]
				p.X, p.Y, p.Z = 30*float64(i%4), 20*float64(i%3), 400+7*float64(i)
				p.ID = body.PointID(string(p.ID) + "-with-a-long-name")
			}
			in.Body.Points[0].X, in.Body.Points[1].X = -2000, 2000
		}},
	} {
		in := fixture(t)
		in.Vehicle = nil
		c.set(&in)
		chapters, err := chaptersOf(in)
		if err != nil {
			t.Fatal(err)
		}
		for _, part := range slices.Sorted(maps.Keys(chapters)) {
			fmt.Fprintf(&b, "%s\t%s\t%.4x\n", c.name, part, sha256.Sum256([]byte(chapters[part])))
		}
	}
	golden.Same(t, "testdata/rare.tsv", b.String())
}

// On a casting whose sides are known a trace is drawn on both of them where it goes through,
// and only there.
func TestOnlyWhatGoesThroughIsDrawnOnBothSides(t *testing.T) {
	in := fixture(t)
	block := &mesh.Mesh{}
	addBox(block, geom.Vec{-800, -450, 500}, geom.Vec{-400, 450, 720}, 100)
	s, err := mesh.NewSurface(welded(block))
	if err != nil {
		t.Fatal(err)
	}
	in.Vehicle = vehicle.New(in.Body, map[body.CastingID]*mesh.Surface{"C1": s})
	with := func(through body.YesNo) mark {
		in.Inspect.Findings[0].Through = through
		return findingMarks(in, "C1")[0]
	}
	if reflect.DeepEqual(with(body.Yes), with("")) || !reflect.DeepEqual(with("no"), with("")) {
		t.Errorf("through %+v, not %+v", with(body.Yes), with("no"))
	}
}
