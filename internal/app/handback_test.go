package app

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// handing is a hand-back of the rear job as it is recorded: T3 of its shop may review, T1 gave its proofs.
var handing = job.HandBack{To: "owner", By: "T3"}

// handedState is a job as it is with another state and shop; its own stay as they are.
func handedState(c *Opened, s *job.State, sh *shop.Shop) *Opened {
	out := *c
	out.Job, out.Shop = s, sh
	return &out
}

// handBack puts a hand-back into a state, as App.HandBack records it.
func handBack(t *testing.T, c *Opened, on unit.Date) job.HandBack {
	t.Helper()
	under, err := c.Job.Under()
	if err != nil {
		t.Fatal(err)
	}
	h := handing
	h.On, h.Under = on, under
	return h
}

// against is what speaks against the hand-back on record of a job, judged anew for its day.
func against(a *App, c *Opened, h job.HandBack, today unit.Date) int {
	return len(gate(c, a.assess(nil, c, noon(h.On))).HandBack(h, today))
}

// TestTheRearJobIsHandedBack: nothing is missing on it, so it is handed back by who may, and by nobody else, on no other day.
func TestTheRearJobIsHandedBack(t *testing.T) {
	a, c, r := demonstrated(t, demo.RearJob)
	day := unit.DateOf(r.Made)
	h := handBack(t, c, day)
	if not := gate(c, r).HandBack(h, day); len(not) != 0 {
		t.Fatalf("%+v", not)
	}
	for name, x := range map[string]struct {
		want string
		do   func(*job.HandBack)
		now  unit.Date
	}{
		"by who may not review":         {"may not sign", func(h *job.HandBack) { h.By = "P1" }, day},
		"by nobody":                     {"does not say who", func(h *job.HandBack) { h.By = "" }, day},
		"by nobody of the shop":         {"names no person", func(h *job.HandBack) { h.By = "T33" }, day},
		"by somebody erased":            {"names no person", func(h *job.HandBack) { h.By = job.Erased }, day},
		"a second who gave the proofs":  {"gave proofs", func(h *job.HandBack) { h.Second = "T1" }, day},
		"a second who is the first":     {"is the first", func(h *job.HandBack) { h.Second = "T3" }, day},
		"on a day that has not come":    {"after today", func(*job.HandBack) {}, day.AddDays(-1)},
		"judged on another day":         {"not judged on the day", func(h *job.HandBack) { h.On = day.AddDays(-1) }, day},
		"under another state of record": {"changed since", func(h *job.HandBack) { h.Under = strings.Repeat("0", 64) }, day},
	} {
		h := h
		x.do(&h)
		if not := fmt.Sprintf("%+v", gate(c, r).HandBack(h, x.now)); !strings.Contains(not, x.want) {
			t.Errorf("%s: %s, want %q", name, not, x.want)
		}
	}
	if _, err := a.HandBack(c, r, job.HandBack{To: "Mr Smith", By: "T3"}, day); diag.KindOf(err) != diag.Invalid || !strings.Contains(err.Error(), "nobody to whom") {
		t.Errorf("to a name: %v", err)
	}
	last := unit.Date{}
	for _, x := range c.Job.Records {
		if last.Before(x.On) {
			last = x.On
		}
	}
	for before := last.AddDays(-1); last.AddDays(-4).Before(before); before = before.AddDays(-1) {
		if against(a, c, handBack(t, c, before), day) == 0 {
			t.Errorf("on %s, before the last proof, it may be handed back", before)
		}
	}
}

