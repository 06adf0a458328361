package geom

import (
	"math"
	"slices"
)

// Extent is the middle of a cloud of points and its size along each axis, from
// the middle values of the coordinates: one point far away, or nearly half of
// all points, changes them little.
//
// Formula: middle = median, size = the lesser of the box and four times the
// median distance from the middle, which is the length of a cloud that is evenly
// spread. A cloud in two heaps gets its box.
func Extent(points []Vec) (middle, size Vec) {
	if len(points) == 0 {
		return middle, size
	}
	v := make([]float64, len(points))
	for k := range middle {
		for i := range points {
			v[i] = points[i][k]
		}
		middle[k] = median(v)
		box := slices.Max(v) - slices.Min(v)
		for i := range v {
			v[i] = math.Abs(v[i] - middle[k])
		}
		size[k] = math.Min(box, 4*median(v))
	}
	return middle, size
}

// median is the middle value, of an even number the mean of both; v is sorted.
func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	return v[(n-1)/2] + (v[n/2]-v[(n-1)/2])/2
}

// none is the place of what is not there.
const none = -1
