package plan

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"fettle/internal/golden"
)

// TestPlansStayAsTheyAre: plans of the test body, of that body and its shop with one field
// after the other taken away or put in, and of random jobs on whole bodies, each with its
// figures and a fingerprint of all of it, notes included. What is right in them the laws and
// the enumerations hold; this holds the rest: no step, word, amount or moment changes without
// somebody looking at why, who then runs the test with -update.
func TestPlansStayAsTheyAre(t *testing.T) {
	var b strings.Builder
	tell := func(name string, in Input) {
		text, figures := built(in)
		fmt.Fprintf(&b, "%s\t%s\t%.4x\n", name, figures, sha256.Sum256([]byte(text)))
	}
	items := map[string][]Item{"welds": {weldF1, weldF2, swapF3}, "plate": {weldF1, plateF2}, "cut": {cutS1, plateF2, swapF3}, "casting": {newCast, swapF3}}
	for _, name := range []string{"welds", "plate", "cut", "casting"} {
		tell(name, input(items[name]...))
	}
	in := input(cutS1, plateF2, swapF3)
	plain, _ := built(in)
	for _, of := range []any{in.Body, in.Shop, in.Job, &in.Inspect, &in.Choice} {
		v := reflect.ValueOf(of).Elem()
		golden.EachField(v, v.Type().String(), func(name string) {
			if text, figures := built(in); text != plain {
				fmt.Fprintf(&b, "%s\t%s\t%.4x\n", name, figures, sha256.Sum256([]byte(text)))
			}
		})
	}
	for _, v := range lawVehicles(t) {
		for seed := range uint64(4) {
			tell(fmt.Sprintf("%s %d", v.name, seed), lawJob(v, seed))
		}
	}
	golden.Same(t, "testdata/plans.tsv", b.String())
}

// built is a plan and its notes whole, and in short.
func built(in Input) (text, figures string) {
	defer func() {
		if recover() != nil { // no document like this is read
			text, figures = "", "contradicts itself"
		}
	}()
	p, notes := Build(in)
	out, err := json.Marshal([]any{p, notes})
	if err != nil {
		return err.Error(), "no JSON"
	}
	return string(out), fmt.Sprintf("%d steps, %d off, %d lost, %s to %s, %.1f min of work, %.1f in all, notes: %d, blocking: %s",
		len(p.Steps), len(p.Removal), len(p.Lost), p.Start, p.Finish, p.WorkMin, p.SpanMin, len(notes), blocking(notes))
}
