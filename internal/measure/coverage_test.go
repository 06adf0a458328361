package measure

import (
	"math"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// readBy makes the readings of the listed points in one more set-up.
func (c *car) readBy(in *Input, setup string, points []int, std float64) {
	m := geom.Rigid{R: geom.FromRotationVector(c.gauss().Unit().Scale(2)), T: c.gauss().Scale(500)}
	for _, i := range points {
		in.Readings = append(in.Readings, xyz(setup, in.Points[i].ID, m.Apply(c.at[i].Add(c.shift[i])).Add(c.gauss().Scale(std)), std))
	}
}

// built is a car whose points were built off their nominal places by s0.
func built(n int, seed uint64, s0 float64) (c *car, nominal []geom.Vec) {
	c = newCar(n, seed)
	nominal = append(nominal, c.at...)
	for i := range c.at {
		c.at[i] = c.at[i].Add(c.gauss().Scale(s0))
	}
	return c, nominal
}

// publish gives the points their nominal places and their spread.
func publish(in *Input, nominal []geom.Vec, s0 float64) {
	for i := range in.Points {
		in.Points[i].X, in.Points[i].Y, in.Points[i].Z = nominal[i][0], nominal[i][1], nominal[i][2]
		in.Points[i].Std = unit.Some(s0)
	}
}

func fromTo(from, to int) []int {
	var out []int
	for i := from; i < to; i++ {
		out = append(out, i)
	}
	return out
}

// The 95 % intervals of mash, sidesway and sag at both ends of a section that
// moved as one hold the true motion in 93 to 97 % of statements: with one set-up,
// and with two that have only a fifth of their points in common, whose points
// share the error of the link. Constructed; seeds in the loop.
func TestSectionIntervalsHold(t *testing.T) {
	for _, setups := range []string{"one", "two that overlap little"} {
		inside, all, of := 0, 0, draws(32, 240)
		for seed := uint64(1); seed <= uint64(of); seed++ {
			n, u, s0 := 15+int(seed%16), []float64{0.15, 0.6}[seed%2], []float64{0, 0.3, 1}[seed%3]
			c, nominal := built(n, seed*7919, s0)
			c.moveRear(0.35, 15)
			in := c.measure(u)
			if setups != "one" {
				in.Readings = append([]job.Reading(nil), in.Readings[:n*3/5]...)
				c.readBy(&in, "S2", fromTo(n*2/5, n), u)
			}
			in.Impact = "rear"
			publish(&in, nominal, s0)
			r, _ := Run(in)
			if h, ok := r.Best(); ok && !r.Ambiguous && len(h.Sections) == 1 {
				a, b := c.intervals(h.Sections[0])
				inside, all = inside+a, all+b
			}
		}
		within := 2 * math.Sqrt(240/float64(of)) // of fewer vehicles the share is less sure
		if share := pc(inside, all); math.Abs(share-95) > within || all < 5*of {
			t.Errorf("%s: %.1f %% of %d intervals hold", setups, share, all)
		} else {
			t.Logf("%s: %.1f %% of %d", setups, share, all)
		}
	}
}

// intervals counts the 95 % intervals of a section that hold the true motion of
// the moved points.
func (c *car) intervals(s Section) (inside, all int) {
	var from, to []geom.Vec
	for i := range c.at {
		if c.shift[i] != (geom.Vec{}) {
			from, to = append(from, c.at[i]), append(to, c.at[i].Add(c.shift[i]))
		}
	}
	f, err := geom.FitRigid(from, to, nil)
	if err != nil {
		return 0, 0
	}
	for _, st := range s.Stations {
		at := geom.Vec{st.XMM, s.AboutMM[1], s.AboutMM[2]}
		d := f.Motion.Apply(at).Sub(at)
		for k, v := range []Value{st.Mash, st.Sidesway, st.Sag} {
			all++
			if math.Abs(v.Value-d[k]) <= 1.96*v.Std {
				inside++
			}
		}
	}
	return inside, all
}

// Source: mash has the sign of the x axis, so that the same sign shortens the
// front and lengthens the rear: x points rearward.
func TestMashSaysLongerOrShorter(t *testing.T) {
	for _, k := range []struct {
		front bool
		mm    float64
		want  string
	}{{true, 12, "shortened"}, {true, -12, "lengthened"}, {false, 12, "lengthened"}, {false, -12, "shortened"}} {
		c := newCar(20, 5)
		for i := range c.at {
			if front := c.at[i][0] < 1600; front == k.front && (front || c.at[i][0] > 2900) {
				c.shift[i] = geom.Vec{k.mm, 0, 0}
			}
		}
		in := c.measure(0.2)
		in.Impact = map[bool]job.ImpactSide{true: "front", false: "rear"}[k.front]
		r, _ := Run(in)
		h, ok := r.Best()
		if !ok || len(h.Sections) != 1 {
			t.Fatalf("%+v: %d sections", k, len(h.Sections))
		}
		for _, s := range h.Sections[0].Stations {
			if s.MashMeans != k.want {
				t.Errorf("%+v: %q at %s", k, s.MashMeans, s.Of)
			}
		}
	}
	if mashMeans(Value{1, 0.6}, 1) != "" || mashMeans(Value{5, 0.1}, 0) != "" {
		t.Error("a mash within its uncertainty, or beside the steady block, has a sense")
	}
}
