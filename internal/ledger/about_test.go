package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// salt is a salt of a test; a real one is drawn.
func salt(digit string) string { return strings.Repeat(digit, saltLen) }

// aboutChain is a chain of the second form: two records, one of them written three times,
// each with a text beside it.
func aboutChain(t *testing.T) Chain {
	t.Helper()
	var c Chain
	newest := map[string]int64{}
	for i, about := range []string{"a/1", "b/1", "a/1", "b/2", "a/1"} {
		aside := Aside{salt(string(rune('0' + i))), "a remark"}
		seal, err := aside.Seal()
		if err != nil {
			t.Fatal(err)
		}
		var last Entry
		if i > 0 {
			last = c[i-1]
		}
		e, err := last.Next(Entry{At: "2026-03-02T08:00:00Z", By: "T1", What: "noted", About: about, Seen: newest[about], Beside: []Aside{aside}},
			map[string]any{"text": seal, "n": i})
		if err != nil {
			t.Fatal(err)
		}
		newest[about] = e.Seq
		c = append(c, e)
	}
	return c
}

// TestSealByHand recomputes a seal from the text an auditor would write out by hand.
func TestSealByHand(t *testing.T) {
	got, err := Aside{salt("a"), "seen by \"T1\""}.Seal()
	sum := sha256.Sum256([]byte(`{"format":"fettle-aside 1","salt":"` + salt("a") + `","text":"seen by \"T1\""}`))
	if want := "sealed:" + hex.EncodeToString(sum[:]); err != nil || got != want || !IsSeal(got) {
		t.Errorf("got %s %v, want %s", got, err, want)
	}
	for _, bad := range []string{"", "a", salt("g"), salt("A")} {
		if _, err := (Aside{bad, "x"}).Seal(); err == nil {
			t.Errorf("the salt %q was taken", bad)
		}
	}
	for _, s := range []string{"", "sealed:", "sealed:" + salt("g"), salt("a"), "sealed:" + salt("a") + "0"} {
		if IsSeal(s) {
			t.Errorf("%q is taken for a seal", s)
		}
	}
}

// TestTamperingWithRecords: what an entry is about, what its author had seen and the texts
// beside it cannot be changed; the texts can be taken away.
func TestTamperingWithRecords(t *testing.T) {
	good := aboutChain(t)
	if err := good.Verify(); err != nil {
		t.Fatal(err)
	}
	erased := slices.Clone(good)
	for i := range erased {
		erased[i].Beside = nil
	}
	if err := erased.Verify(); err != nil {
		t.Errorf("without the texts: %v", err)
	}
	again := func(e Entry, f func(e *Entry)) Entry { // an entry made anew with a hash that fits
		f(&e)
		e.Hash, _ = e.sum()
		return e
	}
	for name, c := range map[string]struct {
		make  func(c Chain) Chain
		entry string
	}{
		"another record":      {func(c Chain) Chain { c[2].About = "b/1"; return c }, "entry 3: its content was changed"},
		"no record":           {func(c Chain) Chain { c[2].About, c[2].Seen, c[2].Beside = "", 0, nil; return c }, "entry 3: its content was changed"},
		"another number seen": {func(c Chain) Chain { c[2].Seen = 2; return c }, "entry 3: its content was changed"},
		"a text exchanged":    {func(c Chain) Chain { c[3].Beside = []Aside{{salt("3"), "another"}}; return c }, "entry 4: a text beside it is not"},
		"a salt exchanged":    {func(c Chain) Chain { c[3].Beside = []Aside{{salt("4"), "a remark"}}; return c }, "entry 4: a text beside it is not"},
		"a text added": {func(c Chain) Chain {
			c[0].Beside = append(slices.Clone(c[0].Beside), Aside{salt("9"), "more"})
			return c
		}, "entry 1: a text beside it is not"},
		"a lost update":            {func(c Chain) Chain { c[4] = again(c[4], func(e *Entry) { e.Seen = 1 }); return c }, "entry 5: it was written over entry 3 about a/1"},
		"written as if new":        {func(c Chain) Chain { c[4] = again(c[4], func(e *Entry) { e.Seen = 0 }); return c }, "entry 5: it was written over entry 3 about a/1"},
		"seen of another record":   {func(c Chain) Chain { c[4] = again(c[4], func(e *Entry) { e.Seen = 4 }); return c }, "entry 5: it was written over entry 3 about a/1"},
		"seen before it was there": {func(c Chain) Chain { c[4] = again(c[4], func(e *Entry) { e.Seen = 5 }); return c }, "entry 5: it says that its author had seen entry 5"},
		"the first form after the second": {func(c Chain) Chain {
			c[4] = again(c[4], func(e *Entry) { e.About, e.Seen, e.Beside = "", 0, nil })
			return c
		}, "entry 5: it does not say which record"},
	} {
		t.Run(name, func(t *testing.T) {
			err := c.make(slices.Clone(good)).Verify()
			if err == nil || !strings.HasPrefix(err.Error(), c.entry) || diag.KindOf(err) != diag.Integrity {
				t.Errorf("got %v, want %q", err, c.entry)
			}
		})
	}
	if err := good.Verify(); err != nil {
		t.Errorf("the tests changed the chain: %v", err)
	}
}

