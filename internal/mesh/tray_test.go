package mesh

import (
	"math"

	"fettle/internal/geom"
)

// The inputs of the comparison with other libraries: a counter-based generator
// (splitmix64; G. L. Steele, D. Lea, C. H. Flood, Fast splittable pseudorandom
// number generators, 2014) that the drivers in bench/peers share bit for bit,
// a thin-walled ribbed tray, and points scanned from it.

func splitmix(seed, i uint64) uint64 {
	z := seed + (i+1)*0x9E3779B97F4A7C15
	z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9
	z = (z ^ (z >> 27)) * 0x94D049BB133111EB
	return z ^ (z >> 31)
}

func uniform(seed, i uint64) float64 { return float64(splitmix(seed, i)>>11) * 0x1p-53 }

const trayX, trayY, trayWall = 1400., 1000., 4.

func trayHeight(x, y float64) float64 {
	a, b := (math.Mod(x, 100)-50)/10, (math.Mod(y, 125)-62.5)/10
	bx, by := math.Exp(-a*a), math.Exp(-b*b)
	return 60*math.Sin(math.Pi*x/trayX)*math.Sin(math.Pi*y/trayY) + 40*(bx+by-bx*by)
}

// trayMesh is a closed tray, 1400 x 1000 mm, 4 mm wall: 4 g^2 + 8 g triangles.
func trayMesh(g int) *Mesh {
	m := &Mesh{}
	for i := 0; i <= g; i++ {
		for j := 0; j <= g; j++ {
			x, y := trayX*float64(i)/float64(g), trayY*float64(j)/float64(g)
			m.Points = append(m.Points, geom.Vec{x, y, trayHeight(x, y)})
		}
	}
	n := int32(len(m.Points))
	for _, p := range m.Points[:n] {
		m.Points = append(m.Points, geom.Vec{p[0], p[1], p[2] - trayWall})
	}
	id := func(a, b int) int32 { return int32(a*(g+1) + b) }
	for half := range 2 {
		for a := range g {
			for b := range g {
				if half == 0 {
					m.Faces = append(m.Faces, [3]int32{id(a, b), id(a+1, b), id(a+1, b+1)})
				} else {
					m.Faces = append(m.Faces, [3]int32{id(a, b), id(a+1, b+1), id(a, b+1)})
				}
			}
		}
	}
	for _, f := range m.Faces[:len(m.Faces):len(m.Faces)] {
		m.Faces = append(m.Faces, [3]int32{f[2] + n, f[1] + n, f[0] + n})
	}
	var rim []int32
	for r := range g {
		rim = append(rim, id(r, 0))
	}
	for r := range g {
		rim = append(rim, id(g, r))
	}
	for r := range g {
		rim = append(rim, id(g-r, g))
	}
	for r := range g {
		rim = append(rim, id(0, g-r))
	}
	for k, p := range rim {
		q := rim[(k+1)%len(rim)]
		m.Faces = append(m.Faces, [3]int32{p, p + n, q + n}, [3]int32{p, q + n, q})
	}
	return m
}

// scanPoint is a point near the tray's upper side: 0.3 mm noise, 5 % moved
// 5 to 30 mm, 1 % anywhere.
func scanPoint(k uint64, g int, seed uint64) geom.Vec {
	var u [8]float64
	for q := range u {
		u[q] = uniform(seed, 8*k+uint64(q))
	}
	x, y, dx, dy := trayX*u[0], trayY*u[1], trayX/float64(g), trayY/float64(g)
	i, j := min(int(x/dx), g-1), min(int(y/dy), g-1)
	a, b := x/dx-float64(i), y/dy-float64(j)
	h := func(p, q int) float64 { return trayHeight(trayX*float64(p)/float64(g), trayY*float64(q)/float64(g)) }
	z00, z10, z11, z01 := h(i, j), h(i+1, j), h(i+1, j+1), h(i, j+1)
	zx, zy := z10-z00, z11-z10
	if b > a {
		zx, zy = z11-z01, z01-z00
	}
	z := z00 + a*zx + b*zy
	n := geom.Vec{-zx / dx, -zy / dy, 1}.Unit()
	d := 0.3 * math.Sqrt(-2*math.Log(1-u[2])) * math.Cos(2*math.Pi*u[3])
	if u[4] < 0.05 {
		d += 5 + 25*u[5]
	}
	if u[4] >= 0.99 {
		return geom.Vec{-100 + 1600*u[5], -100 + 1200*u[6], -100 + 300*u[7]}
	}
	return geom.Vec{x, y, z}.Add(n.Scale(d))
}

// cameraRay and randomRay are the rays of the comparison.
func cameraRay(k int) (o, d geom.Vec) {
	o = geom.Vec{200, -600, 1800}
	return o, geom.Vec{-200 + 1800*float64(k%1000)/1000, -200 + 1400*float64(k/1000)/1000, 0}.Sub(o)
}

func randomRay(k int) (o, d geom.Vec) {
	i := uint64(k)
	z, a := 2*uniform(5, 2*i)-1, 2*math.Pi*uniform(5, 2*i+1)
	s := math.Sqrt(1 - z*z)
	d = geom.Vec{s * math.Cos(a), s * math.Sin(a), z}
	return geom.Vec{1400 * uniform(6, 2*i), 1000 * uniform(6, 2*i+1), 40}.Sub(d.Scale(1500)), d
}
