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

// planes8 gives one bit for each face of b whose planes do not show that it is
// farther than the limit. If there are any, eight bits higher comes the number
// of the face that the planes put nearest, the first of several, and least is
// the square of the distance that they show for each.
//
//go:noescape
func planes8(b *facePlanes, q *planeQuery, least *[8]float32) (found uint32)

// scan64 lists the blocks of c whose box and some face of which may be within
// the limits of q.
//
//go:noescape
func scan64(c *closeBlocks, q *scanQuery, planes []facePlanes, list *[64]int32) (n int)

// hit8 gives one bit for each face of b whose planes do not show that the ray
// misses it. Bits of places without a face mean nothing.
//
//go:noescape
func hit8(b *facePlanes, q *planeRay) (mask uint32)
