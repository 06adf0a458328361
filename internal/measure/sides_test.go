package measure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// twoSides is a body of n pairs of twins, left ones first, and one point on the centre plane.
func twoSides(rng *rand.Rand, n int) ([]body.Point, []geom.Vec) {
	var left, right []body.Point
	var l, r []geom.Vec
	for i := range n {
		at := geom.Vec{4500 * rng.Float64(), -400 - 300*rng.Float64(), 700 * rng.Float64()}
		left = append(left, body.Point{ID: body.PointID(fmt.Sprintf("L%d", i)), Mirror: body.PointID(fmt.Sprintf("R%d", i)), Std: unit.Some(0.3)})
		right = append(right, body.Point{ID: body.PointID(fmt.Sprintf("R%d", i)), Mirror: body.PointID(fmt.Sprintf("L%d", i)), Std: unit.Some(0.3)})
		l, r = append(l, at), append(r, geom.Vec{at[0], -at[1], at[2]})
	}
	return append(append(left, right...), body.Point{ID: "M", Std: unit.Some(0.3)}), append(append(l, r...), geom.Vec{1000, 0, 300})
}

func sidesOf(rng *rand.Rand, points []body.Point, at []geom.Vec, std float64) Sides {
	in := Input{Points: points}
	for i := range at {
		for j := range i {
			in.Readings = append(in.Readings, spanReading("T", "length", points[i].ID, points[j].ID, at[i].Dist(at[j])+float64(std*rng.NormFloat64()), std))
		}
	}
	return CompareSides(in)
}

// Sound vehicles, built with the spread that is given: a pair differs once in a thousand.
// Every pair is compared once, and a length that is its own mirror image not at all.
func TestSoundSidesDoNotDiffer(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	differ, of := 0, 0
	for range 60 {
		points, at := twoSides(rng, 5)
		for i := range at {
			at[i] = at[i].Add(geom.Vec{0.3 * rng.NormFloat64(), 0.3 * rng.NormFloat64(), 0.3 * rng.NormFloat64()})
		}
		s := sidesOf(rng, points, at, 0.5)
		// 11 points, 55 lengths: the 5 from a point to its twin are their own image; 50 in 25 pairs
		if len(s.Pairs) != 25 || len(s.Alone) != 5 {
			t.Fatalf("%d pairs and %d alone of 55 lengths", len(s.Pairs), len(s.Alone))
		}
		for _, p := range s.Pairs {
			of++
			if p.Verdict == SidesDiffer {
				differ++
			}
		}
	}
	if differ > 6 { // 1.5 expected; more than 6 once in a thousand (Poisson)
		t.Errorf("%d of %d pairs differ", differ, of)
	}
}

// Damage that is alike on both sides shows nowhere, and nothing is said that it would have to
// take back: no verdict permits, whatever the sides look like.
func TestSymmetricDamageIsNoProof(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 2))
	points, at := twoSides(rng, 5)
	for _, i := range []int{1, 2} {
		d := geom.Vec{-25, 8, 12}
		at[i], at[5+i] = at[i].Add(d), at[5+i].Add(geom.Vec{d[0], -d[1], d[2]})
	}
	s := sidesOf(rng, points, at, 0.1)
	for _, p := range s.Pairs {
		if p.Verdict != SidesNotTold {
			t.Errorf("%s–%s: %v", p.One.From, p.One.To, p.Verdict)
		}
	}
	if !slices.ContainsFunc(s.Notes, diag.Note.Blocks) {
		t.Error("nothing blocks")
	}
}

// A point of one side that went by what is told to show is told four times of five or more.
func TestDamageOfOneSideShows(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	found, of := 0, 400
	for range of {
		points := []body.Point{{ID: "A", Mirror: "B"}, {ID: "B", Mirror: "A"}, {ID: "C", Mirror: "D"}, {ID: "D", Mirror: "C"}}
		in := Input{Points: points, Symmetry: 0.4}
		u := math.Sqrt(0.5*0.5 + 0.7*0.7 + 2*0.4*0.4)
		d := 900 + float64(u*rng.NormFloat64()) + 4.1322*u
		in.Readings = append(in.Readings, spanReading("T", "length", "A", "C", d, 0.5), spanReading("T", "length", "D", "B", 900, 0.7))
		p := CompareSides(in).Pairs[0]
		if math.Abs(p.StdMM-u) > 1e-7 || math.Abs(p.Detectable-4.1322*u) > 1e-3 {
			t.Fatalf("%+v, want ± %v", p, u)
		}
		if p.Verdict == SidesDiffer {
			found++
		}
	}
	if found < of*8/10-5*8 || found > of*8/10+5*8 { // five standard deviations of a count of four in five
		t.Errorf("%d of %d found", found, of)
	}
}

// What is not known, not level or not there gives no verdict; several readings count by their weight.
func TestSidesByHand(t *testing.T) {
	twins := []body.Point{{ID: "A", Mirror: "B"}, {ID: "B", Mirror: "A"}, {ID: "C", Mirror: "D"}, {ID: "D", Mirror: "C"}}
	in := Input{Points: twins, Symmetry: 0.4}
	in.Readings = append(in.Readings, spanReading("T", "length", "A", "C", 903, 0.5), spanReading("T", "length", "C", "A", 903.9, 1), spanReading("T", "length", "B", "D", 900, 0.5),
		spanReading("T", "height", "A", "C", 5, 0.5), spanReading("T", "height", "D", "B", 5, 0.5), spanReading("T", "length", "A", "B", 1200, 0.5))
	s := CompareSides(in)
	if len(s.Pairs) != 2 || len(s.Alone) != 1 || s.Alone[0].To != "B" {
		t.Fatalf("%+v", s)
	}
	// weights 4 and 1
	if p := s.Pairs[0]; math.Abs(p.One.MeasuredMM-(4*903+903.9)/5) > 1e-7 || math.Abs(p.DiffMM-3.18) > 1e-7 || math.Abs(p.StdMM-math.Sqrt(0.2+0.25+0.32)) > 1e-7 || p.Verdict != SidesDiffer {
		t.Errorf("%+v", p)
	}
	if p := s.Pairs[1]; p.Verdict != SidesOpen || p.DiffMM != 10 || p.Other.From != "B" || !strings.Contains(p.Because, "how level") {
		t.Errorf("%+v", p)
	}
	in.Symmetry = 0
	if p := CompareSides(in).Pairs[0]; p.Verdict != SidesOpen || p.StdMM != 0 || p.Because != "it is not known how alike the two sides are built" {
		t.Errorf("%+v", p)
	}
	for i := range in.Points {
		in.Points[i].Std = unit.Some(0.1 * float64(i+1))
	}
	if p := CompareSides(in).Pairs[0]; math.Abs(p.StdMM-math.Sqrt(0.2+0.25+0.01+0.04+0.09+0.16)) > 1e-7 {
		t.Errorf("with a spread of its own: %+v", p)
	}
}
