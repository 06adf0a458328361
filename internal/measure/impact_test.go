package measure

import (
	"testing"

	"fettle/internal/geom"
	"fettle/internal/job"
)

// halves are a vehicle whose rear lost its form: left and right half each went as one.
// still is the part that stood: "front", or the right half of the rear where front and
// left half moved.
func halves(seed uint64, still string) *car {
	c := newCar(26+int(seed%9), seed)
	order := c.alongX()
	cut := len(order) * 6 / 10
	var left, right []int
	for _, i := range order[cut:] {
		if c.at[i][1] < 0 {
			left = append(left, i)
		} else {
			right = append(right, i)
		}
	}
	c.moveTogether(left, 12+float64(seed%10))
	if still == "front" {
		c.moveTogether(right, 10+float64(seed*7%13))
	} else {
		c.moveTogether(order[:cut], 10+float64(seed*7%13))
	}
	return c
}

// The impact hit both halves of an end that lost its form: with it the front has stood,
// and nearly every point is firm; without it nothing says so. One recorded at the other
// end, or at a side, does not decide. Constructed.
func TestImpactHitsBothHalvesOfAnEndSeeds1(t *testing.T) {
	const runs = 12
	for _, c := range []struct {
		impact  string
		decided int // at least, of the runs
	}{{"rear", runs - 2}, {"unknown", 0}, {"front", 0}, {"left", 0}, {"right", 0}} {
		decided, firm, all := 0, 0, 0
		for seed := uint64(1); seed <= runs; seed++ {
			car := halves(seed, "front")
			in := car.measure(0.5)
			in.Impact = job.ImpactSide(c.impact)
			r, _ := Run(in)
			if bad := firmAndWrong(car, r); len(bad) > 0 {
				t.Errorf("impact %s, seed %d: firm and wrong: %v", c.impact, seed, bad)
			}
			if h, _ := r.Best(); !r.Ambiguous && h.Datum == "impact" {
				decided++
			}
			firm, all = firm+firmPoints(r), all+len(car.at)
		}
		if decided < c.decided || c.decided == 0 && 10*firm > all || c.decided > 0 && 10*firm < 7*all {
			t.Errorf("impact %s: %d of %d decided, %d of %d points firm", c.impact, decided, runs, firm, all)
		}
	}
}

// A middle between two moved ends is not beside the end that was hit, wherever single
// points lie, and where what is left holds half of the points or fewer two halves of the
// end that was hit are no evidence for it.
func TestImpactBesideTheHitEndSeeds1(t *testing.T) {
	for seed := uint64(1); seed <= 8; seed++ {
		c := newCar(24, seed)
		p := prepare(c.measure(0.5))
		p.in.Impact = "rear"
		e := p.locate()
		order := c.alongX()
		var front, mid, left, right geom.Set
		for rank, i := range order {
			switch {
			case rank < 8:
				front.Put(e.slot[i])
			case rank < 14 || rank == 17: // one of them among the points of the rear
				mid.Put(e.slot[i])
			case c.at[i][1] < 0:
				left.Put(e.slot[i])
			default:
				right.Put(e.slot[i])
			}
		}
		if hit := p.hitBlocks(e, []geom.Set{front, mid, left, right}); len(hit) != 2 || hit[0]+hit[1] != 5 {
			t.Errorf("seed %d: hit %v, want the two halves of the rear", seed, hit)
		}
		rear := left
		rear.Join(&right)
		if hit := p.hitBlocks(e, []geom.Set{front, mid, rear}); len(hit) != 1 || hit[0] != 2 {
			t.Errorf("seed %d: hit %v, want the rear alone", seed, hit)
		}
		few := p.candidates(front, left, right)
		ch := choice{reference: -1, impact: -1}
		if kept := p.leftByImpact(e, few, &ch); kept != nil {
			t.Errorf("seed %d: 8 of 24 points are chosen by the impact: %v", seed, kept)
		}
	}
}

// candidates are hypotheses that hold nothing but their steady block.
func (p *problem) candidates(sets ...geom.Set) []*candidate {
	var out []*candidate
	for k := range sets {
		out = append(out, &candidate{steady: sets[k]})
	}
	return out
}
