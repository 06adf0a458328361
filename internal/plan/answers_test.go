package plan

import (
	"fmt"
	"testing"

	"fettle/internal/golden"
)

// TestPlansStayAsTheyAre: plans of the test body, of that body and its shop with one field
// after the other taken away or put in, and of random jobs on whole bodies, each with its
// figures and a fingerprint of all of it, notes included. What is right in them the laws and
// the enumerations hold; this holds the rest: no step, word, amount or moment changes without
// somebody looking at why, who then runs the test with -update.
func TestPlansStayAsTheyAre(t *testing.T) {
	var told golden.Answers
	tell := func(name string, in Input) { told.Tell(name, built(&in)) }
	items := map[string][]Item{"welds": {weldF1, weldF2, swapF3}, "plate": {weldF1, plateF2}, "cut": {cutS1, plateF2, swapF3}, "casting": {newCast, swapF3}}
	for _, name := range []string{"welds", "plate", "cut", "casting"} {
		tell(name, input(items[name]...))
	}
	in := input(cutS1, plateF2, swapF3)
	told.TellFields(built(&in), in.Body, in.Shop, in.Job, &in.Inspect, &in.Choice)
	for _, v := range lawVehicles(t) {
		for seed := range uint64(4) {
			tell(fmt.Sprintf("%s %d", v.name, seed), lawJob(v, seed))
		}
	}
	told.Same(t, "testdata/plans.tsv")
}

// built is a plan and its notes, and in short.
func built(in *Input) golden.Say {
	return func() (any, string) {
		p, notes := Build(*in)
		return []any{p, notes}, fmt.Sprintf("%d steps, %d off, %d lost, %s to %s, %.1f min of work, %.1f in all, notes: %d, blocking: %s",
			len(p.Steps), len(p.Removal), len(p.Lost), p.Start, p.Finish, p.WorkMin, p.SpanMin, len(notes), blocking(notes))
	}
}
