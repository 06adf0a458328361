package job

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/ledger"
	"fettle/internal/unit"
)

// jobs is how many drawn jobs a test takes; more where a campaign says so.
func jobs(t testing.TB, few int) int {
	if n, err := strconv.Atoi(os.Getenv("FETTLE_DRAWS")); err == nil && os.Getenv("FETTLE_CAMPAIGN") != "" {
		return n
	}
	return few
}

// drawn is a job with some of the records of the good one, some of them twice where they have
// no identity, in an order of its own.
func drawn(t testing.TB, r *rand.Rand) State {
	s := stored(goodState(t))
	v := reflect.ValueOf(&s).Elem()
	for _, k := range sorts {
		if k.list == "" || k.kind == ReadingsTaken {
			continue
		}
		f := v.Field(fieldOf(k.list))
		out := reflect.MakeSlice(f.Type(), 0, f.Len())
		for _, i := range r.Perm(f.Len()) {
			x := f.Index(i)
			if r.IntN(4) == 0 && k.kind != BillAgreed {
				continue
			}
			out = reflect.Append(out, x)
			for k.of(x.Interface()) == "" && r.IntN(3) == 0 {
				out = reflect.Append(out, x)
			}
		}
		if f.Set(out); out.Len() == 0 {
			f.SetZero()
		}
	}
	s.Readings = slices.Clone(s.Readings)
	r.Shuffle(len(s.Readings), func(i, j int) { s.Readings[i], s.Readings[j] = s.Readings[j], s.Readings[i] })
	for i := range s.Readings { // two set-ups, their readings mixed
		s.Readings[i].Setup = []string{"S1", "S2"}[r.IntN(2)]
	}
	return s
}

func hashOf(t testing.TB, s *State) string {
	t.Helper()
	h, err := s.Hash()
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// mixedJSON writes a tree with the members of every object in a drawn order.
func mixedJSON(r *rand.Rand, v any) []byte {
	switch v := v.(type) {
	case doc.Object:
		r.Shuffle(len(v), func(i, j int) { v[i], v[j] = v[j], v[i] })
		var out [][]byte
		for _, m := range v {
			name, _ := json.Marshal(m.Name)
			out = append(out, append(append(name, ':'), mixedJSON(r, m.Value)...))
		}
		return append(append([]byte("{"), bytes.Join(out, []byte(","))...), '}')
	case []any:
		var out [][]byte
		for _, x := range v {
			out = append(out, mixedJSON(r, x))
		}
		return append(append([]byte("["), bytes.Join(out, []byte(","))...), ']')
	}
	b, _ := json.Marshal(v)
	return b
}

// shuffled is events in another order; those of a list whose order says something keep theirs.
func shuffled(r *rand.Rand, events []Event) []Event {
	out := slices.Clone(events)
	r.Shuffle(len(out)-1, func(i, j int) { out[i+1], out[j+1] = out[j+1], out[i+1] })
	for _, k := range sorts {
		if !k.ordered {
			continue
		}
		var at []int
		for i, e := range out {
			if e.Kind == k.kind {
				at = append(at, i)
			}
		}
		n := 0
		for _, e := range events {
			if e.Kind == k.kind {
				out[at[n]] = e
				n++
			}
		}
	}
	return out
}

// TestOneJobOneHash draws jobs and reads each in every way there is: as files, with the
// fields in another order, as events, in another order, as a chain read at once and in parts. It is
// one state with one hash. The heads of the chains differ.
func TestOneJobOneHash(t *testing.T) {
	for seed := range jobs(t, 12) {
		r := rand.New(rand.NewPCG(uint64(seed), 1))
		s := drawn(t, r)
		want := hashOf(t, &s)
		same := func(how string, got *State) {
			t.Helper()
			if h := hashOf(t, got); h != want {
				t.Errorf("seed %d, %s: hash %s, want %s", seed, how, h, want)
			}
		}
		events := FromState(s)
		folded, err := Fold(events)
		if err != nil {
			t.Fatal(err)
		}
		same("folded", &folded)
		again, err := Fold(append(shuffled(r, events), events[1:]...)) // every one twice, the second time in order
		if err != nil {
			t.Fatal(err)
		}
		same("shuffled and repeated", &again)
		files := s
		files.Body, files.Shop = "../body", "../shop.yaml"
		var read State
		text := map[string][]byte{MainFile: mixedJSON(r, doc.Encode(files)), ReadingsFile: doc.EncodeCSV(s.Readings)}
		if p := read.read(text); len(p) > 0 {
			t.Fatalf("seed %d: %v", seed, p)
		}
		read.setDefaults()
		same("as JSON with its fields mixed", &read)
		read = State{}
		if p := read.read(Encode(&files)); len(p) > 0 {
			t.Fatalf("seed %d: %v", seed, p)
		}
		read.setDefaults()
		same("as YAML", &read)
		chain := loose(t, shuffled(r, events))
		whole, err := Read(chain)
		if err != nil {
			t.Fatal(err)
		}
		same("as a chain", whole.State())
		k := 1 + r.IntN(len(chain)-1)
		part, err := Read(chain[:k])
		if err != nil {
			t.Fatal(err)
		}
		if part, err = part.Then(chain[k:]); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(part, whole) {
			t.Errorf("seed %d: read in two parts at %d it is another job", seed, k)
		}
	}
}

// loose writes events without asking whether they hold together.
func loose(t testing.TB, events []Event) ledger.Chain {
	t.Helper()
	var s Stored
	var c ledger.Chain
	by := stamp(morning, "T1")
	for _, e := range events {
		e.Seen = s.Newest(e.About())
		entry, err := s.next(e, by, map[RecordName]bool{})
		if err != nil {
			t.Fatal(err)
		}
		c = append(c, entry)
	}
	return c
}

// TestHashSeesEveryField changes every value of the good job, one after the other, and
// expects another hash; where body and shop lie changes none.
func TestHashSeesEveryField(t *testing.T) {
	s := goodState(t)
	want := hashOf(t, &s)
	n := 0
	var walk func(at string, v reflect.Value)
	walk = func(at string, v reflect.Value) {
		was := reflect.New(v.Type()).Elem()
		was.Set(v)
		switch v.Kind() {
		case reflect.String:
			v.SetString(v.String() + "x")
		case reflect.Int, reflect.Int64:
			v.SetInt(v.Int() + 1)
		case reflect.Float64:
			v.SetFloat(v.Float() + 0.5)
		case reflect.Bool:
			v.SetBool(!v.Bool())
		case reflect.Pointer:
			if !v.IsNil() {
				walk(at, v.Elem())
			}
			return
		case reflect.Slice, reflect.Array:
			for i := range v.Len() {
				walk(fmt.Sprintf("%s[%d]", at, i), v.Index(i))
			}
			return
		case reflect.Struct:
			if known := v.FieldByName("Known"); known.IsValid() && !known.Bool() {
				return // its value is not there
			}
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() && f.Name != "Line" {
					walk(at+"."+f.Name, v.Field(i))
				}
			}
			return
		default:
			return
		}
		n++
		if n%4 != 0 && os.Getenv("FETTLE_CAMPAIGN") == "" && len(at) > len(".Body") {
			v.Set(was)
			return
		}
		if got, err := s.Hash(); err == nil && (got == want) != (at == ".Body" || at == ".Shop") {
			t.Errorf("%s: hash changed %v", at, got != want)
		}
		v.Set(was)
	}
	walk("", reflect.ValueOf(&s).Elem())
	if n < 300 {
		t.Errorf("only %d values were changed", n)
	}
}

