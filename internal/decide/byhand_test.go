package decide

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// byHand is the same plate without its mesh: what lies where is said, and measured truly with the
// uncertainty of the traces. Every so often something is not measured.
func (p *plate) byHand(rng *rand.Rand, miss int) *plate {
	out := p.with(func(j *job.State, b *body.Body) {
		b.Castings = slices.Clone(b.Castings)
		c := &b.Castings[0]
		c.Mesh, c.Bores, c.Zones = "", nil, slices.Clone(c.Zones)
		for i := range c.Zones {
			c.Zones[i].Neighbours = []body.ZoneID{}
			for _, k := range []int{i - 1, i + 1} {
				if k >= 0 && k < len(c.Zones) {
					c.Zones[i].Neighbours = append(c.Zones[i].Neighbours, c.Zones[k].ID)
				}
			}
		}
		traced := slices.Clone(j.Findings)
		for i := range j.Findings {
			j.Findings[i].Trace, j.Findings[i].Std = nil, 0
			j.Findings[i].Zones, j.Findings[i].Measured = measuredOn(rng, miss, c.Zones, traced, i)
			if rng.IntN(2*miss) == 0 { // nobody says where it lies
				j.Findings[i].Zones = nil
			}
		}
	})
	out.vehicle = vehicle.New(out.in.Body, nil)
	return out
}

// measuredOn is what a tape shows of a straight crack along x on the plate: distances of segments
// in a plane.
func measuredOn(rng *rand.Rand, miss int, zones []body.Zone, all []job.Finding, i int) ([]body.ZoneID, []job.HandReading) {
	f := all[i]
	a, b := f.Trace[0], f.Trace[len(f.Trace)-1]
	band := int(a[1] / bandMM)
	var out []job.HandReading
	put := func(what job.ByHand, value float64, std unit.MM, to string) {
		if rng.IntN(miss) > 0 {
			out = append(out, job.HandReading{What: what, Value: unit.Some(unit.MM(value)), Std: std, To: to})
		}
	}
	put(job.HandLength, a.Dist(b), unit.MM(math.Sqrt2)*f.Std, "")
	border := math.Inf(1)
	for _, y := range []float64{bandMM * float64(band), bandMM * float64(band+1)} {
		if y > 0 && y < 100 {
			border = min(border, math.Abs(a[1]-y))
		}
	}
	put(job.HandBorder, border, f.Std, "")
	put(job.HandBore, geom.SegmentsDist(a, b, geom.Vec{180, 90, 0}, geom.Vec{180, 90, 0})-4, f.Std, "H1")
	next, to, std := math.Inf(1), "", unit.MM(0)
	for k, o := range all {
		if d := geom.SegmentsDist(a, b, o.Trace[0], o.Trace[len(o.Trace)-1]); k != i && d < next {
			next, to, std = d, string(o.ID), unit.MM(math.Hypot(float64(f.Std), float64(o.Std)))
		}
	}
	put(job.HandNext, next, std, to)
	return []body.ZoneID{zones[band].ID}, out
}

// nearOneAnother puts each crack behind the one before, about as far away as counts as one.
func nearOneAnother(p *plate, rng *rand.Rand) {
	rules := &p.in.Body.Procedures[0]
	delete(rules.Rows[1].When, "spacing")
	x, y := 5.0, 10+float64(rng.IntN(2))*bandMM
	for i := range p.in.Job.Findings {
		f := &p.in.Job.Findings[i]
		l := 3 + 22*rng.Float64()
		f.Trace = []geom.Vec{{x, y, 0}, {x + l, y, 0}}
		x += l + float64(float64(2*rules.GroupGap)*rng.Float64()) + 0.5
	}
}

// TestByHandNeverPermitsMore: drawn jobs once with the mesh and traces, and once measured by hand
// without either. By hand nothing is allowed that the mesh does not allow; and something is.
func TestByHandNeverPermitsMore(t *testing.T) {
	both, hand := 0, 0
	for seed := range uint64(draws(400, 1000)) {
		rng := rand.New(rand.NewPCG(18, seed))
		p := lawJob(t, rng)
		if rng.IntN(2) == 0 {
			nearOneAnother(p, rng)
		}
		with := p.decide().allowed()
		h := p.byHand(rng, 12)
		d := h.decide()
		without := d.allowed()
		if what := won(with, without); what != "" {
			t.Fatalf("seed %d: by hand %s is allowed, with the mesh it is not\n%+v\nfindings %+v\nmeasured %+v", seed, what, p.in.Body.Procedures[0], p.in.Job.Findings, h.in.Job.Findings)
		}
		for id := range with {
			both += len(with[id])
			hand += len(without[id])
		}
	}
	if hand < both/4 {
		t.Errorf("by hand %d treatments were allowed of %d: the law was hardly tried", hand, both)
	}
}
