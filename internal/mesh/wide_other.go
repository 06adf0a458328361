//go:build !amd64

package mesh

// vectors is false where there are none in use: the plain tree answers.
const vectors = false

func near8(n *wideNode, q *nearQuery, dist *[8]float32) (mask uint32) {
	return near8Plain(n, q, dist)
}

func ray8(n *wideNode, q *rayQuery, dist *[8]float32) (mask uint32) {
	return ray8Plain(n, q, dist)
}

func planes8(b *facePlanes, q *planeQuery, least *[8]float32) (found uint32) {
	return planes8Plain(b, q, least)
}

func scan64(c *closeBlocks, q *scanQuery, planes []facePlanes, list *[64]int32) (n int) {
	return scan64Plain(c, q, planes, list)
}

func hit8(b *facePlanes, q *planeRay) (mask uint32) { return hit8Plain(b, q) }
