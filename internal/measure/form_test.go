package measure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// tapedBetween is points with the lengths between the pairs that are asked for, from where
// they stand now.
func tapedBetween(nominal, now []geom.Vec, std float64, read func(i, j int) bool) Input {
	in := Input{Impact: "unknown"}
	for i, v := range nominal {
		p := radialPoint(string(rune('A'+i)), v, 3)
		p.Std = unit.Some(0.2)
		in.Points = append(in.Points, p)
	}
	for i := range now {
		for j := range i {
			if read(i, j) {
				in.Readings = append(in.Readings, spanReading("T", "length", in.Points[j].ID, in.Points[i].ID, now[i].Dist(now[j]), std))
			}
		}
	}
	return in
}

// Front of five points and rear of six, all lengths within each, and five from one to the
// other, whatever the order of the points: the rear gets places, the front is told to be free.
// A sixth length ties them together.
func TestLargestRigidGroupGetsPlaces(t *testing.T) {
	at := []geom.Vec{{0, -500, 300}, {3000, -600, 200}, {100, 520, 340}, {3100, 600, 260}, {500, -480, 800}, {4000, -500, 400},
		{600, 470, 830}, {4100, 540, 380}, {900, -30, 310}, {3500, 10, 700}, {4500, 600, 900}}
	front := func(i int) bool { return at[i][0] < 1000 }
	for _, ties := range []int{5, 6} {
		n := 0
		in := tapedBetween(at, at, 0.3, func(i, j int) bool {
			if front(i) == front(j) {
				return true
			}
			a, b := i, j
			if front(b) {
				a, b = b, a
			}
			// no two ties share both ends
			for k, x := range [][2]int{{0, 1}, {2, 3}, {4, 5}, {6, 7}, {8, 9}, {0, 10}} {
				if k < ties && x == [2]int{a, b} {
					n++
					return true
				}
			}
			return false
		})
		r, _ := Run(in)
		if n != ties || r.Form == nil {
			t.Fatalf("%d ties, %+v", n, r.Form)
		}
		if ties == 6 {
			if r.Form.Points < 6 || r.Form.Rank != r.Form.Unknowns {
				t.Errorf("with six ties: %+v", r.Form)
			}
			continue
		}
		want := Form{Points: 6, Lengths: 15, Unknowns: 12, Rank: 12}
		if f := r.Form; f.Points != want.Points || f.Lengths != want.Lengths || f.Unknowns != want.Unknowns || f.Rank != want.Rank || !(f.Least > 0) || len(f.Left) != 5 {
			t.Errorf("%+v", f)
		}
		for _, l := range r.Form.Left {
			if i := int(l.ID[0] - 'A'); !front(i) || l.Because != "the lengths leave it free to move against the others" {
				t.Errorf("%+v", l)
			}
		}
	}
}

// Points in one plane with every length read: out of the plane each may go, and nothing is
// said of any. With heights that lift them a little it stays so, until the form is held.
func TestFlatNetworksSayNothing(t *testing.T) {
	places := 0
	for _, h := range []float64{0, 1, 5, 20, 400} {
		var at []geom.Vec
		for i := range 8 {
			at = append(at, geom.Vec{600 * float64(i/2), 1000 * (float64(i%2) - 0.5), h * float64((i*i)%5%3)})
		}
		r, _ := Run(tapedBetween(at, at, 0.5, func(i, j int) bool { return true }))
		best, ok := r.Best()
		if h == 0 && (ok || len(r.Form.Left) != 8 || r.Form.Least != 0) {
			t.Errorf("flat: %+v, %d points", r.Form, len(best.Points))
		}
		for _, p := range best.Points {
			places++
			if u := p.ExpandedMM.Norm(); u > 60 {
				t.Errorf("height %v: %s has a place, ± %.0f mm", h, p.ID, u)
			}
		}
	}
	if places < 8 {
		t.Errorf("%d places, also where the form is held", places)
	}
}

