package job

import (
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/unit"
)

// TestOwnerIsHandedOver: a job belongs to the shop it was handed to last; its state says nothing of that, and a job that was never
// handed over is one of nobody in particular.
func TestOwnerIsHandedOver(t *testing.T) {
	_, now, err := (&Stored{}).Write(FromState(stored(goodState(t))), stamp(morning, "T1"))
	if err != nil {
		t.Fatal(err)
	}
	if now.Owner() != "" {
		t.Errorf("before: %q", now.Owner())
	}
	was, err := now.State().Hash()
	if err != nil {
		t.Fatal(err)
	}
	for _, to := range []string{"north", "S-2"} {
		over := HandedOver{To: to, By: "P1", On: unit.Date{Year: 2026, Month: 3, Day: 10}, Reason: "nearer to the owner"}
		seen := now.Newest(OfOwner)
		c, next, err := now.Write([]Event{{Kind: JobHandedOver, Data: over, Seen: seen}}, stamp(morning, "T1"))
		if err != nil {
			t.Fatal(err)
		}
		if c[0].About != string(OfOwner) || strings.Contains(c[0].Payload, "nearer") {
			t.Errorf("it is about %q, and its payload holds the reason: %s", c[0].About, c[0].Payload)
		}
		if _, _, err := next.Write([]Event{{Kind: JobHandedOver, Data: over, Seen: seen}}, stamp(morning, "T1")); diag.KindOf(err) != diag.Conflict {
			t.Errorf("over what its author had not seen: %v", err)
		}
		now = next
		if now.Owner() != to {
			t.Errorf("owner %q, want %q", now.Owner(), to)
		}
	}
	if is, err := now.State().Hash(); err != nil || is != was {
		t.Errorf("the state is another since: %v", err)
	}
	_, gone, err := now.Write([]Event{Event{Kind: TextsErased, Of: OfOwner, Seen: now.Newest(OfOwner), Data: Erasure{On: unit.Date{Year: 2026, Month: 3, Day: 11}, Reason: "asked for"}}}, stamp(morning, "T1"))
	if err != nil || gone.Owner() != "S-2" {
		t.Errorf("after an erasure of texts: %q, %v", gone.Owner(), err)
	}
	for _, to := range []string{"", "a/b", "-a", "a b", strings.Repeat("a", 41), "..", "ä"} {
		over := HandedOver{To: to, By: "P1", On: unit.Date{Year: 2026, Month: 3, Day: 10}, Reason: "x"}
		if _, _, err := now.Write([]Event{{Kind: JobHandedOver, Data: over, Seen: now.Newest(OfOwner)}}, stamp(morning, "T1")); err == nil {
			t.Errorf("it was handed to %q", to)
		}
	}
	if _, _, err := now.Write([]Event{{Kind: RecordWithdrawn, Of: OfOwner, Seen: now.Newest(OfOwner), Data: Withdrawal{By: "P1", On: unit.Date{Year: 2026, Month: 3, Day: 10}, Reason: "x"}}}, stamp(morning, "T1")); err == nil {
		t.Error("the owner was withdrawn")
	}
}

// TestWhoWrote: each record knows who wrote it last, and who has ever written about it, read from its chain as written.
func TestWhoWrote(t *testing.T) {
	s := stored(goodState(t))
	c, now, err := (&Stored{}).Write(FromState(s), stamp(morning, "T1"))
	if err != nil {
		t.Fatal(err)
	}
	day := unit.Date{Year: 2026, Month: 3, Day: 10}
	change := func(by string, e Event) {
		t.Helper()
		e.Seen = now.Newest(e.About())
		more, next, err := now.Write([]Event{e}, stamp(morning, by))
		if err != nil {
			t.Fatal(err)
		}
		c, now = append(c, more...), next
	}
	change("T2", Event{Kind: FindingRecorded, Data: s.Findings[2]})
	change("T3", Event{Kind: RecordWithdrawn, Of: "bill/1", Data: Withdrawal{By: "W1", On: day, Reason: "x"}})
	read, err := Read(c)
	if err != nil {
		t.Fatal(err)
	}
	for _, is := range []*Stored{now, read} {
		if is.AuthorOf("finding/F3") != "T2" || is.AuthorOf("finding/F1") != "T1" || is.AuthorOf("finding/F99") != "" {
			t.Errorf("authors of findings: %q %q %q", is.AuthorOf("finding/F3"), is.AuthorOf("finding/F1"), is.AuthorOf("finding/F99"))
		}
		for _, x := range is.Written() {
			want, kinds := "T1", x.Kind != ""
			switch x.Of {
			case "finding/F3":
				want = "T1 T2"
			case "bill/1":
				want = "T1 T3"
			}
			if got := strings.Join(x.All, " "); got != want || !kinds {
				t.Errorf("%s (%s) was written by %q, want %q", x.Of, x.Kind, got, want)
			}
		}
	}
	if got := now.Written(); len(got) != len(read.Written()) {
		t.Errorf("%d records, read %d", len(got), len(read.Written()))
	}
}
