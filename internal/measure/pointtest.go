package measure

import (
	"math"

	"fettle/internal/geom"
)

// PointTest is the test "moved or not" of every point of a vehicle.
type PointTest struct {
	// FalseAlarm is the probability that any point at all of a vehicle is called
	// moved although none has, the steady block being right.
	FalseAlarm float64 `json:"falseAlarm"`
	// MovedAboveT2 is the value of T2 above which a point is called moved.
	MovedAboveT2 float64 `json:"movedAboveT2"`
	// Power is the probability with which a shift of detectableMm is found.
	Power float64 `json:"power"`
	// Noncentrality is (detectableMm / largest semi-axis of the covariance)^2;
	// for a steady point that of its place against the other steady points.
	Noncentrality float64 `json:"noncentrality"`
}

const (
	// falseAlarm is that of the whole vehicle: one in a thousand.
	falseAlarm = 0.001
	// power is high so that a shift said to be detectable is found in fact; the
	// customary 80 % would miss one in five.
	power = 0.999
)

// newPointTest is the test of n points. Every point gets its share of the false
// alarm rate, falseAlarm/n (Bonferroni's inequality, which holds however the
// points depend on one another): 21.1 for 10 points, 23.4 for 30, 24.8 for 60,
// chi-square with 3 degrees of freedom.
func newPointTest(n int) PointTest {
	alpha := falseAlarm / math.Max(1, float64(n))
	return PointTest{
		FalseAlarm: falseAlarm, Power: power,
		MovedAboveT2: geom.ChiSquareQuantile(alpha, 3), Noncentrality: geom.Noncentrality3(alpha, power),
	}
}

// pointTest is newPointTest, kept for the next hypothesis.
func (p *problem) pointTest(n int) PointTest {
	if p.tested != n {
		p.tested, p.test = n, newPointTest(n)
	}
	return p.test
}
