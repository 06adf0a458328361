package mesh

// vectors says that the processor and the system know AVX.
var vectors = hasAVX()

func hasAVX() bool

// near8 gives the square of the distance from the point to each box of n, and
// one bit for each that is within the limit.
//
//go:noescape
func near8(n *wideNode, q *nearQuery, dist *[8]float32) (mask uint32)

// ray8 gives where the ray enters each box of n, 0 from inside, and one bit for
// each that it meets before the limit.
//
//go:noescape
func ray8(n *wideNode, q *rayQuery, dist *[8]float32) (mask uint32)
