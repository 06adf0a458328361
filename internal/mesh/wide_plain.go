package mesh

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

// hit8Plain is what hit8 has to give, to the bit.
func hit8Plain(b *facePlanes, q *planeRay) (mask uint32) {
	for i := range 8 {
		off := func(k int, x, y, z float32) float32 {
			return float32(float32(float32(b[k][i]*x)+float32(b[k+1][i]*y))+float32(b[k+2][i]*z)) - b[k+3][i]
		}
		over := q.one / (float32(float32(b[0][i]*q.dir[0])+float32(b[1][i]*q.dir[1])) + float32(b[2][i]*q.dir[2]))
		back := off(0, q.at[0], q.at[1], q.at[2]) * over
		slack := float32(max(0-over, over)*q.slack) + q.slack
		x, y, z := q.at[0]-float32(back*q.dir[0]), q.at[1]-float32(back*q.dir[1]), q.at[2]-float32(back*q.dir[2])
		// for what is not a number no comparison holds
		beyond := off(4, x, y, z) > slack || off(8, x, y, z) > slack || off(12, x, y, z) > slack
		if !(beyond || back > slack-q.from || (0-q.to)-slack > back) {
			mask |= 1 << i
		}
	}
	return mask
}
