package mesh

// vectors says that the processor and the system know AVX.
var vectors = hasAVX()

func hasAVX() bool

// ray8 gives where the ray enters each box of n, 0 from inside, and one bit for
// each that it meets before the limit.
//
//go:noescape
func ray8(n *wideNode, q *rayQuery, dist *[8]float32) (mask uint32)

// hit8 gives one bit for each face of b whose planes do not show that the ray
// misses it. Bits of places without a face mean nothing.
//
//go:noescape
func hit8(b *facePlanes, q *planeRay) (mask uint32)
