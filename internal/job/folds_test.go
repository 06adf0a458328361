package job

import (
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"sync"
	"testing"

	"fettle/internal/ledger"
	"fettle/internal/unit"
)

// grown is a chain after each of so many drawn changes: records replaced, added, withdrawn and
// taken up again, and texts erased, also from the entries before.
func grown(t testing.TB, r *rand.Rand, s State, changes int) []ledger.Chain {
	t.Helper()
	chain, now := chainOf(t, s)
	out := []ledger.Chain{chain}
	for range changes {
		x := now.slots[1+r.IntN(len(now.slots)-1)]
		k, _ := x.of.sortOf()
		e := Event{Kind: k.kind, Of: x.of, Data: varied(r, x.data), Seen: now.Newest(x.of)}
		switch n := r.IntN(4); {
		case n == 0 && !x.gone && k.list != "":
			e = dropped(now, x.of)
		case n == 1:
			e = Event{Kind: TextsErased, Of: x.of, Seen: now.Newest(x.of), Data: Erasure{On: unit.Date{Year: 2026, Month: 3, Day: 9}, Reason: "Asked for"}}
		}
		more, next, err := now.Write([]Event{e}, stamp(morning, "T2"))
		if err != nil {
			continue // others refer to it
		}
		chain, now = append(slices.Clone(chain), more...), next
		if e.Kind == TextsErased {
			for i := range chain {
				if chain[i].About == string(x.of) {
					chain[i].Beside = nil
				}
			}
		}
		out = append(out, chain)
	}
	return out
}

// TestFoldsAreThoseFromNothing reads drawn chains of several jobs in turns as they grow, by one
// Folds: each is what it is read from its beginning, and of one that has grown only the new
// events are folded.
func TestFoldsAreThoseFromNothing(t *testing.T) {
	for seed := range jobs(t, 2) {
		r, f := rand.New(rand.NewPCG(uint64(seed), 17)), &Folds{}
		s, all := goodState(t), [][]ledger.Chain{}
		for _, s.ID = range []string{"J1", "J2", "J3"} {
			all = append(all, grown(t, r, s, 30))
		}
		saved, folded := 0, 0
		for range 60 {
			chains := all[r.IntN(len(all))]
			c := chains[r.IntN(len(chains))]
			want, err := Read(c)
			got, gotErr := f.Read(c)
			if err != nil || gotErr != nil || !reflect.DeepEqual(got, want) || !reflect.DeepEqual(got.State(), want.State()) {
				t.Fatalf("seed %d: %d events read otherwise: %v %v", seed, len(c), err, gotErr)
			}
			if f.folded < len(c)+folded {
				saved++
			}
			folded = f.folded
		}
		if saved == 0 {
			t.Errorf("seed %d: every chain was folded from its beginning", seed)
		}
	}
	chain, _ := chainOf(t, goodState(t))
	f := &Folds{}
	for n := 1; n <= len(chain); n++ {
		if _, err := f.Read(chain[:n]); err != nil || f.folded != n || len(f.kept) != 1 {
			t.Fatalf("of a chain of %d that had one less %d events were folded, %d are kept: %v", n, f.folded, len(f.kept), err)
		}
	}
}

// TestFoldsNoticeWhatWasChanged changes every member of every entry of a chain that is kept, and
// leaves entries and texts out (a quarter of the entries but in the campaign): what is said of it is what is said of it read from its beginning.
func TestFoldsNoticeWhatWasChanged(t *testing.T) {
	chain, _ := chainOf(t, goodState(t))
	want, err := Read(chain)
	if err != nil {
		t.Fatal(err)
	}
	changed, refused := 0, 0
	try := func(what string, change func(ledger.Chain) ledger.Chain) {
		f := &Folds{}
		if got, err := f.Read(chain); err != nil || !reflect.DeepEqual(got, want) {
			t.Fatal(err)
		}
		other := slices.Clone(chain)
		for i := range other {
			other[i].Beside = slices.Clone(other[i].Beside)
		}
		other = change(other)
		plain, plainErr := Read(other)
		got, gotErr := f.Read(other)
		if fmt.Sprint(plainErr) != fmt.Sprint(gotErr) || !reflect.DeepEqual(plain, got) {
			t.Errorf("%s: %v, read from the beginning: %v", what, gotErr, plainErr)
		}
		if changed++; gotErr != nil {
			refused++
		}
	}
	every := 4
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		every = 1
	}
	for i := 0; i < len(chain); i += every {
		for k := range reflect.TypeFor[ledger.Entry]().NumField() {
			name := reflect.TypeFor[ledger.Entry]().Field(k).Name
			try(fmt.Sprint("entry ", i+1, " ", name), func(c ledger.Chain) ledger.Chain {
				switch v := reflect.ValueOf(&c[i]).Elem().Field(k); v.Kind() {
				case reflect.String:
					v.SetString(v.String() + " ")
				case reflect.Int64:
					v.SetInt(v.Int() + 1)
				case reflect.Slice:
					v.SetZero() // a text that is gone without an event that says so
				default:
					t.Fatalf("%s is of a kind that is not changed here", name)
				}
				return c
			})
		}
		try(fmt.Sprint("entry ", i+1, " left out"), func(c ledger.Chain) ledger.Chain { return slices.Delete(c, i, i+1) })
		if len(chain[i].Beside) > 0 {
			try(fmt.Sprint("entry ", i+1, " another text"), func(c ledger.Chain) ledger.Chain { c[i].Beside[0].Text += "x"; return c })
			try(fmt.Sprint("entry ", i+1, " another salt"), func(c ledger.Chain) ledger.Chain { c[i].Beside[0].Salt = chain[0].Beside[0].Salt; return c })
		}
	}
	if refused < changed/2 {
		t.Errorf("%d of %d changes were refused", refused, changed)
	}
}

// TestFoldsAreBounded: more chains than are kept are read, by several at once; the oldest is let go.
func TestFoldsAreBounded(t *testing.T) {
	f, s := &Folds{}, goodState(t)
	var wg sync.WaitGroup
	for p := range 4 {
		chains := make([]ledger.Chain, mostFolds/4+1)
		for i := range chains {
			s.ID = fmt.Sprint("J", p, "-", i)
			chains[i], _ = chainOf(t, s)
		}
		wg.Go(func() {
			for _, c := range slices.Concat(chains, chains) {
				if got, err := f.Read(c); err != nil || got.last.Hash != c[len(c)-1].Hash {
					t.Errorf("read another chain: %v", err)
				}
			}
		})
	}
	wg.Wait()
	if len(f.kept) != mostFolds {
		t.Errorf("%d are kept, want %d", len(f.kept), mostFolds)
	}
	var none *Folds
	chain, _ := chainOf(t, s)
	if got, err := none.Read(chain); err != nil || got == nil {
		t.Error(err)
	}
	if _, err := f.Read(nil); err == nil {
		t.Error("a chain without events was read")
	}
}

// BenchmarkReadChain reads a chain of a thousand events with one more, from its beginning and with
// the thousand kept.
func BenchmarkReadChain(b *testing.B) {
	r := rand.New(rand.NewPCG(17, 4))
	chains := grown(b, r, goodState(b), 1200)
	c := chains[len(chains)-1]
	b.Run("beginning", func(b *testing.B) {
		for b.Loop() {
			if _, err := Read(c); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("kept", func(b *testing.B) {
		for b.Loop() {
			f := &Folds{}
			b.StopTimer()
			if _, err := f.Read(c[:len(c)-1]); err != nil {
				b.Fatal(err)
			}
			b.StartTimer()
			if _, err := f.Read(c); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(len(c)), "events")
	})
}
