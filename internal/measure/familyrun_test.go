package measure

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// The campaign over families of damage, measurement and record. In the ordinary
// tests a few vehicles of each; FETTLE_FAMILIES is how many for a long run, and
// FAMILY_ONLY a part of a name. Seeds are those from FETTLE_SEED on, 1 without it. The
// bars hold for every family; those on shares only where there are enough runs to tell.
func TestCampaignFamilies(t *testing.T) {
	runs, seed := 2, uint64(1)
	if n, err := strconv.Atoi(os.Getenv("FETTLE_FAMILIES")); err == nil && n > 0 {
		runs = n
	}
	if n, err := strconv.ParseUint(os.Getenv("FETTLE_SEED"), 10, 64); err == nil {
		seed = n
	}
	var out strings.Builder
	out.WriteString(outcomeHead)
	total := 0
	for _, f := range families() {
		if !strings.Contains(f.name, os.Getenv("FAMILY_ONLY")) {
			continue
		}
		var o outcome
		for k := range runs {
			o.add(&f, seed+uint64(k))
		}
		total += o.runs
		out.WriteString(o.line(f.name))
		if f.bent > 0 {
			t.Logf("%s: in the frame of the shifts as drawn %d of %d runs are firm and wrong", f.name, o.elsewhere, o.runs)
		}
		for _, fault := range o.faults(&f) {
			t.Errorf("%s: %s%s", f.name, fault, o.example)
		}
	}
	t.Logf("%d runs\n%s", total, out.String())
}

// enough is the number of runs from which shares are held to their bars.
const enough = 50

// enoughForBound is the same for the fair bound: one vehicle of a hundred is ambiguous as
// a whole, and one or two more would decide with fewer runs.
const enoughForBound = 400

// faults are the bars that a family misses.
func (o *outcome) faults(f *family) []string {
	var out []string
	miss := func(bad bool, text string) {
		if bad {
			out = append(out, text)
		}
	}
	if f.honest {
		miss(o.stillMissed > 0, "what moved by more than is detectable is firmly not moved")
		miss(o.metWrong > 0, "what is outside its limit is firmly met")
		miss(o.blockWrong > 0, "a whole block is firmly the wrong one")
		miss(o.stillMoved > 1+o.runs/500, "still points are firmly moved more often than once in a thousand vehicles")
		inside := float64(o.inside) / float64(max(1, o.statements))
		miss(o.statements > 2000 && o.runs >= enough && (inside < 0.93 || inside > 0.97), "95 % regions hold in "+pct(o.inside, o.statements)+" %")
	} else {
		miss(1000*o.wrong > o.runs, "firm and wrong in "+strconv.Itoa(o.wrong)+" runs")
		miss(o.silent > 0, "firm and wrong without a caution")
	}
	miss(o.firmInDoubt > 0, "something is firm in an ambiguous result")
	miss(o.runs >= enough && float64(o.firm) < f.all*float64(o.points), pct(o.firm, o.points)+" % of all points are firm and right")
	miss(o.runs >= enoughForBound && float64(o.firm) < f.bound*float64(o.judge.open), pct(o.firm, o.judge.open)+" % of the fair bound is firm")
	miss(float64(o.elsewhere) > math.Max(1, f.bent*float64(o.runs)), strconv.Itoa(o.elsewhere)+" runs are wrong in the frame of the shifts as drawn")
	miss(o.shifted >= enough && 1000*o.found < 995*o.shifted, pct(o.found, o.shifted)+" % of the shifts of detectableMm are found")
	return out
}