// back is the events that take a job to a state, written at once: what is there and is not in
// the state is withdrawn, the rest recorded anew.
func back(s *Stored, to []Event) []Event {
	var out []Event
	kept := map[RecordName]bool{}
	for _, e := range to[1:] {
		of := e.About()
		kept[of] = true
		if now, ok := s.Record(of); !ok || !reflect.DeepEqual(now, fullOf(e)) {
			e.Seen = s.Newest(of)
			out = append(out, e)
		}
	}
	for _, x := range s.slots {
		if k, _ := x.of.sortOf(); k.list != "" && !x.gone && !kept[x.of] {
			out = append(out, dropped(s, x.of))
		}
	}
	return out
}

func fullOf(e Event) any {
	if k := sorts[byKind[string(e.Kind)]]; k.full != nil {
		return k.full(e.Data)
	}
	return e.Data
}

func dropped(s *Stored, of RecordName) Event {
	return Event{Kind: RecordWithdrawn, Of: of, Seen: s.Newest(of), Data: Withdrawal{By: "T1", On: unit.Date{Year: 2026, Month: 3, Day: 9}, Reason: "Another vehicle"}}
}

// TestAnyWayToAStateIsThatState: records are replaced, withdrawn and added in a drawn order,
// some of which is refused, and then taken back to where they were, or written as new ones of
// the same content. The state and its hash are those of the job written directly.
func TestAnyWayToAStateIsThatState(t *testing.T) {
	s := stored(goodState(t))
	want := hashOf(t, &s)
	done := map[string]int{}
	for seed := range jobs(t, 10) {
		r := rand.New(rand.NewPCG(uint64(seed), 2))
		chain, now := chainOf(t, s)
		for range 30 {
			x := now.slots[1+r.IntN(len(now.slots)-1)]
			e, what := dropped(now, x.of), "withdrawn"
			if k, _ := x.of.sortOf(); x.gone || k.list == "" || r.IntN(2) == 0 {
				e, what = Event{Kind: k.kind, Of: x.of, Data: varied(r, x.data), Seen: now.Newest(x.of)}, "replaced"
				if k.list != "" && r.IntN(3) == 0 && k.of(x.data) == "" {
					e.Of, e.Seen, what = "", 0, "added"
				}
			}
			more, next, err := now.Write([]Event{e}, stamp(morning, "T2"))
			if err != nil {
				done["refused"]++
				continue
			}
			done[what]++
			chain, now = append(chain, more...), next
		}
		if events := back(now, FromState(s)); len(events) > 0 {
			more, next, err := now.Write(events, stamp(morning, "T3"))
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			chain, now = append(chain, more...), next
		}
		read, err := Read(chain)
		if err != nil {
			t.Fatal(err)
		}
		if got := read.State(); hashOf(t, got) != want || !reflect.DeepEqual(bare(*got), bare(s)) || hashOf(t, now.State()) != want {
			t.Errorf("seed %d: another state:\n%+v\nwant\n%+v", seed, got, s)
		}
	}
	for _, what := range []string{"withdrawn", "replaced", "added", "refused"} {
		if done[what] == 0 {
			t.Errorf("nothing was %s: %v", what, done)
		}
	}
}

