// Package accounttest is the suite of tests that every maker of account.Store passes.
package accounttest

import (
	"errors"
	"fmt"
	"reflect"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
)

// TestStore holds a store to what account.Store says. Each opened one is a program of its own on the same records.
func TestStore(t *testing.T, make func(t *testing.T) (open func() account.Store)) {
	for name, test := range map[string]func(t *testing.T, open func() account.Store){
		"records come back": comeBack, "keys are of one": keysAreOfOne, "all or nothing": allOrNothing,
		"one after the other": oneAfterTheOther, "lists": lists, "refused": refused,
	} {
		t.Run(name, func(t *testing.T) { test(t, make(t)) })
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func put(t *testing.T, s account.Store, rs ...account.Record) {
	t.Helper()
	must(t, s.Change(t.Context(), func(tx account.Tx) error {
		for _, r := range rs {
			if err := tx.Put(r); err != nil {
				return err
			}
		}
		return nil
	}))
}

var soon = time.Date(2026, 3, 1, 12, 0, 0, 7e6, time.UTC)

func comeBack(t *testing.T, open func() account.Store) {
	s := open()
	for _, k := range account.Kinds() {
		r := account.Record{Kind: k, ID: "a1", Person: "p", Shop: "s", Key: "k", Ends: soon, Data: `{"name":"Ü \u0000 '"}`}
		put(t, s, r)
		for _, in := range []account.Store{s, open()} {
			got, there, err := in.Get(t.Context(), k, "a1")
			if err != nil || !there || !reflect.DeepEqual(got, r) {
				t.Fatalf("%s: %+v %v %v, want %+v", k, got, there, err, r)
			}
			if got, there, err = in.Find(t.Context(), k, "k"); err != nil || !there || !reflect.DeepEqual(got, r) {
				t.Fatalf("%s by key: %+v %v %v", k, got, there, err)
			}
		}
		r.Ends, r.Data = time.Time{}, "{}"
		put(t, s, r)
		if got, _, err := s.Get(t.Context(), k, "a1"); err != nil || !reflect.DeepEqual(got, r) {
			t.Fatalf("%s changed: %+v, want %+v, %v", k, got, r, err)
		}
		must(t, s.Change(t.Context(), func(tx account.Tx) error { return errors.Join(tx.Drop(k, "a1"), tx.Drop(k, "none")) }))
		if _, there, err := open().Get(t.Context(), k, "a1"); there || err != nil {
			t.Fatalf("%s is there after it was taken away: %v", k, err)
		}
		put(t, s, r) // it may come back
	}
	if _, there, err := s.Find(t.Context(), account.OfPerson, ""); there || err != nil {
		t.Errorf("something is found by no key: %v", err)
	}
}

func keysAreOfOne(t *testing.T, open func() account.Store) {
	s := open()
	put(t, s, account.Record{Kind: account.OfPerson, ID: "a", Key: "anna"}, account.Record{Kind: account.OfToken, ID: "b", Key: "anna"},
		account.Record{Kind: account.OfPerson, ID: "c"}, account.Record{Kind: account.OfPerson, ID: "d"})
	second := account.Record{Kind: account.OfPerson, ID: "x", Key: "anna"}
	if err := s.Change(t.Context(), func(tx account.Tx) error { return tx.Put(second) }); diag.KindOf(err) != diag.Conflict {
		t.Errorf("a second person of one name: %v", err)
	}
	put(t, s, account.Record{Kind: account.OfPerson, ID: "a", Key: "berta"}, second)
	if got, _, err := s.Find(t.Context(), account.OfPerson, "anna"); err != nil || got.ID != "x" {
		t.Errorf("found %q, %v", got.ID, err)
	}
}

func allOrNothing(t *testing.T, open func() account.Store) {
	s, no := open(), errors.New("no")
	put(t, s, account.Record{Kind: account.OfShop, ID: "a", Data: "1"})
	err := s.Change(t.Context(), func(tx account.Tx) error {
		if err := errors.Join(tx.Put(account.Record{Kind: account.OfShop, ID: "a", Data: "2"}), tx.Put(account.Record{Kind: account.OfShop, ID: "b"})); err != nil {
			return err
		}
		if r, there, err := tx.Get(t.Context(), account.OfShop, "a"); err != nil || !there || r.Data != "2" {
			t.Errorf("a change does not see itself: %+v %v", r, err)
		}
		return no
	})
	if !errors.Is(err, no) {
		t.Errorf("error %v", err)
	}
	r, _, err := s.Get(t.Context(), account.OfShop, "a")
	_, there, err2 := s.Get(t.Context(), account.OfShop, "b")
	if err = errors.Join(err, err2); err != nil || r.Data != "1" || there {
		t.Errorf("something of a change that failed was written: %+v %v %v", r, there, err)
	}
}

func oneAfterTheOther(t *testing.T, open func() account.Store) {
	stores, each := []account.Store{open(), open()}, 40
	var wg sync.WaitGroup
	for i := range 4 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for range each {
				err := stores[i%2].Change(t.Context(), func(tx account.Tx) error {
					r, _, err := tx.Get(t.Context(), account.OfGuess, "n")
					n := 0
					if err == nil && r.Data != "" {
						_, err = fmt.Sscan(r.Data, &n)
					}
					return errors.Join(err, tx.Put(account.Record{Kind: account.OfGuess, ID: "n", Data: fmt.Sprint(n + 1)}))
				})
				if err != nil {
					t.Error(err)
				}
			}
		}()
	}
	wg.Wait()
	if r, _, err := stores[0].Get(t.Context(), account.OfGuess, "n"); err != nil || r.Data != fmt.Sprint(4*each) {
		t.Errorf("counted %s, want %d: %v", r.Data, 4*each, err)
	}
}

