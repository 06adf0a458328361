package account_test

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// TestGuessing makes 10,000 guesses within an hour on one account from 100 addresses: at most 60 reach the hash, and the
// owner gets in from the device they know, and with a passkey (both figures: requirement of the program).
func TestGuessing(t *testing.T) {
	for _, name := range []string{"anna", "nobody"} { // one who is not there is not told from one who is
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			var made, counting atomic.Int64
			w.Hashes(func(int64, int64) { made.Add(counting.Load()) })
			waits := 0
			for i := range 10000 {
				counting.Store(1)
				_, err := w.SignIn(t.Context(), account.Try{Name: name, Password: fmt.Sprint("guess number ", i)}, account.From{Address: fmt.Sprintf("198.51.100.%d:%d", i%100, 1024+i)})
				counting.Store(0)
				var wait *account.Wait
				if errors.As(err, &wait) {
					waits++
				} else if diag.KindOf(err) != diag.Denied {
					t.Fatal(err)
				}
				w.clock.pass(360 * time.Millisecond)
				if i%2000 == 1999 {
					in, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord, Device: w.annaDevice}, account.From{Address: "198.51.100.1"})
					if err != nil || in.Device != "" {
						t.Errorf("the owner is kept out on a device they know: %v", err)
					}
				}
			}
			if n := made.Load(); n > 60 || n < 5 || waits+int(n) != 10000 {
				t.Errorf("%d guesses reached the hash, %d waited", n, waits)
			} else {
				t.Logf("%d of 10,000 guesses reached the hash", n)
			}
			if name == "anna" {
				if _, err := w.SignIn(t.Context(), account.Try{Name: name, Password: annaWord}, home); err == nil {
					t.Error("without a known device nobody has to wait") // or the guesses were not slowed down
				}
			}
		})
	}
}

// TestGuessingAtOnce: many at once gain nothing; nor do devices and addresses that somebody claims to have.
func TestGuessingAtOnce(t *testing.T) {
	w := newWorld(t)
	var made atomic.Int64
	w.Hashes(func(int64, int64) { made.Add(1) })
	var wg sync.WaitGroup
	for i := range 400 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			device := ""
			if i%2 == 0 {
				device = w.bossDevice // of somebody else
			}
			_, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: fmt.Sprint(i), Device: device}, account.From{Address: fmt.Sprintf("2001:db8::%x", i)})
			if err == nil {
				t.Error("a guess fits")
			}
		}()
	}
	wg.Wait()
	if n := made.Load(); n > 6 {
		t.Errorf("%d of 400 guesses at once reached the hash", n)
	}
}

// TestGuessingManyAccounts: from one address, or one network of IPv6, few names can be tried; an account of one's own does not help.
func TestGuessingManyAccounts(t *testing.T) {
	w := newWorld(t)
	var made atomic.Int64
	w.Hashes(func(int64, int64) { made.Add(1) })
	for i := range 2000 {
		w.SignIn(t.Context(), account.Try{Name: fmt.Sprint("person", i), Password: annaWord}, account.From{Address: fmt.Sprintf("[2001:db8:1:2::%x]:443", i)})
		if i%10 == 0 {
			w.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord}, account.From{Address: "[2001:db8:1:2::ffff]:443"})
		}
		w.clock.pass(time.Second)
	}
	// 30 tries without a wait, then waits of 1, 2, 4 ... 900 s; half an hour has room for 11 of them, and as many of one's own
	if n := made.Load(); n > 30+11+60 {
		t.Errorf("%d tries from one network reached the hash", n)
	}
}

// TestManyOfOneAddress: people who sign in rightly behind one address keep nobody there waiting.
func TestManyOfOneAddress(t *testing.T) {
	w := newWorld(t)
	for range 100 {
		w.signedIn("anna", annaWord)
		w.signedIn("boss", bossWord)
	}
}

// TestDeviceIsNoWayRound: with a device of the person one guesses no faster than without.
func TestDeviceIsNoWayRound(t *testing.T) {
	w := newWorld(t)
	var made atomic.Int64
	w.Hashes(func(int64, int64) { made.Add(1) })
	for i := range 3600 {
		w.SignIn(t.Context(), account.Try{Name: "anna", Password: fmt.Sprint(i), Device: w.annaDevice}, home)
		w.clock.pass(time.Second)
	}
	if n := made.Load(); n > 60 {
		t.Errorf("%d guesses from a known device reached the hash", n)
	}
	w.clock.pass(24 * time.Hour)
	if _, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord}, home); err != nil {
		t.Errorf("a day later it is still held against the owner: %v", err)
	}
}

// TestWaits are the waits that grow, and that a right sign-in ends.
func TestWaits(t *testing.T) {
	w := newWorld(t)
	tries := 0
	var waits []string
	for range 12 {
		_, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: "wrong"}, home)
		var wait *account.Wait
		if !errors.As(err, &wait) {
			tries++
			continue
		}
		waits = append(waits, wait.For.String())
		w.clock.pass(wait.For)
	}
	if got := fmt.Sprint(tries, waits); got != "8 [1s 2s 4s 8s]" { // five are free, then one after each wait
		t.Errorf("%s", got)
	}
	w.clock.pass(time.Minute)
	w.signedIn("anna", annaWord)
	for range 5 {
		if _, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: "wrong"}, home); diag.KindOf(err) != diag.Denied {
			t.Errorf("a right sign-in has not ended the waits: %v", err)
		}
	}
	w.clock.pass(-48 * time.Hour) // the wait is no longer for it
	var wait *account.Wait
	if _, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: "wrong"}, home); !errors.As(err, &wait) || wait.For > time.Second {
		t.Errorf("after the clock was put back: %v", err)
	}
}

