package mesh

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What the machine does four numbers at a time is what plain Go does: the same
// boxes in the same order, the same sums, for any number of boxes.
func TestTreeBuildingMatchesPlainGo(t *testing.T) {
	r := rand.New(rand.NewPCG(14, 50))
	for n := range 70 {
		for axis := range 3 {
			boxes := make([]boxed, n+1)
			for i := range boxes {
				boxes[i].id = int32(i)
				for k := range 3 {
					boxes[i].lo[k] = r.Int32N(1<<r.IntN(29)+1) - r.Int32N(1<<10)
					boxes[i].hi[k] = boxes[i].lo[k] + r.Int32N(1<<10)
				}
			}
			want, plane := append([]boxed(nil), boxes...), r.Int32N(1<<28)
			parts := [4]part{}
			for i := range parts {
				parts[i].all, parts[i].mid = emptySpan(), emptySpan()
			}
			x := partBoxesPlain(want, axis, plane, &parts[0], &parts[1])
			y := partBoxes(boxes, axis, plane, &parts[2], &parts[3])
			if x != y || !sameBoxes(want, boxes) || !sameSpan(&parts[0].all, &parts[2].all) || !sameSpan(&parts[1].all, &parts[3].all) ||
				!sameSpan(&parts[0].mid, &parts[2].mid) || !sameSpan(&parts[1].mid, &parts[3].mid) {
				t.Fatalf("%d boxes, axis %d: %d and %d in front\n%v\n%v", n+1, axis, x, y, parts[:2], parts[2:])
			}
			for i := range boxes {
				if (boxes[i].centre2(axis) < plane) != (i < y) {
					t.Fatalf("%d boxes, axis %d: box %d of %d in front", n+1, axis, i, y)
				}
			}
			var bins [2][sahBins]span
			var count [2][sahBins]int32
			for i := range bins[0] {
				bins[0][i], bins[1][i] = emptySpan(), emptySpan()
			}
			mid, step := emptySpan(), 1+r.IntN(3)
			for i := range boxes {
				mid.addCentre(&boxes[i])
			}
			of := mid.bins(axis, 1+r.IntN(sahBins))
			binBoxesPlain(boxes, step, axis, &of, &bins[0], &count[0])
			binBoxes(boxes, step, axis, &of, &bins[1], &count[1])
			for i := range bins[0] {
				if !sameSpan(&bins[0][i], &bins[1][i]) || count[0][i] != count[1][i] {
					t.Fatalf("%d boxes, axis %d, bin %d: %v and %v", n+1, axis, i, bins[0][i], bins[1][i])
				}
			}
		}
	}
}

func sameBoxes(a, b []boxed) bool {
	for i := range a {
		if a[i].lo != b[i].lo || a[i].hi != b[i].hi || a[i].id != b[i].id {
			return false
		}
	}
	return true
}

func sameSpan(a, b *span) bool {
	return [3]int32(a.lo[:3]) == [3]int32(b.lo[:3]) && [3]int32(a.hi[:3]) == [3]int32(b.hi[:3])
}

// Rounding outward by ranks is rounding to the neighbour, from the smallest numbers to
// beyond the largest.
func TestRoundOutward(t *testing.T) {
	r := rand.New(rand.NewPCG(14, 51))
	list := []float64{0, math.Copysign(0, -1), 1e-46, -1e-46, 1e-45, -1e-45, 1, -1, 1 + 1e-12, -1 - 1e-12, math.MaxFloat32, -math.MaxFloat32, 1e39, -1e39}
	for range 2000 {
		x := math.Ldexp(r.NormFloat64(), r.IntN(250)-150)
		list = append(list, x, float64(float32(x)))
	}
	for _, x := range list {
		lo, hi := roundDown(x), roundUp(x)
		if !(float64(lo) <= x && x <= float64(hi)) || math.Nextafter32(lo, hi) != hi {
			t.Errorf("%g is between %g and %g", x, lo, hi)
		}
	}
}