func lists(t *testing.T, open func() account.Store) {
	s := open()
	for i := range 12 {
		r := account.Record{Kind: account.OfMember, ID: fmt.Sprintf("m%02d", i), Person: fmt.Sprint("p", i%3), Shop: fmt.Sprint("s", i%2)}
		if i%4 > 0 {
			r.Ends = soon.Add(time.Duration(i) * time.Minute)
		}
		put(t, s, r)
	}
	for _, c := range []struct {
		which account.Which
		want  string
	}{
		{account.Which{Most: 3}, "m00 m01 m02"},
		{account.Which{Most: 3, After: "m09"}, "m10 m11"},
		{account.Which{Most: 9, Person: "p1"}, "m01 m04 m07 m10"},
		{account.Which{Most: 2, Person: "p1", After: "m04"}, "m07 m10"},
		{account.Which{Most: 9, Shop: "s1", After: "m03"}, "m05 m07 m09 m11"},
		{account.Which{Most: 9, Shop: "none"}, ""},
	} {
		got, err := s.List(t.Context(), account.OfMember, c.which)
		if names(got) != c.want || err != nil {
			t.Errorf("%+v: %q, want %q, %v", c.which, names(got), c.want, err)
		}
	}
	got, err := s.Over(t.Context(), account.OfMember, soon.Add(5*time.Minute), 9)
	if names(got) != "m01 m02 m03" || err != nil {
		t.Errorf("over: %q %v", names(got), err)
	}
}

func names(rs []account.Record) (out string) {
	for i, r := range rs {
		if i > 0 {
			out += " "
		}
		out += r.ID
	}
	return out
}

func refused(t *testing.T, open func() account.Store) {
	s := open()
	for name, r := range map[string]account.Record{
		"no kind":            {Kind: "spell", ID: "a"},
		"no name":            {Kind: account.OfShop},
		"an end in between":  {Kind: account.OfShop, ID: "a", Ends: soon.Add(time.Microsecond)},
		"no text":            {Kind: account.OfShop, ID: "a", Key: "\xff"},
		"a zero":             {Kind: account.OfShop, ID: "a", Person: "p\x00"},
		"a text of megabyte": {Kind: account.OfShop, ID: "a", Data: string(make([]byte, 1<<20))},
	} {
		if err := s.Change(t.Context(), func(tx account.Tx) error { return tx.Put(r) }); err == nil {
			t.Errorf("%s was kept", name)
		}
	}
	put(t, s, account.Record{Kind: account.OfShop, ID: "a", Person: "p", Shop: "s", Key: "k"})
	for _, bad := range []string{"\x00", "a\x00", "\xff", "a\xc3"} { // what strangers send is not there, whatever it is
		for _, in := range []account.Kind{account.OfShop, account.OfUse} {
			_, there, err := s.Get(t.Context(), in, bad)
			_, found, err2 := s.Find(t.Context(), in, bad)
			a, err3 := s.List(t.Context(), in, account.Which{Person: bad, Most: 9})
			b, err4 := s.List(t.Context(), in, account.Which{Shop: bad, Most: 9})
			c, err5 := s.List(t.Context(), in, account.Which{After: bad, Most: 9})
			if err := errors.Join(err, err2, err3, err4, err5); err != nil || there || found || len(a)+len(b)+len(c) > 0 {
				t.Errorf("%q: %v", bad, err)
			}
		}
	}
}