// TestKnownAndUnknownTakeAsLong: the median time of a refusal is the same for a person who is there, one who is disabled and one who is not, within
// 5 ms (requirement), and each costs one hash.
func TestKnownAndUnknownTakeAsLong(t *testing.T) {
	w := newWorld(t, func(s *account.Settings) { s.Cost = account.Cost{KiB: 1024, Passes: 1, Lanes: 1} })
	gone := w.added(w.bossIn(), "gone", otherWord, right.Technician)
	must(t, w.SetState(t.Context(), w.bossIn().Who, gone.ID, false))
	hashes := map[int64]int{}
	made := int64(0)
	w.Hashes(func(int64, int64) { made++ })
	names, took := []string{"anna", "gone", "nobody"}, map[string][]time.Duration{}
	for i := range 300 {
		for j := range names {
			name := names[(i+j)%3]
			w.clock.pass(16 * time.Minute)
			made = 0
			began := time.Now()
			_, err := w.SignIn(t.Context(), account.Try{Name: name, Password: "not the one"}, account.From{Address: "192.0.2.9"})
			took[name] = append(took[name], time.Since(began))
			hashes[made]++
			if diag.KindOf(err) != diag.Denied {
				t.Fatalf("%s: %v", name, err)
			}
		}
	}
	median := func(d []time.Duration) time.Duration { slices.Sort(d); return d[len(d)/2] }
	known, disabled, unknown := median(took["anna"]), median(took["gone"]), median(took["nobody"])
	t.Logf("medians of %d tries: known %v, disabled %v, unknown %v", len(took["anna"]), known, disabled, unknown)
	if hashes[1] != 900 {
		t.Errorf("hashes of a try, and how many tries had so many: %v", hashes)
	}
	if d := (known - unknown).Abs(); d > 5*time.Millisecond {
		t.Errorf("known %v, unknown %v", known, unknown)
	}
	if d := (disabled - unknown).Abs(); d > 5*time.Millisecond {
		t.Errorf("disabled %v, unknown %v", disabled, unknown)
	}
}

// TestFlood: of many sign-ins at once two are hashed at a time; when too many wait the rest are told so, and who is signed in goes on.
func TestFlood(t *testing.T) {
	w := newWorld(t, func(s *account.Settings) { s.Cost = account.Cost{KiB: 8 << 10, Passes: 1, Lanes: 1} })
	in := w.signedIn("boss", bossWord)
	var most, busy, made atomic.Int64
	w.Hashes(func(running, _ int64) {
		made.Add(1)
		for m := most.Load(); running > m && !most.CompareAndSwap(m, running); m = most.Load() {
		}
	})
	var wg sync.WaitGroup
	for i := range 500 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			_, err := w.SignIn(t.Context(), account.Try{Name: fmt.Sprint("flood", i), Password: "whatever it is"}, account.From{Address: fmt.Sprintf("203.0.%d.%d", i/200, i%200)})
			if diag.KindOf(err) == diag.Unavailable {
				busy.Add(1)
			} else if diag.KindOf(err) != diag.Denied {
				t.Error(err)
			}
		}()
	}
	slowest := time.Duration(0)
	for range 50 {
		began := time.Now()
		w.session(in)
		slowest = max(slowest, time.Since(began))
	}
	wg.Wait()
	if most.Load() > 2 || made.Load()+busy.Load() != 500 {
		t.Errorf("%d hashes at once, %d made, %d told to wait", most.Load(), made.Load(), busy.Load())
	}
	if slowest > 500*time.Millisecond { // requirement, of the 99th in a hundred
		t.Errorf("who is signed in waited %v", slowest)
	}
	t.Logf("%d at once, %d made, %d told to wait; who is signed in waited %v at most", most.Load(), made.Load(), busy.Load(), slowest)
}

// TestGuessesNameNobody: what is noted of guesses says neither whose account nor which address it was.
func TestGuessesNameNobody(t *testing.T) {
	w := newWorld(t)
	w.SignIn(t.Context(), account.Try{Name: "anna", Password: "wrong"}, home)
	for _, r := range got(w.store.List(t.Context(), account.OfGuess, account.Which{Most: 9}))(t) {
		if text := fmt.Sprintf("%+v", r); contains(text, "anna") || contains(text, "192.0.2") || contains(text, w.anna.ID) || bytes.Contains([]byte(text), []byte(account.PHC(cheap, nil, nil))) {
			t.Errorf("%s", text)
		}
	}
}

// accountTimes are the median times of two things that are done in turn.
func accountTimes(t *testing.T, times int, do func(i int)) (out [2]time.Duration) {
	t.Helper()
	var took [2][]time.Duration
	for i := range 2 * times {
		began := time.Now()
		do(i % 2)
		took[i%2] = append(took[i%2], time.Since(began))
	}
	for i := range took {
		slices.Sort(took[i])
		out[i] = took[i][times/2]
	}
	return out
}