// TestGoingOnInTheSecondForm: a chain of the first form goes on in the second, and an
// author may have seen any entry of the first.
func TestGoingOnInTheSecondForm(t *testing.T) {
	c := chainOf(t, 3)
	for _, seen := range []int64{0, 2, 3} {
		e, err := c[2].Next(Entry{At: c[2].At, By: "T1", What: "noted", About: "a/1", Seen: seen}, nil)
		if err != nil {
			t.Fatal(err)
		}
		more := append(slices.Clone(c), e)
		if err := more.Verify(); err != nil {
			t.Error(err)
		}
		if e, err = e.Next(Entry{At: e.At, By: "T1", What: "noted", About: "a/1", Seen: 2}, nil); err != nil {
			t.Fatal(err)
		}
		if err := append(more, e).Verify(); err == nil {
			t.Error("a lost update was not found")
		}
	}
}

// What no entry can say of its record: it has to name one to have seen an entry of it or to
// have texts beside it, and nobody has seen entry -1, itself or one to come.
func TestNextRefuses(t *testing.T) {
	last := chainOf(t, 3)[2]
	aside := Aside{salt("a"), "a remark"}
	seal, err := aside.Seal()
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		e    Entry
		want string
	}{
		"seen of no record":      {Entry{Seen: 1}, "does not say which record"},
		"a text of no record":    {Entry{Beside: []Aside{aside}}, "does not say which record"},
		"seen before the first":  {Entry{About: "a/1", Seen: -1}, "had seen entry -1, which"},
		"seen itself":            {Entry{About: "a/1", Seen: 4}, "had seen entry 4, which"},
		"a text without a seal":  {Entry{About: "a/1", Beside: []Aside{{salt("b"), "a remark"}}}, "a text beside it"},
		"a text without a salt":  {Entry{About: "a/1", Beside: []Aside{{"", "a remark"}}}, "a text beside it"},
		"one text of two sealed": {Entry{About: "a/1", Beside: []Aside{aside, {salt("b"), "more"}}}, "a text beside it"},
		"nothing wrong":          {Entry{About: "a/1", Seen: 3, Beside: []Aside{aside}}, ""},
	} {
		c.e.At, c.e.By, c.e.What = last.At, "T1", "noted"
		e, err := last.Next(c.e, map[string]any{"text": seal})
		if (err == nil) != (c.want == "") || err != nil && (!strings.Contains(err.Error(), c.want) || diag.KindOf(err) != diag.Invalid) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		if err == nil && e.Seq != 4 || err != nil && e.Seq != 0 {
			t.Errorf("%s: entry %d, %v", name, e.Seq, err)
		}
	}
}

// Over entries of another record nobody writes who had seen one of them: of its own record
// there was none.
func TestSeenOfAnotherRecord(t *testing.T) {
	c := aboutChain(t)
	for seen, ok := range map[int64]bool{0: true, 1: false, 5: false} {
		e, err := c[4].Next(Entry{At: c[4].At, By: "T1", What: "noted", About: "c/1", Seen: seen}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := append(slices.Clone(c), e).Verify(); (err == nil) != ok {
			t.Errorf("entry %d seen: %v", seen, err)
		}
	}
}

// Texts are known by their seals; what has no seal is none.
func TestUnsealed(t *testing.T) {
	a, b := Aside{salt("a"), "one"}, Aside{salt("b"), "two"}
	sealA, _ := a.Seal()
	sealB, _ := b.Seal()
	got := Entry{Beside: []Aside{a, {"short", "three"}, b}}.Unsealed()
	if len(got) != 2 || got[sealA] != "one" || got[sealB] != "two" {
		t.Errorf("%v", got)
	}
	if got := (Entry{}).Unsealed(); len(got) != 0 {
		t.Errorf("nothing beside it is %v", got)
	}
}

// TestVerifyInParts: a chain verified in any two parts is the chain verified at once.
func TestVerifyInParts(t *testing.T) {
	c := aboutChain(t)
	for k := range len(c) + 1 {
		newest, err := c[:k].VerifyAfter(Entry{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		var last Entry
		if k > 0 {
			last = c[k-1]
		}
		if _, err := c[k:].VerifyAfter(last, newest); err != nil {
			t.Errorf("cut after %d: %v", k, err)
		}
		if k > 2 && k < len(c) { // the second part alone is none
			if err := c[k:].Verify(); err == nil {
				t.Error("a part passes for the whole")
			}
		}
	}
}
