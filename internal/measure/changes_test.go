package measure

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// changeTally is what Compare said in the runs of one kind.
type changeTally struct {
	still, wrong, large, found, open, runs int
}

// pulled is a vehicle measured before and after work on up to k points, each moved
// by 1 to 60 standard uncertainties of the device, which is ratio times the spread
// of the points. rear: its rear moved before and was pulled back.
func pulled(n, k int, ratio float64, rear bool, seed uint64) (c *car, in Input, change []geom.Vec) {
	const s0 = 0.5
	u := ratio * s0
	c, nominal := built(n, seed, s0)
	if rear {
		c.moveRear(0.3, 14)
	}
	in = c.measure(u)
	in.Impact = "rear"
	in.Setups = []job.Setup{{ID: "S1", Std: unit.MM(u)}, {ID: "S2", Stage: "after", Std: unit.MM(u)}, {ID: "S3", Stage: "after", Std: unit.MM(u)}}
	publish(&in, nominal, s0)
	change = make([]geom.Vec, n)
	for i := range change {
		if rear {
			change[i] = c.shift[i].Scale(-0.97)
		}
	}
	for range k {
		if i := c.rng.IntN(n); change[i] == (geom.Vec{}) {
			change[i] = c.gauss().Unit().Scale(u * math.Exp(c.rng.Float64()*math.Log(60)))
		}
	}
	for i := range change {
		c.shift[i] = c.shift[i].Add(change[i])
	}
	if seed%3 == 0 { // two set-ups that overlap little
		c.readBy(&in, "S2", fromTo(0, n*2/3), u)
		c.readBy(&in, "S3", fromTo(n/3, n), u)
	} else {
		c.readBy(&in, "S2", fromTo(0, n), u)
	}
	return c, in, change
}

func (s *changeTally) add(in Input, change []geom.Vec) {
	s.runs++
	before, _ := Run(in)
	in.Stage = "after"
	after, _ := Run(in)
	p := Compare(in.Points, before, after)
	if !p.Comparable || len(p.Notes) > 0 {
		s.open++
		return
	}
	for i, q := range p.Points {
		switch d := change[i].Norm(); {
		case q.Open:
			continue
		case d == 0:
			s.still++
			if q.Changed {
				s.wrong++
			}
		case d > q.Detectable:
			s.large++
			if q.Changed {
				s.found++
			}
		}
	}
}

// aboveOdds says that count of n at probability p or more is less likely than one
// in ten thousand (normal bound with a continuity correction).
func aboveOdds(count, n int, p float64) bool {
	mean := float64(n) * p
	return float64(count) > mean+3.72*math.Sqrt(mean)+3
}

// Points that nobody touched are called changed in one of a thousand, whatever the
// device is worth against the spread of the points and however many were changed;
// changes of the stated detectable size are found. With FETTLE_CAMPAIGN set, many
// more runs; the table stands in docs/methods/measure.md. Constructed, seeds from
// the loops.
func TestCampaignOfChanges(t *testing.T) {
	runs, sizes := draws(2, 12), []int{14}
	if r, err := strconv.Atoi(os.Getenv("FETTLE_CAMPAIGN")); err == nil && r > 0 {
		runs, sizes = r, []int{10, 14, 24}
	}
	var out strings.Builder
	out.WriteString("| points | rear pulled | changed alone, up to | device / spread | runs | open | untouched | called changed % | beyond detectable | found % |\n|---|---|---|---|---|---|---|---|---|---|\n")
	var all changeTally
	for _, n := range sizes {
		for _, rear := range []bool{false, true} {
			for _, k := range []int{0, 3, 5} {
				for _, ratio := range []float64{0.02, 0.1, 0.3, 1, 3} {
					var s changeTally
					for seed := 1; seed <= runs; seed++ {
						_, in, change := pulled(n, k, ratio, rear, uint64(seed*1009+n*31+k*7)+uint64(ratio*1e4))
						s.add(in, change)
					}
					fmt.Fprintf(&out, "| %d | %v | %d | %g | %d | %d | %d | %.2f | %d | %s |\n", n, rear, k, ratio, s.runs, s.open, s.still, pc(s.wrong, s.still), s.large, pct(s.found, s.large))
					if aboveOdds(s.wrong, s.still, geom.AlphaPoint) {
						t.Errorf("%d points, rear %v, %d changed, device %g of the spread: %d of %d untouched points are called changed", n, rear, k, ratio, s.wrong, s.still)
					}
					all.still, all.wrong, all.large, all.found = all.still+s.still, all.wrong+s.wrong, all.large+s.large, all.found+s.found
					all.open, all.runs = all.open+s.open, all.runs+s.runs
				}
			}
		}
	}
	t.Logf("\n%s\n%d of %d runs open; %d of %d untouched points called changed; %d of %d found", out.String(), all.open, all.runs, all.wrong, all.still, all.found, all.large)
	if aboveOdds(all.wrong, all.still, geom.AlphaPoint) {
		t.Errorf("%d of %d untouched points are called changed", all.wrong, all.still)
	}
	if 1000*all.found < 995*all.large || all.large < 100 {
		t.Errorf("%d of %d changes of the detectable size found", all.found, all.large)
	}
	if 10*all.open > all.runs {
		t.Errorf("%d of %d runs are open", all.open, all.runs)
	}
}

// A stage whose readings were copied from the one before does not show that
// nothing changed; a result from elsewhere has no readings to compare.
func TestCopiedStageIsOpen(t *testing.T) {
	in := stages()
	var copies []job.Reading
	for _, r := range in.Readings {
		if r.Setup != "S2" {
			copies = append(copies, r)
			r.Setup = "S2"
			copies = append(copies, r)
		}
	}
	in.Readings = copies
	before, _ := Run(in)
	in.Stage = "after"
	after, _ := Run(in)
	p := Compare(in.Points, before, after)
	if len(p.Notes) != 1 || !strings.Contains(p.Notes[0].Text, "copied") || !p.Points[4].Open || p.Points[4].Changed {
		t.Errorf("%+v %+v", p.Notes, p.Points[4])
	}
	after.located = nil
	if p := Compare(in.Points, before, after); len(p.Notes) != 1 || !p.Points[4].Open {
		t.Errorf("%+v", p.Notes)
	}
}
