package app

import (
	"fmt"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/release"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// By hand: a row says every system that was read, again for each code; what is left out or cannot be
// understood is refused.
func TestReadingsOfFaultsFromAList(t *testing.T) {
	for value, want := range map[string]string{
		"airbag: none; radar: C1A67 not aligned; radar: U0415": "FM-2 after [airbag radar] radar: C1A67 (not aligned), radar: U0415",
		" radar :none ":       "FM-2 after [radar] ",
		"radar: P0A1: high; ": "FM-2 after [radar] radar: P0A1: (high)",
		"":                    "!which systems were read",
		";":                   "!which systems were read",
		"radar":               "!does not say what stood in which system",
		"radar:":              "!does not say what stood in which system",
		": P1":                "!does not say what stood in which system",
	} {
		tk := &taken{c: &Opened{Job: &job.State{Faulty: []job.FaultReading{{ID: "FM-1"}}}}}
		rec, column, err := tk.faultsRead(release.Wanted{About: "after"}, Entry{Value: value})
		got := ""
		switch {
		case err != nil:
			got = "!" + err.Error()
		default:
			x := rec.(job.FaultReading)
			var codes []string
			for _, c := range x.Codes {
				codes = append(codes, c.Words())
			}
			got = fmt.Sprintf("%s %s %v %s", x.ID, x.Stage, x.Systems, strings.Join(codes, ", "))
		}
		if column != "value" || got != want && !(strings.HasPrefix(want, "!") && strings.Contains(got, want[1:])) {
			t.Errorf("%q: %q, want %q", value, got, want)
		}
	}
}

// By hand: two codes of one reading are said to be harmless in one list, each by somebody who may.
func TestHarmlessCodesFromAList(t *testing.T) {
	day := unit.Date{Year: 2026, Month: 3, Day: 4}
	tk := &taken{c: &Opened{Shop: &shop.Shop{People: []shop.Person{{ID: "M", May: []shop.Authority{shop.MayInspect}}, {ID: "E"}}},
		Job: &job.State{Faulty: []job.FaultReading{{ID: "FM-1", Stage: body.FaultsAfter, Systems: []string{"radar"}, On: day, Codes: []job.FaultCode{{System: "radar", Code: "C1"}, {System: "radar", Code: "C2"}}}}}}}
	row := func(code, value, by, text string) (any, string) {
		rec, column, err := tk.harmless(release.Wanted{About: "FM-1", What: "radar: " + code}, Entry{Value: value, By: by, On: day, Text: text})
		if err != nil {
			return nil, column
		}
		tk.records = append(tk.records, rec)
		return rec, ""
	}
	for _, c := range []struct{ value, by, text, column string }{{"yes", "M", "old", "value"}, {"harmless", "M", " ", "text"}, {"harmless", "E", "old", "by"}, {"harmless", "X", "old", "by"}} {
		if _, column := row("C1", c.value, c.by, c.text); column != c.column {
			t.Errorf("%+v: told of column %q", c, column)
		}
	}
	row("C1", "harmless", "M", "old")
	rec, _ := row("C2", "harmless", "M", "set by the tester")
	x := rec.(job.Changed).Item.(job.FaultReading)
	if x.Codes[0].Harmless != "old" || x.Codes[1].Harmless != "set by the tester" || x.Codes[1].HarmlessBy != "M" || tk.c.Job.Faulty[0].Codes[0].Harmless != "" {
		t.Errorf("%+v of %+v", x, tk.c.Job.Faulty)
	}
}