// TestHandedBackNeverLies tries hardest to have a hand-back stand that does not: on the job whose vehicle was handed back one entry of
// a list by chance is lost, written twice, put in another place, moved by some days or signed by another, then or after it; or
// the shop loses what its people may. Whatever was done, the hand-back stands only if the record is what it was; and one made anew on what was done
// stands only if the gate, asked by itself, has nothing missing.
func TestHandedBackNeverLies(t *testing.T) {
	a, c, r := demonstrated(t, demo.RearJob)
	day, rnd := unit.DateOf(r.Made), rand.New(rand.NewPCG(30, 11))
	h := handBack(t, c, day)
	changed, refused, stands := 0, 0, 0
	for n := range 40 {
		s := *c.Job
		what := spoilEntry(rnd, &s)
		s.HandBacks = []job.HandBack{h}
		if reflect.DeepEqual(bareOf(&s), bareOf(c.Job)) {
			continue
		}
		d := handedState(c, &s, c.Shop)
		d.fileHash = fmt.Sprint("spoiled ", n)
		if was, now := mustUnder(t, c.Job), mustUnder(t, &s); was != now {
			changed++
			if len(s.ChangedSince(h)) == 0 {
				t.Errorf("%d, %s: it is not said that it was changed since", n, what)
			}
		}
		own := s
		own.HandBacks = nil
		d = handedState(c, &own, c.Shop)
		next := handBack(t, d, day)
		missing := len(gate(d, a.assess(nil, d, noon(day))).Missing)
		own.HandBacks = []job.HandBack{next}
		switch got := against(a, handedState(c, &own, c.Shop), next, day); {
		case got == 0 && missing > 0:
			t.Errorf("%d, %s: the hand-back stands, and %d things are missing", n, what, missing)
		case got == 0:
			stands++
		default:
			refused++
		}
	}
	t.Logf("%d changed since; handed back anew %d stand, %d are refused", changed, stands, refused)
	if changed < 15 || refused < 10 {
		t.Error("too few to say anything")
	}
}

