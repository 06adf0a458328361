package job

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"testing"

	"fettle/internal/ledger"
	"fettle/internal/unit"
)

// Of drawn histories of two people who write the same few records, every record that one has written since the other
// read it is a clash, with the version both had, and no other is; what differs is told field by field.
func TestClashesTellAllVersionsSeed19(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 2))
	day := unit.Date{Year: 2026, Month: 3, Day: 2}
	find := func(id, text string, seen int64) Event {
		return Event{Kind: FindingRecorded, Seen: seen, Data: Finding{ID: FindingID(id), Kind: "dent", Part: "P", Through: "unknown", Seen: "visual", By: "W2", On: day, Text: text}}
	}
	n := 0
	stamp := func(by string) Stamp {
		return Stamp{At: "2026-03-02T08:00:00Z", By: by, Salt: func() string { n++; return fmt.Sprintf("%064x", n) }}
	}
	clashes := 0
	for range 300 {
		first := &Stored{}
		chain, s, err := first.Write(FromState(State{Format: Format, ID: "J", Body: HashName(fmt.Sprintf("%064d", 0)), Shop: HashName(fmt.Sprintf("%064d", 0)), Opened: day, Start: day, Author: "W2",
			Vehicle: Vehicle{VIN: "TEST1111111111111", Value: unit.Money{Minor: 1, Currency: "EUR"}, Salvage: unit.Money{Minor: 1, Currency: "EUR"}, LoadState: "unloaded"}, Impact: Impact{From: "front-left", Text: "Wall"}}), stamp("p-0"))
		if err != nil {
			t.Fatal(err)
		}
		texts := map[string][]string{} // by record, in the order of their events
		seqs := map[string][]int64{}
		write := func(by, id string) {
			text := fmt.Sprint("text ", rng.IntN(5))
			more, next, err := s.Write([]Event{find(id, text, s.Newest(RecordName("finding/"+id)))}, stamp(by))
			if err != nil {
				t.Fatal(err)
			}
			chain, s = append(chain, more...), next
			texts[id], seqs[id] = append(texts[id], text), append(seqs[id], more[0].Seq)
		}
		for range rng.IntN(6) {
			write("p-1", fmt.Sprint("D", rng.IntN(3)))
		}
		read, had := s, map[string]int{}
		for id := range texts {
			had[id] = len(texts[id])
		}
		for range rng.IntN(4) {
			write("p-2", fmt.Sprint("D", rng.IntN(3)))
		}
		var mine []Event
		want := map[RecordName]bool{}
		for i := range 3 {
			id := fmt.Sprint("D", i)
			mine = append(mine, find(id, "mine", read.Newest(RecordName("finding/"+id))))
			if len(texts[id]) > had[id] {
				want[RecordName("finding/"+id)] = true
			}
		}
		got, err := Clashes(ledger.Chain(chain), mine)
		if err != nil || len(got) != len(want) {
			t.Fatalf("%v: %+v, want %v", err, got, want)
		}
		for _, c := range got {
			clashes++
			id := string(c.Of)[len("finding/"):]
			all := texts[id]
			base := ""
			if had[id] > 0 {
				base = all[had[id]-1]
			}
			if (c.Base == nil) != (base == "") || base != "" && c.Base.(Finding).Text != base || c.Theirs.(Finding).Text != all[len(all)-1] || c.Mine.(Finding).Text != "mine" ||
				c.By != "p-2" || c.Now != seqs[id][len(all)-1] || c.Seen != read.Newest(c.Of) {
				t.Errorf("%+v", c)
			}
			fields := c.Fields()
			text := ClashField{"text", base, all[len(all)-1], "mine"}
			if base != "" && !reflect.DeepEqual(fields, []ClashField{text}) {
				t.Errorf("differs: %+v, want %+v", fields, text)
			}
		}
	}
	if clashes < 100 {
		t.Errorf("only %d clashes were drawn", clashes)
	}
}
