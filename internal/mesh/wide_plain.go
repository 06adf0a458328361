package mesh

// near8Plain is what near8 has to give, to the bit.
func near8Plain(n *wideNode, q *nearQuery, dist *[8]float32) (mask uint32) {
	for i := range 8 {
		var sum float32
		for k := range 3 {
			d := max(n.bound[2*k][i]-q.to[k], q.from[k]-n.bound[2*k+1][i], 0)
			sum += float32(d * d)
		}
		if dist[i] = sum; sum <= q.limit {
			mask |= 1 << i
		}
	}
	return mask
}

// ray8Plain is what ray8 has to give, to the bit.
func ray8Plain(n *wideNode, q *rayQuery, dist *[8]float32) (mask uint32) {
	for i := range 8 {
		in, out := float32(0), q.limit
		for k := range 3 {
			in = max(in, (n.bound[q.in[k]/32][i]-q.inFrom[k])*q.inverse[k])
			out = min(out, (n.bound[q.out[k]/32][i]-q.outFrom[k])*q.inverse[k])
		}
		if dist[i] = in; in <= out*q.slack {
			mask |= 1 << i
		}
	}
	return mask
}