// varied is a record with its day moved and its text changed, where it has them.
func varied(r *rand.Rand, data any) any {
	v := reflect.New(reflect.TypeOf(data)).Elem()
	v.Set(reflect.ValueOf(data))
	for _, name := range []string{"Text", "Reason"} {
		if f := v.FieldByName(name); f.IsValid() && v.Type() != reflect.TypeFor[Hazard]() {
			f.SetString(fmt.Sprint("Word ", r.IntN(100)))
		}
	}
	return v.Interface()
}

// TestPlaceOfAnEntry: where something is entered is a field of job.yaml that its reader knows, or a record
// of the sort that putting it takes.
func TestPlaceOfAnEntry(t *testing.T) {
	written := goodState(t)
	_, kept := chainOf(t, written)
	for field := range strings.SplitSeq("promises deliveries actuals records setups vehicle start search_seed author", " ") {
		if got := written.Place(field); got != "'"+field+"' in job.yaml" || !strings.Contains(string(Encode(&written)[MainFile]), "\n"+field+":") && field != "promises" && field != "deliveries" {
			t.Errorf("%s: %s", field, got)
		}
		got := kept.State().Place(field)
		word, record := strings.CutPrefix(got, "record '")
		_, _, err := DecodeRecord(RecordName(strings.TrimSuffix(word, "'")), "r.yaml", nil)
		if opening := field == "author"; record == opening || strings.Contains(got, "job.yaml") || record && diag.KindOf(err) == diag.NotFound {
			t.Errorf("%s of a stored job: %s (%v)", field, got, err)
		}
	}
	if !written.Written() || kept.State().Written() {
		t.Error("which of the two was written by hand is not known")
	}
}

// TestTwoEditors: two people read and write a few records, each with what they had read last.
// What was written over without being seen is refused; every event of the chain was
// written over what its author had seen, and what each wrote last without a refusal is there.
func TestTwoEditors(t *testing.T) {
	taken, refused := 0, 0
	for seed := range jobs(t, 4) {
		r := rand.New(rand.NewPCG(uint64(seed), 3))
		chain, now := chainOf(t, stored(goodState(t)))
		had := [2]*Stored{now, now}
		of := []RecordName{"finding/F1", "vehicle", "review/#1", "choice/#1", "area/A-ROOT"}
		last := map[RecordName]any{}
		for range 60 {
			me := r.IntN(2)
			if r.IntN(3) == 0 {
				had[me] = now
			}
			x := of[r.IntN(len(of))]
			data, ok := had[me].Record(x)
			if !ok {
				t.Fatalf("%s is not there", x)
			}
			k, _ := x.sortOf()
			data = varied(r, data)
			more, next, err := now.Write([]Event{{Kind: k.kind, Of: x, Data: data, Seen: had[me].Newest(x)}}, stamp(morning, fmt.Sprint("T", me)))
			if unseen := had[me].Newest(x) != now.Newest(x); unseen != (err != nil) || err != nil && diag.KindOf(err) != diag.Conflict {
				t.Fatalf("seed %d: %s had been written: %v, and the answer is %v", seed, x, unseen, err)
			}
			if err != nil {
				refused++
				continue
			}
			taken++
			chain, now, had[me], last[x] = append(chain, more...), next, next, data
		}
		read, err := Read(chain)
		if err != nil {
			t.Fatal(err)
		}
		for x, want := range last {
			if got, _ := read.Record(x); !reflect.DeepEqual(got, want) {
				t.Errorf("seed %d: %s is %v, want %v", seed, x, got, want)
			}
		}
	}
	if taken < 50 || refused < 20 {
		t.Errorf("%d taken, %d refused: the test shows little", taken, refused)
	}
}

