package storetest

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// ShopStore is a store that knows whose jobs are.
type ShopStore interface {
	ListStore
	app.Shops
}

// TestShops hands jobs from shop to shop, and holds owners, lists and what a shop may know of bytes against a reader's own count.
func TestShops(t *testing.T, open func(now func() time.Time) ShopStore) {
	clock := &Clock{at: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
	to := open(clock.Now)
	ctx, shops := t.Context(), []string{"", "north", "south"}
	owner, seen := map[string]string{}, map[string]int64{}
	var ids []string
	for i := range 9 {
		s := State(fmt.Sprintf("J-%d", i))
		if _, err := to.Create(ctx, s.ID, app.Change{Key: "k", By: "p-1", Events: job.FromState(s)}); err != nil {
			t.Fatal(err)
		}
		ids, owner[s.ID] = append(ids, s.ID), ""
	}
	for i := range 30 {
		clock.add(time.Second)
		id, next := ids[(i*7)%len(ids)], shops[1+(i*5)%2]
		h, err := to.Append(ctx, id, app.Change{Key: fmt.Sprint("over", i), By: "p-1", Events: []job.Event{
			{Kind: job.JobHandedOver, Seen: seen[id], Data: job.HandedOver{To: next, By: "W1", On: unit.Date{Year: 2026, Month: 3, Day: 2}, Reason: "A bay is free"}}}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		owner[id], seen[id] = next, h.Seq
	}
	for _, of := range [][]string{{""}, {"north"}, {"south"}, {"", "north"}, {"west"}, {}} {
		var want []string
		for _, id := range ids {
			if slices.Contains(of, owner[id]) {
				want = append(want, id)
			}
		}
		var listed, found []string
		for after := ""; ; {
			page, err := to.ListOf(ctx, of, after, 2)
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range page {
				listed, after = append(listed, l.ID), l.ID
				if l.Owner != owner[l.ID] {
					t.Errorf("list says %s is of %q, want %q", l.ID, l.Owner, owner[l.ID])
				}
			}
			if len(page) < 2 {
				break
			}
		}
		var last app.JobLine
		for {
			page, err := to.Find(ctx, app.JobQuery{Of: of, After: last, Most: 2})
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range page {
				found, last = append(found, l.ID), l
			}
			if len(page) < 2 {
				break
			}
		}
		slices.Sort(found)
		if !slices.Equal(listed, want) || !slices.Equal(found, want) {
			t.Errorf("jobs of %q: listed %v, found %v, want %v", of, listed, found, want)
		}
	}
	for id, want := range owner {
		if got, err := to.OwnerOf(ctx, id); err != nil || got != want {
			t.Errorf("owner of %s: %q, %v, want %q", id, got, err, want)
		}
	}
	if _, err := to.OwnerOf(ctx, "nobody"); diag.KindOf(err) != diag.NotFound {
		t.Errorf("owner of what is not there: %v", err)
	}
	whoMayKnow(t, to, ids[0], owner[ids[0]], seen[ids[0]])
}

// whoMayKnow: bytes are known to the shops whose jobs name them, and to those that have brought them.
func whoMayKnow(t *testing.T, to ShopStore, id, owner string, seen int64) {
	t.Helper()
	ctx := t.Context()
	hash, _, err := to.Put(ctx, strings.NewReader("a photo"), 100)
	if err != nil {
		t.Fatal(err)
	}
	named := func(of ...string) bool {
		is, err := to.Named(ctx, of, hash)
		if err != nil {
			t.Fatal(err)
		}
		return is
	}
	other := map[string]string{"north": "south", "south": "north", "": "north"}[owner]
	if named("", "north", "south") {
		t.Error("bytes that no job names are named")
	}
	if err := to.NoteBrought(ctx, other, hash); err != nil {
		t.Fatal(err)
	}
	if err := to.NoteBrought(ctx, other, hash); err != nil {
		t.Errorf("noted twice: %v", err)
	}
	mine, err1 := to.HasBrought(ctx, owner, hash)
	theirs, err2 := to.HasBrought(ctx, other, hash)
	if mine || !theirs || err1 != nil || err2 != nil {
		t.Errorf("brought by the owner %v %v, by the other %v %v; want the other alone", mine, err1, theirs, err2)
	}
	e := job.Evidence{ID: "E-9", File: "p.jpg", SHA256: hash, Text: "x", By: "W1", On: unit.Date{Year: 2026, Month: 3, Day: 2}}
	if _, err := to.Append(ctx, id, app.Change{Key: "photo", By: "p-1", Events: []job.Event{{Kind: job.EvidenceAdded, Data: e}}}, nil); err != nil {
		t.Fatal(err)
	}
	if !named(owner) || named(other) || named() {
		t.Errorf("named of the owner %v, of the other %v, of nobody %v; want the owner alone", named(owner), named(other), named())
	}
	over := job.HandedOver{To: other, By: "W1", On: unit.Date{Year: 2026, Month: 3, Day: 2}, Reason: "x"}
	if _, err := to.Append(ctx, id, app.Change{Key: "photo-over", By: "p-1", Events: []job.Event{{Kind: job.JobHandedOver, Seen: seen, Data: over}}}, nil); err != nil {
		t.Fatal(err)
	}
	if named(owner) || !named(other) {
		t.Error("after the job was handed over, its bytes were not")
	}
}
