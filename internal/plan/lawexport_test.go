package plan

import (
	"testing"

	"fettle/internal/diag"
)

// LawJobs are the random jobs of a seed that the laws of order are tried on, one for each vehicle, for
// tests outside the package.
func LawJobs(t testing.TB, seed uint64) map[string]Input {
	out := map[string]Input{}
	for _, v := range lawVehicles(t) {
		out[v.name] = lawJob(v, seed)
	}
	return out
}

// LawNames are the laws of order.
func LawNames() []string {
	var out []string
	for _, l := range laws {
		out = append(out, l.name)
	}
	return out
}

// LawsBroken holds a plan against every law: how often each was tried, and where it is broken.
func LawsBroken(in Input, p Plan, notes []diag.Note) (tried []int, broken map[string][]string) {
	broken = map[string][]string{}
	for _, l := range laws {
		c := &lawPlan{v: lawVehicle{body: in.Body, shop: in.Shop}, in: in, p: p, notes: notes}
		l.hold(c)
		tried = append(tried, c.tried)
		if len(c.bad) > 0 {
			broken[l.name] = c.bad
		}
	}
	return tried, broken
}
