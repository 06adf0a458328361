//go:build !amd64

package mesh

// vectors is false where there are none in use: the plain tree answers.
const vectors = false

func ray8(n *wideNode, q *rayQuery, dist *[8]float32) (mask uint32) {
	return ray8Plain(n, q, dist)
}

func hit8(b *facePlanes, q *planeRay) (mask uint32) { return hit8Plain(b, q) }
