package job

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/ledger"
)

// TestErasingAPerson erases each person of the good job, with a record more that the person signed
// before somebody else took it over, one that was withdrawn, and a remark of somebody else about the
// person. No text names the person afterwards, the chain is whole, and no other record has changed.
func TestErasingAPerson(t *testing.T) {
	s := goodState(t)
	opened, first := chainOf(t, s)
	for _, who := range []string{"T1", "T2", "W1", "P1", "Mrs Invented"} {
		chain, now := slices.Clone(opened), first
		write := func(by string, events ...Event) {
			more, next, err := now.Write(events, stamp(morning, by))
			if err != nil {
				t.Fatal(err)
			}
			chain, now = append(chain, more...), next
		}
		review := func(of RecordName, by, text string) Event {
			return Event{Kind: DecisionsReviewed, Of: of, Seen: now.Newest(of), Data: Review{By: by, On: s.Opened, Text: text}}
		}
		write("p-1", review("review/#71", "inspector "+who, "Looked"))
		write("p-2", review("review/#71", "X9", "Taken over"))
		write("p-2", review("review/#72", "X9", "As "+strings.ToUpper(who)+", said"))
		write("p-2", review("review/#73", who, "Wrong"))
		write("p-2", dropped(now, "review/#73"))
		write("p-9", review("review/#74", "X9", "A remark of p-9"))
		write("p-2", review("review/#75", "X9"+who+"9", "Another's name has that in it"))
		p := Person{Names: []string{who}, Wrote: "p-9"}
		of, _, err := p.Concerns(chain)
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []RecordName{"review/#71", "review/#72", "review/#73", "review/#74"} {
			if !slices.Contains(of, want) {
				t.Errorf("%s: %s is not found", who, want)
			}
		}
		if slices.Contains(of, "review/#75") {
			t.Errorf("%s: the name of another is taken for it", who)
		}
		before := now
		write("p-2", now.Erasing(of, Erasure{On: s.Opened, Reason: "Asked for"})...)
		for _, x := range of {
			chain = strip(chain, x)
		}
		left, err := Read(chain)
		if err != nil {
			t.Fatal(err)
		}
		assertNobody(t, who, chain)
		for _, x := range left.slots {
			if was := before.slots[before.at[x.of]]; !slices.Contains(of, x.of) && !reflect.DeepEqual(was.data, x.data) {
				t.Errorf("%s: %s has changed and was not about anybody", who, x.of)
			}
		}
		if again, _, err := p.Concerns(chain); err != nil || len(again) > 0 {
			t.Errorf("%s: after the erasure %v are still found: %v", who, again, err)
		}
	}
}

// assertNobody looks for a name by itself in every text beside the entries.
func assertNobody(t *testing.T, who string, c ledger.Chain) {
	t.Helper()
	for _, e := range c {
		for _, a := range e.Beside {
			words := strings.Join(strings.FieldsFunc(strings.ToLower(a.Text), func(r rune) bool { return strings.ContainsRune(" ,.;:()-\"'", r) }), " ")
			if strings.Contains(" "+words+" ", " "+strings.ToLower(who)+" ") {
				t.Errorf("%s is still named in %s: %q", who, e.About, a.Text)
			}
		}
	}
}

// TestPersonBeyondErasing: a name in a text that the work rests on is told and not erased, and what the
// job was opened with does not count as said by whoever opened it.
func TestPersonBeyondErasing(t *testing.T) {
	s := goodState(t)
	s.Hazards = append(slices.Clone(s.Hazards), Hazard{Kind: s.Hazards[0].Kind, Text: "Ask Mr Planted first"})
	chain, _ := chainOf(t, s)
	_, beyond, err := Person{Names: []string{"mr planted"}}.Concerns(chain)
	if err != nil || len(beyond) != 1 || !strings.HasPrefix(string(beyond[0]), "hazard/") {
		t.Errorf("%v %v", beyond, err)
	}
	of, _, err := Person{Wrote: chain[0].By}.Concerns(chain)
	if err != nil || len(of) != 0 {
		t.Errorf("whoever opened the job is said to have said %v: %v", of, err)
	}
	for text, want := range map[string]bool{"T1": true, "technician T1": true, "t1,": true, "T11": false, "AT1": false, "(T1)": true, "T1-b": true, "ÄT1": false, "": false} {
		if got := (Person{Names: []string{"T1", " "}}).named(text); got != want {
			t.Errorf("%q names T1: %v, want %v", text, got, want)
		}
	}
}
