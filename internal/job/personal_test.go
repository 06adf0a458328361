package job

import (
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/ledger"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// TestTextsOfPeopleAreMarked: every field that is called like one for a person or a remark is
// erasable, or stands here with why it is not.
func TestTextsOfPeopleAreMarked(t *testing.T) {
	keep := map[string]string{
		"Hazard.text":       "tells the hazard from others, and people by it",
		"Risk.text":         "is what may turn out bad",
		"Figure.text":       "is a figure that is no number: a batch",
		"FaultCode.text":    "is what the device says to a code",
		"Answer.conditions": "is how the work has to be done",
		"Actual.again":      "says that a step was done again",
		"Actual.unplanned":  "says that work has no step",
		"Erasure.reason":    "says why a text was erased, without a name",

		"ErasureAgreed.reason": "says why a text is to be erased, without a name",
	}
	seen := 0
	var walk func(t reflect.Type, under string)
	bad := func(f string) { t.Errorf("%s is neither erasable nor kept for a reason", f) }
	done := map[reflect.Type]bool{}
	walk = func(ty reflect.Type, under string) {
		switch ty.Kind() {
		case reflect.Pointer, reflect.Map:
			if holdsTexts(ty.Elem()) {
				t.Errorf("%s holds texts of people behind a pointer, where they are not found", under)
			}
		case reflect.Slice, reflect.Array:
			walk(ty.Elem(), under)
		case reflect.Struct:
			if done[ty] || ty.PkgPath() != reflect.TypeFor[State]().PkgPath() {
				return
			}
			done[ty] = true
			for i := range ty.NumField() {
				f := ty.Field(i)
				name, _, _ := strings.Cut(f.Tag.Get("doc"), ",")
				full := ty.Name() + "." + name
				looks := slices.Contains([]string{"by", "recorded_by", "author", "text", "reason", "again", "unplanned", "conditions"}, name) && f.Type.Kind() == reflect.String
				switch {
				case f.Tag.Get(personal) != "":
					if seen++; f.Type.Kind() != reflect.String {
						t.Errorf("%s is no text", full)
					}
				case looks && keep[full] == "":
					bad(full)
				}
				walk(f.Type, full)
			}
		}
	}
	for _, k := range Kinds() {
		walk(eventType(k), string(k))
	}
	if seen < 30 {
		t.Errorf("only %d fields are erasable", seen)
	}
}

// TestEveryTextOfAPersonIsFound: of every kind of record with one, two and three of whatever it
// has several of, each text of a person is exchanged, and the record itself stays as it was.
func TestEveryTextOfAPersonIsFound(t *testing.T) {
	most := 0
	for _, k := range Kinds() {
		for n := 1; n <= 3; n++ {
			said := 0
			v := reflect.New(eventType(k)).Elem()
			fillTexts(v, n, func() string { said++; return fmt.Sprint("text ", said) })
			was := texts(v.Interface())
			changed, err := withTexts(v.Interface(), func(string) (string, error) { return "changed", nil })
			if err != nil || len(was) != said || slices.Contains(was, "changed") {
				t.Fatalf("%s: %v, %d of %d texts", k, err, len(was), said)
			}
			for i, text := range texts(changed) {
				if text != "changed" {
					t.Errorf("%s with %d of everything: text %d is still %q", k, n, i+1, text)
				}
			}
			if now := texts(v.Interface()); !slices.Equal(now, was) {
				t.Errorf("%s: the record itself now says %q", k, now)
			}
			most = max(most, said)
		}
	}
	if most < 4 {
		t.Errorf("no record had more than %d texts", most)
	}
}

// fillTexts gives a value so many of everything that it may have several of, and every field
// marked personal a text.
func fillTexts(v reflect.Value, n int, text func() string) {
	switch v.Kind() {
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		for i := range n {
			fillTexts(v.Index(i), n, text)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			switch f := v.Type().Field(i); {
			case !f.IsExported():
			case f.Tag.Get(personal) != "":
				v.Field(i).SetString(text())
			default:
				fillTexts(v.Field(i), n, text)
			}
		}
	}
}

// strip takes the texts of a record out of a chain, as a store does after an erasure.
func strip(c ledger.Chain, of RecordName) ledger.Chain {
	out := slices.Clone(c)
	for i := range out {
		if out[i].About == string(of) {
			out[i].Beside = nil
		}
	}
	return out
}

// texts is every text of a person in a record.
func texts(data any) []string {
	var out []string
	withTexts(data, func(s string) (string, error) { out = append(out, s); return s, nil })
	return out
}

// TestErasing erases the texts of every record of the good job in turn. The chain verifies
// with them and without, and both ways it is the same job; the texts are in no byte of it any
// more; the record is still there, nothing else has changed, and nobody signed for it.
func TestErasing(t *testing.T) {
	s := goodState(t)
	opened, first := chainOf(t, s)
	for i, k := range FromState(s) {
		if i%4 != 1 && i > 0 && os.Getenv("FETTLE_CAMPAIGN") == "" {
			continue
		}
		of := k.About()
		chain, now := slices.Clone(opened), first
		was, _ := now.Record(of)
		mine := strings.ReplaceAll(fmt.Sprint("Only here ", of), `"`, "")
		marked, err := withTexts(was, func(string) (string, error) { return mine, nil })
		if err != nil {
			t.Fatal(err)
		}
		kind := EventKind(k.Kind)
		var more ledger.Chain
		if of != OfOpening {
			e := Event{Kind: kind, Of: of, Data: marked, Seen: now.Newest(of)}
			if more, now, err = now.Write([]Event{e}, stamp(morning, "T2")); err != nil && !strings.Contains(err.Error(), "person") {
				t.Fatalf("%s: %v", of, err)
			}
			chain = append(chain, more...)
		}
		more, now, err = now.Write([]Event{{Kind: TextsErased, Of: of, Seen: now.Newest(of), Data: Erasure{On: s.Opened, Reason: "Asked for"}}}, stamp(morning, "T3"))
		if err != nil {
			t.Fatalf("%s: %v", of, err)
		}
		chain = append(chain, more...)
		gone := strip(chain, of)
		bytes, err := json.Marshal(gone)
		if err != nil || strings.Contains(string(bytes), mine) {
			t.Errorf("%s: its text is still there", of)
		}
		left, err := Read(gone)
		if err != nil {
			t.Fatalf("%s: %v", of, err)
		}
		kept, err := Read(chain) // a copy from before
		if err != nil {
			t.Fatalf("%s: %v", of, err)
		}
		if a, b := hashOf(t, left.State()), hashOf(t, kept.State()); a != b || !reflect.DeepEqual(bare(*left.State()), bare(*kept.State())) || hashOf(t, now.State()) != a {
			t.Errorf("%s: with its texts beside it the job is another one", of)
		}
		for _, x := range left.slots {
			if x.of == of {
				for _, text := range texts(x.data) {
					if text != Erased {
						t.Errorf("%s still says %q", of, text)
					}
				}
				continue
			}
			if before, _ := now.Record(x.of); !reflect.DeepEqual(before, x.data) || slices.Contains(texts(x.data), Erased) {
				t.Errorf("the texts of %s were erased, and %s has changed", of, x.of)
			}
		}
	}
}

// TestNothingRestsOnErasedTexts: nobody is called as an erased person is, whatever the shop
// file says, and an erased reason is none.
func TestNothingRestsOnErasedTexts(t *testing.T) {
	s := goodState(t)
	sh := goodShop(t)
	sh.People = append(slices.Clone(sh.People), shop.Person{ID: "erased", May: []shop.Authority{shop.MayInspect, shop.MayAnswers, shop.MayReview}})
	if s.Stands(Act{By: Erased, On: s.Opened}, sh, Whenever) {
		t.Error("an act of nobody stands")
	}
	if (Accepted{Reason: Erased}).Reasoned() || (Accepted{}).Reasoned() || !(Accepted{Reason: "Cheaper"}).Reasoned() {
		t.Error("an erased reason is taken for one")
	}
	if idForm.MatchString(Erased) {
		t.Error("an erased person has the form of an identity")
	}
}

// TestChainOfAnEarlierRelease: a chain that was written before events said which record they
// are about is read, gives the state it gave then, goes on in the new form, and refuses to
// erase what it holds hashed.
func TestChainOfAnEarlierRelease(t *testing.T) {
	text, err := os.ReadFile("testdata/chains/ledger1.json")
	if err != nil {
		t.Fatal(err)
	}
	var old ledger.Chain
	if err := json.Unmarshal(text, &old); err != nil {
		t.Fatal(err)
	}
	now, err := Read(old)
	if err != nil {
		t.Fatal(err)
	}
	want := goodState(t) // then the readings of S1 were withdrawn, and the first of them added again
	want.Readings = want.Readings[:1]
	want.Faulty, want.Access, want.HandBacks, want.Proposals, want.Sendings, want.ErasuresAgreed = nil, nil, nil, nil, nil, nil // no such lists were there
	if got := now.State(); !reflect.DeepEqual(bare(*got), bare(want)) {
		t.Errorf("got %+v\nwant %+v", got, want)
	}
	f, _ := now.Record("finding/F3")
	if _, _, err := now.Write([]Event{{Kind: FindingRecorded, Data: f, Seen: 1}}, stamp("2026-03-10T10:00:00Z", "T2")); diag.KindOf(err) != diag.Conflict {
		t.Errorf("an update was lost: %v", err)
	}
	more, next, err := now.Write([]Event{{Kind: FindingRecorded, Data: f, Seen: now.Newest("finding/F3")},
		dropped(now, "readings/S1"), {Kind: BodyNamed, Of: OfBody, Data: Named{strings.Repeat("b", 64)}}}, stamp("2026-03-10T10:00:00Z", "T2"))
	if err != nil {
		t.Fatal(err)
	}
	again, err := Read(slices.Concat(old, more))
	if err != nil || hashOf(t, again.State()) != hashOf(t, next.State()) || len(again.State().Readings) != 0 || again.State().Body != HashName(strings.Repeat("b", 64)) {
		t.Errorf("%v %+v", err, again)
	}
	erase := func(of RecordName) error {
		_, _, err := again.Write([]Event{{Kind: TextsErased, Of: of, Seen: again.Newest(of), Data: Erasure{On: unit.Date{Year: 2026, Month: 3, Day: 9}, Reason: "Asked for"}}}, stamp("2026-03-10T10:00:00Z", "T3"))
		return err
	}
	for _, of := range []RecordName{"finding/F1", "finding/F3"} {
		if err := erase(of); err == nil || !strings.Contains(err.Error(), "they cannot be erased") {
			t.Errorf("%s: %v", of, err)
		}
	}
}

// TestReadRefuses: what a chain must not be is refused, with the number of the event.
func TestReadRefuses(t *testing.T) {
	chain, now := chainOf(t, goodState(t))
	f, _ := now.Record("finding/F3")
	made := func(what EventKind, about RecordName, data any) ledger.Chain { // as a program with a fault would write it
		e, err := chain[len(chain)-1].Next(ledger.Entry{At: morning, By: "T1", What: string(what), About: string(about), Seen: now.Newest(about)}, doc.Encode(data))
		if err != nil {
			t.Fatal(err)
		}
		return append(slices.Clone(chain), e)
	}
	n := fmt.Sprint("event ", len(chain)+1)
	for name, c := range map[string]struct {
		chain ledger.Chain
		want  string
	}{
		"nothing":                 {nil, "no events"},
		"a name in the payload":   {made(FindingRecorded, "finding/F3", f), n + " (finding-recorded): finding/F3: by: \"W2\" is the text of a person, and not its seal"},
		"about another":           {made(ReadingsTaken, "readings/S2", Readings{"S1", goodState(t).Readings}), "its data are of readings/S1"},
		"two set-ups":             {made(ReadingsTaken, "readings/S9", Readings{"S9", goodState(t).Readings}), `a reading of set-up "S1" is among those of "S9"`},
		"a number of another":     {made(EarlierRecorded, "review/#1", Earlier{Zone: "Z", Length: 3}), `"review/#1" names no record of its sort`},
		"a number that is none":   {made(EarlierRecorded, "earlier-repair/#01", Earlier{Zone: "Z", Length: 3}), "names no record of its sort"},
		"an identity of a number": {made(EarlierRecorded, "earlier-repair/E", Earlier{Zone: "Z", Length: 3}), "names no record of its sort"},
		"nothing to erase":        {made(TextsErased, "finding/F8", Erasure{On: goodState(t).Opened, Reason: "Asked"}), "nothing is recorded under"},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := Read(c.chain); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
	for name, by := range map[string]string{"bidirectional": "T1\u202e", "an escape": "T1\x1b[2J", "a line end": "T1\nT2", "no text": "T1\xff"} {
		review := Event{Kind: DecisionsReviewed, Data: Review{By: "T1", On: goodState(t).Opened, Text: by}}
		if _, _, err := now.Write([]Event{review}, stamp(morning, "T1")); err == nil {
			t.Errorf("%s: a remark that is not shown was written", name)
		}
		review.Data = Review{By: "T1", On: goodState(t).Opened}
		if _, _, err := now.Write([]Event{review}, stamp(morning, by)); err == nil {
			t.Errorf("%s: written by somebody whose name is not shown", name)
		}
		if _, _, err := now.Write([]Event{{Kind: FigureRead, Data: Figure{Step: "Weld", Reading: "batch", Text: by, By: "T1", On: goodState(t).Opened}}}, stamp(morning, "T1")); err == nil {
			t.Errorf("%s: a record that nobody could read again was written", name)
		}
		aside := ledger.Aside{Salt: strings.Repeat("a", 64), Text: by} // as a stranger would write it
		seal, err := aside.Seal()
		if err != nil {
			continue
		}
		c := made(DecisionsReviewed, "review/#1", Review{By: seal, On: goodState(t).Opened})
		c[len(c)-1].Beside = []ledger.Aside{aside}
		if _, err := Read(c); err == nil || !strings.Contains(err.Error(), "not shown") {
			t.Errorf("%s: read %v", name, err)
		}
	}
	for name, e := range map[string]Event{
		"an earlier kind":   {Kind: FindingDropped, Data: Withdrawn{ID: "F3"}},
		"a body by path":    {Kind: BodyNamed, Data: Named{"../body"}},
		"of which record":   {Kind: RecordWithdrawn, Data: Withdrawal{}},
		"the job withdrawn": dropped(now, OfVehicle),
		"opened again":      {Kind: JobOpened, Data: FromState(stored(goodState(t)))[0].Data, Seen: 1},
	} {
		if _, _, err := now.Write([]Event{e}, stamp(morning, "T1")); err == nil {
			t.Errorf("%s was written", name)
		}
	}
	if _, _, err := (&Stored{}).Write(FromState(goodState(t)), stamp(morning, "T1")); err == nil || !strings.Contains(err.Error(), "by the hash of its content") {
		t.Errorf("a job was opened with a body by path: %v", err)
	}
}
