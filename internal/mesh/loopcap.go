package mesh

import (
	"math"

	"fettle/internal/geom"
)

// capPoints is how many points of a loop the search for the smallest cut face
// takes: its time grows with their cube, and 300 take some 20 ms.
const capPoints = 300

// capVolume is the volume of the cone from the origin to the smallest surface
// that triangles between points of a closed loop make, and the area of that
// surface: exact for a flat loop without holes, and across a thin wall the strip
// between its two faces. Of a loop of many points every so many are taken, and
// the corners cut off by that are filled with fans.
//
// Source: G. Barequet, M. Sharir, Filling gaps in the boundary of a
// polyhedron, 1995 (dynamic programming over the parts of the loop).
func capVolume(loop []geom.Vec) (volume, areaMM2 float64) {
	sum, size := 0.0, 0.0
	cone := func(a, b, c geom.Vec) {
		sum += a.Dot(b.Cross(c)) / 6
		size += b.Sub(a).Cross(c.Sub(a)).Norm() / 2
	}
	step := (len(loop) + capPoints - 1) / capPoints
	var at []geom.Vec
	for i := 0; i < len(loop); i += step {
		at = append(at, loop[i])
		end := min(i+step, len(loop))
		for k := i + 1; k < end; k++ {
			cone(loop[i], loop[k], loop[(k+1)%len(loop)])
		}
	}
	n := len(at)
	area, split := make([][]float64, n), make([][]int, n) // of the part from i to k, and its corner between
	for i := range n {
		area[i], split[i] = make([]float64, n), make([]int, n)
	}
	for gap := 2; gap < n; gap++ {
		for i := 0; i+gap < n; i++ {
			k := i + gap
			area[i][k] = math.Inf(1)
			for j := i + 1; j < k; j++ {
				if a := area[i][j] + area[j][k] + at[j].Sub(at[i]).Cross(at[k].Sub(at[i])).Norm(); a < area[i][k] {
					area[i][k], split[i][k] = a, j
				}
			}
		}
	}
	for todo := [][2]int{{0, n - 1}}; len(todo) > 0; {
		i, k := todo[len(todo)-1][0], todo[len(todo)-1][1]
		todo = todo[:len(todo)-1]
		if k-i < 2 {
			continue
		}
		j := split[i][k]
		cone(at[i], at[j], at[k])
		todo = append(todo, [2]int{i, j}, [2]int{j, k})
	}
	return sum, size
}
