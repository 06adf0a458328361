package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
)

func chainOf(t *testing.T, n int) Chain {
	t.Helper()
	var c Chain
	for i := range n {
		var err error
		at := fmt.Sprintf("2026-03-02T08:%02d:00Z", i)
		if c, err = c.Append(at, "T1", "noted", map[string]any{"n": i, "text": "<a & b>"}); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

// TestHashByHand recomputes the first hash from the text an auditor would
// write out by hand, with nothing of this package but the domain.
func TestHashByHand(t *testing.T) {
	c := chainOf(t, 1)
	text := `{"at":"2026-03-02T08:00:00Z","by":"T1","format":"fettle-ledger 1","payload":"{\"n\":0,\"text\":\"<a & b>\"}","prev":"","seq":1,"what":"noted"}`
	sum := sha256.Sum256([]byte(text))
	if want := hex.EncodeToString(sum[:]); c[0].Hash != want {
		t.Errorf("got %s, want %s", c[0].Hash, want)
	}
	if err := c.Verify(); err != nil {
		t.Error(err)
	}
}

// TestTampering changes a chain of eight entries in every way there is and
// expects the first entry that no longer fits to be named.
func TestTampering(t *testing.T) {
	const n = 8
	type change struct {
		name  string
		make  func(c Chain) Chain
		entry int // named as the first bad one
	}
	var changes []change
	for i := range n {
		edit := func(what string, f func(e *Entry)) {
			changes = append(changes, change{fmt.Sprintf("%s of entry %d", what, i+1), func(c Chain) Chain { f(&c[i]); return c }, i + 1})
		}
		edit("number", func(e *Entry) { e.Seq += 10 })
		edit("time", func(e *Entry) { e.At = "2026-03-02T09:00:00Z" })
		edit("earlier time", func(e *Entry) { e.At = "2026-03-01T09:00:00Z" })
		edit("form of the time", func(e *Entry) { e.At = "2026-03-02T08:00:00+00:00" })
		edit("person", func(e *Entry) { e.By = "T2" })
		edit("nobody", func(e *Entry) { e.By = "" })
		edit("kind", func(e *Entry) { e.What = "erased" })
		edit("payload", func(e *Entry) { e.Payload = strings.Replace(e.Payload, "a", "e", 1) })
		edit("spacing of the payload", func(e *Entry) { e.Payload = strings.Replace(e.Payload, ",", ", ", 1) })
		edit("hash", func(e *Entry) { e.Hash = strings.Repeat("0", 64) })
		edit("hash before", func(e *Entry) { e.Prev = strings.Repeat("0", 64) })
		changes = append(changes, change{fmt.Sprintf("entry %d added twice", i+1), func(c Chain) Chain { return slices.Insert(c, i, c[i]) }, i + 2})
		if i < n-1 {
			changes = append(changes,
				change{fmt.Sprintf("entry %d left out", i+1), func(c Chain) Chain { return slices.Delete(c, i, i+1) }, i + 1},
				change{fmt.Sprintf("cut in the middle after %d", i), func(c Chain) Chain { return slices.Delete(c, i, n-1) }, i + 1},
				change{fmt.Sprintf("entries %d and %d swapped", i+1, i+2), func(c Chain) Chain { c[i], c[i+1] = c[i+1], c[i]; return c }, i + 1},
				change{fmt.Sprintf("entry %d made anew", i+1), func(c Chain) Chain {
					fresh, err := c[:i].Append(c[i].At, "T9", c[i].What, map[string]any{"n": 99})
					if err != nil {
						t.Fatal(err)
					}
					c[i] = fresh[i]
					return c
				}, i + 2})
		}
	}
	good := chainOf(t, n)
	for _, c := range changes {
		t.Run(c.name, func(t *testing.T) {
			err := c.make(slices.Clone(good)).Verify()
			if err == nil {
				t.Fatal("not found")
			}
			if want := fmt.Sprintf("entry %d: ", c.entry); !strings.HasPrefix(err.Error(), want) || diag.KindOf(err) != diag.Integrity {
				t.Errorf("got %q, want %q first", err, want)
			}
		})
	}
	if err := good.Verify(); err != nil {
		t.Errorf("the tests changed the chain: %v", err)
	}
}

// TestCutOffAtTheEnd cannot be seen in the chain; the head kept elsewhere shows it.
func TestCutOffAtTheEnd(t *testing.T) {
	c := chainOf(t, 5)
	seq, hash := c.Head()
	if err := c[:3].Verify(); err != nil {
		t.Errorf("a shorter chain is a chain: %v", err)
	}
	if err := c.VerifyHead(seq, hash); err != nil {
		t.Errorf("its own head: %v", err)
	}
	for _, k := range []int{3, 4} {
		if err := c[:k].VerifyHead(seq, hash); err == nil {
			t.Errorf("the cut after %d was not found", k)
		}
	}
	if err := c.VerifyHead(1, c[0].Hash); err != nil {
		t.Errorf("its first entry: %v", err)
	}
	changed := slices.Clone(c)
	changed[1].By = "T2"
	if err := changed.VerifyHead(seq, hash); err == nil {
		t.Error("a change before the head was not found")
	}
	if seq, hash := (Chain{}).Head(); seq != 0 || hash != "" {
		t.Errorf("the head of nothing is %d %s", seq, hash)
	}
	longer, err := c.Append("2026-03-02T10:00:00Z", "T1", "noted", nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := longer.VerifyHead(seq, hash); err != nil {
		t.Errorf("a chain that went on still holds its old head: %v", err)
	}
	anew := chainOf(t, 4)
	anew, err = anew.Append("2026-03-02T08:04:00Z", "T2", "noted", map[string]any{})
	if err != nil {
		t.Fatal(err)
	}
	if err := anew.VerifyHead(seq, hash); err == nil {
		t.Error("a chain made anew was not found")
	}
	if err := (Chain{}).VerifyHead(0, ""); err == nil {
		t.Error("nothing proves nothing")
	}
}

func TestAppendKeepsTheChainGiven(t *testing.T) {
	c := chainOf(t, 3)
	before := slices.Clone(c)
	a, errA := c.Append("2026-03-02T09:00:00Z", "T1", "a", nil)
	b, errB := c.Append("2026-03-02T09:00:00Z", "T1", "b", nil)
	if errA != nil || errB != nil || a[3].What != "a" || b[3].What != "b" || !reflect.DeepEqual(c, before) {
		t.Errorf("two branches of one chain touch each other: %v %v", a[3], b[3])
	}
}

func TestAppendRefuses(t *testing.T) {
	c := chainOf(t, 2)
	for name, f := range map[string]func() (Chain, error){
		"a time that is none":      func() (Chain, error) { return c.Append("today", "T1", "x", nil) },
		"a local time":             func() (Chain, error) { return c.Append("2026-03-02T09:00:00+01:00", "T1", "x", nil) },
		"a part of a second":       func() (Chain, error) { return c.Append("2026-03-02T09:00:00.5Z", "T1", "x", nil) },
		"a time before the last":   func() (Chain, error) { return c.Append("2026-03-01T09:00:00Z", "T1", "x", nil) },
		"nobody":                   func() (Chain, error) { return c.Append("2026-03-02T09:00:00Z", "", "x", nil) },
		"nothing":                  func() (Chain, error) { return c.Append("2026-03-02T09:00:00Z", "T1", "", nil) },
		"a payload with a decimal": func() (Chain, error) { return c.Append("2026-03-02T09:00:00Z", "T1", "x", 1.5) },
	} {
		t.Run(name, func(t *testing.T) {
			if got, err := f(); err == nil || got != nil || diag.KindOf(err) != diag.Invalid {
				t.Errorf("got %v, %v", got, err)
			}
		})
	}
}

// TestStoredAsJSON: whatever a store does with the JSON of the entries, the
// chain still verifies.
func TestStoredAsJSON(t *testing.T) {
	c := chainOf(t, 3)
	text, err := json.MarshalIndent(c, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	var back Chain
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatal(err)
	}
	if err := back.Verify(); err != nil || !reflect.DeepEqual(back, c) {
		t.Errorf("%v\n%s", err, text)
	}
}
