package plan

import (
	"fmt"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
)

// By hand: items are done once that renew one part in the same way, or cut along one line by
// the same treatment; each finding is named once, as people count, and what one of them waits
// for all do. Welds are never joined. What was given stays as it was.
func TestItemsThatAreDoneOnceAreMerged(t *testing.T) {
	f := func(ids ...job.FindingID) []job.FindingID { return ids }
	swap := func(part body.PartID, open, ask bool, ids ...job.FindingID) Item {
		return Item{Treatment: "swap", Kind: body.Exchange, Part: part, Findings: ids, Open: open, Ask: ask}
	}
	cut := func(line body.LineID, ids ...job.FindingID) Item {
		return Item{Treatment: "section", Kind: body.SectionOff, Line: line, Findings: ids}
	}
	cast := Item{Treatment: "newcast", Kind: body.ReplaceCasting, Part: "cast", Findings: f("F2")}
	bare := cast
	bare.Part = ""
	other := swap("a", false, false, "F4")
	other.Treatment = "other"
	kind := swap("a", false, false, "F4")
	kind.Kind = body.ReplacePart
	for name, c := range map[string]struct {
		items []Item
		want  string
	}{
		"one part":           {[]Item{swap("a", false, false, "F10", "F2"), swap("b", false, false, "F3"), swap("a", false, false, "F2", "F1")}, "[F1 F2 F10] false false, [F3] false false"},
		"what one waits for": {[]Item{swap("a", true, false, "F1"), swap("a", false, true, "F2")}, "[F1 F2] true true"},
		"another treatment":  {[]Item{swap("a", false, false, "F1"), other}, "[F1] false false, [F4] false false"},
		"another kind":       {[]Item{swap("a", false, false, "F1"), kind}, "[F1] false false, [F4] false false"},
		"no part":            {[]Item{swap("", false, false, "F1"), swap("", false, false, "F2")}, "[F1] false false, [F2] false false"},
		"one line":           {[]Item{cut("S1", "F1"), cut("S2", "F2"), cut("S1", "F3")}, "[F1 F3] false false, [F2] false false"},
		"no line":            {[]Item{cut("", "F1"), cut("", "F2")}, "[F1] false false, [F2] false false"},
		"one casting":        {[]Item{cast, cast}, "[F2] false false"},
		"no casting":         {[]Item{bare, bare}, "[F2] false false, [F2] false false"},
		"welds":              {[]Item{weldF1, weldF1}, "[F1] false false, [F1] false false"},
		"nothing":            {nil, ""},
	} {
		before := fmt.Sprint(c.items)
		got := ""
		for k, it := range Merge(c.items) {
			if k > 0 {
				got += ", "
			}
			got += fmt.Sprint(it.Findings, " ", it.Open, " ", it.Ask)
		}
		if got != c.want || fmt.Sprint(c.items) != before {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}

// By hand: the runs of steps for which a bay is kept. Two things part them: a step in another
// bay between, and a delivery or an answer where the shop rolls vehicles out of every bay of the
// kind; both only where all of the ones come before all of the others, and never through what is
// done in one go.
func TestRunsForWhichABayIsKept(t *testing.T) {
	bench, rolled := []shop.Bay{{ID: "b", Kind: "bench"}}, []shop.Bay{{ID: "b", Kind: "bench", RollOut: 5}, {ID: "c", Kind: "bench", RollOut: 9}, {ID: "d", Kind: "booth"}}
	half := []shop.Bay{{ID: "b", Kind: "bench", RollOut: 5}, {ID: "c", Kind: "bench"}}
	at := func(bay string, after ...int) stood { return stood{bay: bay, after: after} }
	gate := func(s stood, g ...string) stood { s.gates = g; return s }
	chain := func(s stood) stood { s.chain = "x"; return s }
	for name, c := range map[string]struct {
		steps []stood
		bays  []shop.Bay
		want  string
	}{
		"one":                                 {[]stood{at("bench"), at(""), at("bench", 1)}, bench, "bench [0 2] [] 0"},
		"another bay between":                 {[]stood{at("bench"), at("booth", 0), at("bench", 1)}, bench, "bench [0] [1] 0, bench [2] [] 0, booth [1] [2] 0"},
		"another bay beside":                  {[]stood{at("bench"), at("booth"), at("bench", 0)}, bench, "bench [0 2] [] 0, booth [1] [] 0"},
		"another bay before one":              {[]stood{at("bench"), at("booth", 0), at("bench", 1), at("bench", 0)}, bench, "bench [0 2 3] [] 0, booth [1] [2] 0"},
		"out of all bays":                     {[]stood{at("bench"), {leaves: true, after: []int{0}}, at("bench", 1)}, bench, "bench [0] [1] 0, bench [2] [] 0"},
		"in one go":                           {[]stood{chain(at("bench")), at("booth", 0), chain(at("bench", 1))}, bench, "bench [0 2] [] 0, booth [1] [2] 0"},
		"a delivery":                          {[]stood{at("bench"), gate(at("bench", 0), "g")}, bench, "bench [0 1] [] 0"},
		"a delivery, rolled out":              {[]stood{at("bench"), gate(at("bench", 0), "g")}, rolled, "bench [0] [] 9, bench [1] [] 0"},
		"rolled out of some":                  {[]stood{at("bench"), gate(at("bench", 0), "g")}, half, "bench [0 1] [] 0"},
		"a delivery for a step before":        {[]stood{at("bench"), gate(at("", 0), "g"), at("bench", 1)}, rolled, "bench [0] [] 9, bench [2] [] 0"},
		"for one that nothing else waits for": {[]stood{at("bench"), gate(at("bench"), "g")}, rolled, "bench [0 1] [] 0"},
		"through one go":                      {[]stood{at("bench"), chain(at("bench", 0)), gate(chain(at("bench", 1)), "g")}, rolled, "bench [0] [] 9, bench [1 2] [] 0"},
		"for all":                             {[]stood{gate(at("bench"), "g"), at("bench", 0)}, rolled, "bench [0 1] [] 0"},
		"two deliveries":                      {[]stood{at("bench"), gate(at("bench", 0), "g"), gate(at("bench", 1), "h")}, rolled, "bench [0] [] 9, bench [1] [] 9, bench [2] [] 0"},
		"two for one":                         {[]stood{at("bench"), gate(at("bench", 0), "g", "h")}, rolled, "bench [0] [] 9, bench [1] [] 0"},
		"moved by steps":                      {[]stood{{moves: true, bay: "bench"}, at("bench", 0), gate(at("bench", 1), "g")}, rolled, "bench [0 1 2] [] 0"},
		"a bay, then a delivery":              {[]stood{at("bench"), at("booth", 0), at("bench", 1), gate(at("bench", 2), "g")}, rolled, "bench [0] [1] 0, bench [2] [] 9, bench [3] [] 0, booth [1] [2 3] 0"},
		"more steps than fit a word": {func() []stood {
			var out []stood
			for k := range 70 {
				out = append(out, at("", max(k-1, 0)))
			}
			out[0] = at("bench")
			return append(out, at("booth", 69), at("bench", 70))
		}(), bench, "bench [0] [70] 0, bench [71] [] 0, booth [70] [71] 0"},
	} {
		got := ""
		for k, r := range keptBays(c.steps, c.bays) {
			if k > 0 {
				got += ", "
			}
			got += fmt.Sprint(r.kind, " ", r.members, " ", r.until, " ", r.extra)
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}