func mustUnder(t *testing.T, s *job.State) string {
	t.Helper()
	out, err := s.Under()
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func bareOf(s *job.State) job.State {
	out := *s
	out.HandBacks = nil
	return out
}

// spoilEntry does something to one entry of a list of a state by chance, in a copy of the list, and says what.
func spoilEntry(rnd *rand.Rand, s *job.State) string {
	v := reflect.ValueOf(s).Elem()
	var lists []int
	for i := range v.NumField() {
		if f := v.Field(i); f.Kind() == reflect.Slice && f.CanSet() && f.Len() > 0 && v.Type().Field(i).Name != "Agreed" {
			lists = append(lists, i)
		}
	}
	i := lists[rnd.IntN(len(lists))]
	f, name := v.Field(i), v.Type().Field(i).Name
	own := reflect.MakeSlice(f.Type(), 0, f.Len()+1)
	own = reflect.AppendSlice(own, f)
	k := rnd.IntN(own.Len())
	at := fmt.Sprintf("%s[%d] ", name, k)
	switch rnd.IntN(4) {
	case 0:
		f.Set(reflect.AppendSlice(own.Slice(0, k), f.Slice(k+1, f.Len())))
		return at + "lost"
	case 1:
		other := rnd.IntN(own.Len())
		x, y := reflect.ValueOf(own.Index(k).Interface()), reflect.ValueOf(own.Index(other).Interface())
		own.Index(k).Set(y)
		own.Index(other).Set(x)
		f.Set(own)
		return at + "in another place"
	case 2:
		if by := own.Index(k).FieldByName("By"); by.IsValid() {
			by.SetString([]string{"T1", "T2", "T3", "T4", "P1", job.Erased}[rnd.IntN(6)])
			f.Set(own)
			return at + "signed by another"
		}
	}
	if on := own.Index(k).FieldByName("On"); on.IsValid() {
		on.Set(reflect.ValueOf(on.Interface().(unit.Date).AddDays([]int{-40, -3, -1, 1, 3, 40}[rnd.IntN(6)])))
	}
	f.Set(own)
	return at + "on another day"
}

// TestAStoredHandBackCloses: in a stored job the hand-back is written by the gate alone and on what it has seen; after it nothing of the
// repair is written, an erasure is; it is opened again with a reason, and handed back anew.
func TestAStoredHandBackCloses(t *testing.T) {
	a, c, r := demonstrated(t, demo.RearJob)
	day := unit.DateOf(r.Made)
	stored := func(events ...job.Event) *job.Stored {
		t.Helper()
		state := *c.Job
		state.Body, state.Shop = job.HashName(strings.Repeat("b", 64)), job.HashName(strings.Repeat("5", 64))
		s, err := job.Read(handedChain(t, job.FromState(state), events...))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	before := stored()
	head := headOf(before)
	h := handBack(t, handedState(c, before.State(), c.Shop), day)
	back := job.Event{Kind: job.VehicleHandedBack, Data: h}
	review := job.Event{Kind: job.DecisionsReviewed, Data: job.Review{By: "T3", On: day}}
	for name, x := range map[string]struct {
		events []job.Event
		judged *Head
		want   diag.Kind
	}{
		"not by the gate":   {[]job.Event{back}, nil, diag.Invalid},
		"on another head":   {[]job.Event{back}, &Head{head.Seq - 1, strings.Repeat("1", 64)}, diag.Conflict},
		"with other events": {[]job.Event{back, review}, &head, diag.Invalid},
	} {
		if err := keepsClosed("J", x.events, x.judged, before); diag.KindOf(err) != x.want {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := keepsClosed("J", []job.Event{back}, &head, before); err != nil {
		t.Error(err)
	}
	after := stored(back)
	if StageOf(after) != "released" || len(after.State().ChangedSince(h)) != 0 {
		t.Errorf("stage %s, changed %v", StageOf(after), after.State().ChangedSince(h))
	}
	for _, e := range append(slices.DeleteFunc(job.FromState(*c.Job), func(e job.Event) bool { return job.AfterHandBack(e.Kind) }), review, job.Event{Kind: job.RecordWithdrawn, Of: "finding/D1"}) {
		if err := keepsClosed("J", []job.Event{e}, nil, after); diag.KindOf(err) != diag.Conflict {
			t.Errorf("%s after the hand-back: %v", e.Kind, err)
		}
	}
	if err := keepsClosed("J", []job.Event{{Kind: job.TextsErased, Of: "finding/D1"}}, nil, after); err != nil {
		t.Errorf("an erasure: %v", err)
	}
	// Written all the same, by a program that does not know of it, or taken back again: it is named.
	for _, events := range [][]job.Event{{back, review}, {back, review, {Kind: job.RecordWithdrawn, Of: "review/#2", Data: job.Withdrawal{By: "T3", On: day, Reason: "Twice"}}}} {
		if got := stored(events...).State().ChangedSince(h); len(got) == 0 {
			t.Errorf("%d events: nothing was changed", len(events))
		}
	}
	again := h
	again.ReopenedOn, again.ReopenedBy, again.Because = day, "P1", "The door rattles"
	open := stored(back, job.Event{Kind: job.VehicleHandedBack, Of: "hand-back/#1", Data: again})
	if _, is := open.State().HandedBack(); is || keepsClosed("J", []job.Event{review}, nil, open) != nil {
		t.Error("it is not open again")
	}
	if _, err := a.Reopen(c, "P1", "Twice", day, day); diag.KindOf(err) != diag.Conflict {
		t.Errorf("opened again without a hand-back: %v", err)
	}
}

// handedChain is the chain of events, each of which has seen the one before about its record.
func handedChain(t *testing.T, first []job.Event, more ...job.Event) ledger.Chain {
	t.Helper()
	stamp := job.Stamp{At: "2026-11-26T12:00:00Z", By: "p-1", Salt: func() string { return strings.Repeat("5", 64) }}
	chain, s, err := (&job.Stored{}).Write(first, stamp)
	for _, e := range more {
		if err == nil {
			var next ledger.Chain
			e.Seen = s.Newest(e.Of)
			next, s, err = s.Write([]job.Event{e}, stamp)
			chain = append(chain, next...)
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	return chain
}
