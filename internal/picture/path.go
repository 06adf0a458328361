package picture

import (
	"math"

	"fettle/internal/geom"
)

// Samples are points along a path, at most stepMM apart, ends included.
func Samples(path []geom.Vec, stepMM float64) []geom.Vec {
	if len(path) == 0 {
		return nil
	}
	out := []geom.Vec{path[0]}
	for i := 1; i < len(path); i++ {
		n := max(int(math.Ceil(path[i-1].Dist(path[i])/stepMM)), 1)
		for k := 1; k <= n; k++ {
			out = append(out, path[i-1].Lerp(path[i], float64(k)/float64(n)))
		}
	}
	return out
}

// Share is how much of a path is seen in a view, from 0 to 1.
func (dm *DepthMap) Share(path []geom.Vec, slackMM float64) float64 {
	pts := Samples(path, 2)
	if len(pts) == 0 {
		return 0
	}
	n := 0
	for _, p := range pts {
		if dm.Seen(p, slackMM) {
			n++
		}
	}
	return float64(n) / float64(len(pts))
}

// Middle is the point half way along a path.
func Middle(path []geom.Vec) geom.Vec {
	if len(path) == 1 {
		return path[0]
	}
	total := 0.0
	for i := 1; i < len(path); i++ {
		total += path[i-1].Dist(path[i])
	}
	left := total / 2
	for i := 1; i < len(path); i++ {
		if d := path[i-1].Dist(path[i]); d > 0 && left <= d {
			return path[i-1].Lerp(path[i], left/d)
		} else {
			left -= d
		}
	}
	return path[len(path)-1]
}

// Extent is the largest distance of two points of a path.
func Extent(path []geom.Vec) float64 {
	e := 0.0
	for i := range path {
		for j := i + 1; j < len(path); j++ {
			e = max(e, path[i].Dist(path[j]))
		}
	}
	return e
}
