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

// planes8Plain is what planes8 has to give, to the bit.
func planes8Plain(b *facePlanes, q *planeQuery, least *[8]float32) (found uint32) {
	nearest := 0
	var d2 [8]float32
	for i := range 8 {
		off := func(k int) float32 {
			return float32(float32(float32(b[k][i]*q.at[0])+float32(b[k+1][i]*q.at[1]))+float32(b[k+2][i]*q.at[2])) - b[k+3][i]
		}
		a, s := off(0), max(off(4), off(8), off(12), 0)
		d2[i] = float32(a*a) + float32(s*s)
		if d2[i] <= q.limit {
			found |= 1 << i
		}
		if d2[i] < d2[nearest] {
			nearest = i
		}
	}
	if found == 0 {
		return 0
	}
	*least = d2
	return found | uint32(nearest)<<8
}

// scan64Plain is what scan64 has to give.
func scan64Plain(c *closeBlocks, q *scanQuery, planes []facePlanes, list *[64]int32) (n int) {
	var dist, least [8]float32
	flat := planeQuery{at: q.at, limit: q.limit}
	for i := range c.n / 8 {
		w := wideNode{bound: c.bound[i]}
		mask := near8Plain(&w, &q.nearQuery, &dist)
		for k := range 8 {
			block := c.run[8*i+k]
			if mask>>k&1 != 0 && block != q.but && planes8Plain(&planes[block], &flat, &least) != 0 {
				list[n] = block
				n++
			}
		}
	}
	return n
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
