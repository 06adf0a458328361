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