// TestNothingIsWrittenTwice: the same event again is a conflict, also of a record that was
// withdrawn meanwhile, and what was written at once is all refused for one of it.
func TestNothingIsWrittenTwice(t *testing.T) {
	_, now := chainOf(t, goodState(t))
	f, _ := now.Record("finding/F3")
	e := Event{Kind: FindingRecorded, Data: f, Seen: now.Newest("finding/F3")}
	_, then, err := now.Write([]Event{e}, stamp(morning, "T1"))
	if err != nil {
		t.Fatal(err)
	}
	for name, events := range map[string][]Event{
		"again":              {e},
		"as if new":          {{Kind: FindingRecorded, Data: f}},
		"with another":       {{Kind: DecisionsReviewed, Data: Review{By: "T1", On: goodState(t).Opened}}, e},
		"seen and not there": {{Kind: FindingRecorded, Data: Finding{ID: "F9"}, Seen: 3}},
		"withdrawn unseen":   {{Kind: RecordWithdrawn, Of: "finding/F3", Data: dropped(now, "finding/F3").Data}},
	} {
		if c, s, err := then.Write(events, stamp(morning, "T1")); diag.KindOf(err) != diag.Conflict || c != nil || s != nil {
			t.Errorf("%s: %v, %d entries", name, err, len(c))
		}
	}
	if _, _, err := then.Write([]Event{dropped(then, "choice/#1"), {Kind: ChoiceMade, Of: "choice/#1", Data: goodState(t).Choices[0], Seen: then.Newest("choice/#1")}}, stamp(morning, "T1")); err == nil {
		t.Error("one record was written twice at once")
	}
}

// TestWithdrawing takes every record of the good job away in turn. It is refused while others
// refer to it, and they are named; withdrawn with all of those it goes, and then nothing of the job
// names it any more. What was agreed with a payer and what the manufacturer was told are of
// their day, and name what there was.
func TestWithdrawing(t *testing.T) {
	_, now := chainOf(t, goodState(t))
	alone, together := 0, 0
	for _, x := range now.slots {
		k, _ := x.of.sortOf()
		if k.list == "" {
			if _, _, err := now.Write([]Event{dropped(now, x.of)}, stamp(morning, "T1")); err == nil {
				t.Errorf("%s was withdrawn", x.of)
			}
			continue
		}
		gone := []RecordName{x.of}
		after, err := withoutAll(now, gone)
		for n := len(gone); err != nil; n = len(gone) {
			for _, y := range now.slots {
				if strings.Contains(err.Error(), ": "+string(y.of)) || strings.Contains(err.Error(), ", "+string(y.of)) {
					gone = append(gone, y.of)
				}
			}
			if len(gone) == n || diag.KindOf(err) != diag.Conflict {
				t.Fatalf("%s: %v", x.of, err)
			}
			after, err = withoutAll(now, gone)
		}
		if len(gone) > 1 {
			together++
		} else {
			alone++
		}
		if _, name, _ := strings.Cut(string(x.of), "/"); slices.Contains([]string{"setup", "evidence", "inspection", "finding", "question", "answer"}, k.word) {
			for _, y := range after.slots {
				if y.gone || strings.HasPrefix(string(y.of), "bill/") || strings.HasPrefix(string(y.of), "told/") {
					continue
				}
				if text, err := json.Marshal(plain(doc.Encode(y.data))); err != nil || bytes.Contains(text, []byte(`"`+name+`"`)) {
					t.Errorf("%v were withdrawn, and %s names %s: %s %v", gone, y.of, x.of, text, err)
				}
			}
		}
	}
	if alone < 10 || together < 5 {
		t.Errorf("%d withdrawn alone, %d with others", alone, together)
	}
}

func withoutAll(now *Stored, gone []RecordName) (*Stored, error) {
	var events []Event
	for _, x := range gone {
		events = append(events, dropped(now, x))
	}
	_, after, err := now.Write(events, stamp(morning, "T1"))
	return after, err
}

// plain is a tree as encoding/json takes it.
func plain(v any) any {
	switch v := v.(type) {
	case doc.Object:
		out := map[string]any{}
		for _, m := range v {
			out[m.Name] = plain(m.Value)
		}
		return out
	case []any:
		out := make([]any, len(v))
		for i, x := range v {
			out[i] = plain(x)
		}
		return out
	}
	return v
}