// A point that lies mirrored, with every length as published: it is not certain that it has
// not moved, nor of a group behind three points that lies mirrored in their plane.
func TestMirroredPlacesAreNeverCertain(t *testing.T) {
	at := []geom.Vec{{0, -600, 0}, {0, 600, 50}, {1500, -600, 100}, {1500, 640, 0}, {700, 0, 900}, {800, -100, -350}}
	near := []int{0, 1, 2} // what F is measured from
	normal := at[1].Sub(at[0]).Cross(at[2].Sub(at[0])).Unit()
	mirror := func(v geom.Vec) geom.Vec { return v.Sub(normal.Scale(2 * normal.Dot(v.Sub(at[0])))) }
	now := slices.Clone(at)
	now[5] = mirror(at[5])
	r, _ := Run(tapedBetween(at, now, 0.3, func(i, j int) bool { return i < 5 || slices.Contains(near, j) }))
	h, _ := r.Best()
	p, there := h.Point("F")
	if !there || p.Moved || p.Firm {
		t.Errorf("the mirrored point: %v %+v", there, p)
	}
	if k := slices.IndexFunc(r.Form.Folds, func(f Fold) bool { return slices.Equal(f.Points, []body.PointID{"F"}) }); k < 0 || math.Abs(r.Form.Folds[k].ByMM-at[5].Dist(now[5])) > 5 {
		t.Errorf("folds %+v, want F by %.0f", r.Form.Folds, at[5].Dist(now[5]))
	}
	// two more beside F, tied to one another and to the same three
	at = append(at, geom.Vec{300, 200, -300}, geom.Vec{500, -200, -420})
	now = slices.Clone(at)
	for i := 5; i < 8; i++ {
		now[i] = mirror(at[i])
	}
	r, _ = Run(tapedBetween(at, now, 0.3, func(i, j int) bool { return i < 5 || j >= 5 || slices.Contains(near, j) }))
	h, _ = r.Best()
	for _, id := range []body.PointID{"F", "G", "H"} {
		if p, there := h.Point(id); !there || p.Firm {
			t.Errorf("%s of the mirrored group: %v %+v", id, there, p)
		}
	}
	if !slices.ContainsFunc(r.Form.Folds, func(f Fold) bool { return slices.Contains(f.Points, "G") }) {
		t.Errorf("folds %+v", r.Form.Folds)
	}
}

// Heights alone have no form: what is left out is said, with its reason.
func TestWhatLengthsDoNotHoldIsTold(t *testing.T) {
	at := []geom.Vec{{0, -600, 0}, {0, 600, 50}, {1500, -600, 100}, {1500, 640, 0}, {700, 0, 900}, {800, -100, -350}}
	in := tapedBetween(at, at, 0.3, func(i, j int) bool { return i < 5 || j < 2 })
	in.Readings = append(in.Readings, spanReading("T", "height", "A", "B", -50, 0.3))
	r, _ := Run(in)
	if len(r.Form.Left) != 1 || r.Form.Left[0] != (Unheld{"F", "fewer than three lengths hold it"}) {
		t.Errorf("%+v", r.Form.Left)
	}
	said := false
	for _, n := range r.Notes {
		said = said || strings.HasPrefix(n.Text, "1 heights take no part in the form")
	}
	if !said {
		t.Errorf("nothing is said of the height: %+v", r.Notes)
	}
	// hardly above the plane of the three points that it was measured from
	at[5] = at[0].Add(at[1].Sub(at[0]).Scale(0.4)).Add(at[2].Sub(at[0]).Scale(0.3)).Add(geom.Vec{0, 0, 5})
	r, _ = Run(tapedBetween(at, at, 0.3, func(i, j int) bool { return i < 5 || j < 3 }))
	if len(r.Form.Left) != 1 || r.Form.Left[0].ID != "F" || !strings.HasPrefix(r.Form.Left[0].Because, "the lengths hold it too loosely (± ") {
		t.Errorf("%+v", r.Form)
	}
}

// The worst that can be thought of for "certain": few lengths between points that lie nearly
// in a plane, of which one is mirrored, one is pressed through, a group went as one, both sides
// went alike, or one reading is wrong, with gauges of unequal uncertainty. Nothing firm is wrong.
func TestSparseNetworksAreNeverFirmAndWrong(t *testing.T) {
	firm, of := 0, draws(120, 2000)
	for seed := uint64(1); seed <= uint64(of); seed++ {
		c := newCar(7+int(seed%6), seed)
		flat := []float64{1, 0.3, 0.1}[seed%3]
		for i := range c.at {
			c.at[i][2] *= flat
		}
		n := len(c.at)
		switch seed / 3 % 6 {
		case 0: // one point through the plane of all
			i := int(seed) % n
			c.shift[i][2] = 2 * (150*flat - c.at[i][2])
		case 1:
			c.moveAlone(2, 30)
		case 2:
			c.moveRear(0.5, 15)
		case 3: // the same on both sides
			for _, i := range []int{0, 1} {
				c.shift[i] = geom.Vec{-20, float64(1-2*i) * 10, 8}
			}
		}
		in := taped(c, 3*n-6+int(seed/18%6))
		for k := range in.Readings {
			u := []float64{0.2, 0.5, 3}[c.rng.IntN(3)]
			in.Readings[k].Std.Value = u
			in.Readings[k].Value.Value += float64((u - 0.5) * c.rng.NormFloat64())
		}
		if seed/3%6 == 4 && len(in.Readings) > 0 {
			in.Readings[c.rng.IntN(len(in.Readings))].Value.Value += 40
		}
		r, _ := Run(in)
		if firmElsewhere(c, in, r) > 0 {
			t.Errorf("seed %d: firm and wrong", seed)
		}
		firm += firmPoints(r)
	}
	t.Logf("%d points firm in %d runs", firm, of)
}
