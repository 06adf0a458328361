package job

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
)

// TestWordsOfEvents: what a person reads of one event of each sort, made up from the good job; the
// wanted words are ours.
func TestWordsOfEvents(t *testing.T) {
	s := stored(goodState(t))
	events := FromState(s)
	events = append(events,
		Event{Kind: CastingRead, Data: Cast{Casting: "rear"}},
		Event{Kind: FindingRecorded, Data: s.Findings[2], Seen: 9},
		Event{Kind: RecordWithdrawn, Of: "hazard/" + RecordName(hazardName(s.Hazards[1])), Data: Withdrawal{By: "W1", On: s.Opened, Reason: "It has not"}},
		Event{Kind: TextsErased, Of: "review/#1", Data: Erasure{On: s.Opened, Reason: "Asked for"}},
		Event{Kind: BodyNamed, Data: Named{SHA256: strings.Repeat("b", 64)}},
		Event{Kind: StartSet, Data: Beginning{Start: s.Start}},
		Event{Kind: StartSet, Data: Beginning{Start: s.Start, Seed: 4}, Seen: 8},
		Event{Kind: ShopNamed, Data: Named{SHA256: strings.Repeat("5", 64)}},
		Event{Kind: JobHandedOver, Data: HandedOver{To: "north", By: "W2", On: s.Opened, Reason: "They have a bay free"}},
		Event{Kind: ReadingsRecorded, Data: Taken{Readings: s.Readings}},
		Event{Kind: FindingDropped, Data: Withdrawn{ID: "F2", By: "W1", On: s.Opened, Reason: "Twice"}})
	all := strings.Join(Words(events), "\n") + "\n"
	for _, want := range []string{
		"Job T-0001 opened; signed W2",
		"Start of the work recorded: from " + s.Start.String(),
		"Start of the work changed: from " + s.Start.String() + ", sampling starts at 4",
		"Vehicle recorded: VIN TEST1111111111111, worth 27400.00 EUR before the damage",
		"Handed over to shop north: They have a bay free; signed W2 for " + s.Opened.String(),
		"Impact recorded: from front left, Low wall at walking speed",
		`Danger (high voltage, "Battery taken out") recorded: made safe; signed E1 for 2026-03-02`,
		`Danger (airbag, "Front airbag has fired") recorded: not made safe yet`,
		"Set-up S1 recorded: Test device, before the repair; signed W2 for 2026-03-03",
		"Readings of set-up S1 recorded: " + fmt.Sprint(len(s.Readings)) + " readings",
		"Evidence E-1 recorded: Both tips, file photos/f1.jpg; signed W2 for 2026-03-03",
		"Inspection I-1 recorded: penetrant, fluorescent, With mirror; signed W1 for 2026-03-03",
		"Finding F1 recorded: crack on P-BLOCK at 320, 110, 250 mm, seen with penetrant; signed W2 for 2026-03-03",
		"Finding F3 changed: dent on P-SKIN, seen by eye; signed W2 for 2026-03-03",
		"Inspection area A-ROOT recorded: penetrant, White light, 20 min dwell; signed W2 for 2026-03-03",
		"Access found 1 recorded: Z-TIP can be reached, once off: P-SKIN, With a mirror; signed W2 for 2026-03-03",
		"Earlier repair 1 recorded: 12 mm in zone Z-TIP, Old weld",
		"Casting block recorded: cast on 2025-05-20; signed W2 for 2026-03-03",
		"Casting rear recorded",
		"Climate of the workplace 1 recorded: 16 C; signed W2 for 2026-03-06",
		"Look-up of a procedure 1 recorded: TB, revision 1 is the current one; signed W2 for 2026-03-02",
		"Question QU-1 recorded: sent about finding F1; signed W2 for 2026-03-04",
		"Answer AN-1 recorded: about finding F1, allows dress, forbids weld, until the day before 2026-06-05; signed W2 for 2026-03-05",
		"What the manufacturer was told with QU-1 recorded: 1 finding as they were",
		"Risk RK-1 recorded: The crack F1 runs on below the paint, 30 %; signed W2 for 2026-03-04",
		"Choice of a route 1 recorded: route R-1, Cheapest route that is allowed; signed W2 for 2026-03-06",
		"Treatment of finding F1 recorded: dress, Answer AN-1; signed W2 for 2026-03-06",
		"Review of the decisions 1 recorded: done, Facts and rows read again; signed W1 for 2026-03-07",
		"Bill 1 recorded: route R-1, 1044.00 EUR with tax, First bill; signed W2 for 2026-03-06",
		"Work 1 recorded: Grind for finding F1, 31 min, Paint was thick; signed W1 for 2026-03-09",
		"Figure read 1 recorded: interpass 80 C, step Weld for finding F1; signed W2 for 2026-03-09",
		"Reading of the fault memories FM-1 recorded: before the repair, 2 codes in 2 systems; signed W2 for 2026-03-03",
		"Delivery D-1 recorded: 1 of P-SKIN came; signed W1 for 2026-03-05",
		"Promise PR-1 recorded: P-BLOCK is promised for 2026-03-16, Supplier desk; the lorry was full; signed W2 for 2026-03-06",
		"Record R-1 recorded: penetrant for finding F1; signed W1 for 2026-03-12",
		"Hand-back of the vehicle 1 recorded: job opened again by W2 on 2026-03-20, The door rattles; signed W1 for 2026-03-13",
		"Hand-back of the vehicle 2 recorded: to agent of the payer; signed W1 for 2026-03-21",
		"Proposal PP-1 recorded: choice of a route is proposed, and not taken over, A bay is free; signed W2 for 2026-03-05",
		"Proposal PP-2 recorded: finding F3 is taken over by W1; signed W2 for 2026-03-03",
		"Sending to review 1 recorded: what was measured was sent back by W1 on 2026-03-07, One set-up is loose; signed W2 for 2026-03-06",
		"Sending to review 2 recorded: the whole was sent; signed W2 for 2026-03-06",
		"Agreement to an erasure 1 recorded: of names and remarks from finding F1 and review of the decisions 1, Asked for; signed W1 for 2026-03-22",
		`Danger (airbag, "Front airbag has fired") withdrawn: It has not; signed W1 for 2026-03-02`,
		"Names and remarks erased from review of the decisions 1: Asked for",
		"Body recorded: its files have the hash bbbbbbbbbbbb...",
		"Shop recorded: its files have the hash 555555555555...",
		fmt.Sprint(len(s.Readings)) + " readings recorded",
		"Finding F2 withdrawn: Twice; signed W1 for 2026-03-02",
	} {
		if !strings.Contains(all, want+"\n") {
			t.Errorf("missing: %s", want)
		}
	}
	code := regexp.MustCompile(`[a-z]-recorded|[a-z]-[0-9a-f]{12}\b|#[0-9]|: (;|$)|\(\)`)
	for _, line := range strings.Split(all, "\n") {
		if code.MatchString(line) {
			t.Errorf("not plain: %s", line)
		}
	}
	said := map[EventKind]bool{}
	for _, e := range events {
		said[e.Kind] = true
	}
	for _, k := range sorts {
		if !said[k.kind] {
			t.Errorf("no event of kind %s is among them", k.kind)
		}
	}
	if t.Failed() {
		t.Log(all)
	}
}
