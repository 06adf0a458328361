package job

import (
	"testing"

	"fettle/internal/unit"
)

// The uncertainty of a reading is clear when it has one, three or none: every way of giving
// std_mm, std_x_mm, std_y_mm and std_z_mm. A rim has one or none. Source: docs/formats/job.md.
func TestUncertaintyOfAReadingIsClear(t *testing.T) {
	for given := range 16 {
		std := func(k int) (out unit.Maybe[float64]) {
			if given&(1<<k) != 0 {
				out = unit.Some(0.2)
			}
			return out
		}
		for kind, clear := range map[string]bool{
			"xyz": given == 0 || given == 1 || given == 14,
			"rim": given == 0 || given == 1,
		} {
			r := Reading{Setup: "A", Kind: ReadingKind(kind), From: "P1", X: unit.Some(1.), Y: unit.Some(2.), Z: unit.Some(3.), Std: std(0), StdX: std(1), StdY: std(2), StdZ: std(3)}
			if ps := CheckReadings([]Reading{r}); (len(ps) == 0) != clear {
				t.Errorf("%s with std %v, of x, y, z %v %v %v: %v", kind, r.Std.Known, r.StdX.Known, r.StdY.Known, r.StdZ.Known, ps)
			}
		}
	}
}

// A coordinate is no further than any device reaches, on either side and in each of the three,
// and each of them is there.
func TestCoordinatesAreThereAndNear(t *testing.T) {
	for k := range 3 {
		for _, c := range []struct {
			value unit.Maybe[float64]
			good  bool
		}{{unit.Some(float64(farMM)), true}, {unit.Some(-float64(farMM)), true}, {unit.Some(float64(farMM) + 1), false}, {unit.Some(-float64(farMM) - 1), false}, {unit.Maybe[float64]{}, false}} {
			r := Reading{Setup: "A", Kind: "xyz", From: "P1", X: unit.Some(1.), Y: unit.Some(2.), Z: unit.Some(3.)}
			*[]*unit.Maybe[float64]{&r.X, &r.Y, &r.Z}[k] = c.value
			ch := checker{s: &State{}}
			if ch.xyz("", r); (len(ch.problems) == 0) != c.good {
				t.Errorf("coordinate %d is %+v: %v", k, c.value, ch.problems)
			}
		}
	}
}
