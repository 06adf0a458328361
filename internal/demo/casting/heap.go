package casting

// candidate is an edge that may be collapsed; a stamp that differs from the one
// of its vertex says that the entry is out of date.
type candidate struct {
	cost   float64
	u, v   int32
	su, sv uint32
}

func (a *candidate) before(b *candidate) bool {
	if a.cost != b.cost {
		return a.cost < b.cost
	}
	if a.u != b.u {
		return a.u < b.u
	}
	return a.v < b.v
}

// queue is a heap with four children per node, the cheapest candidate first.
type queue []candidate

func (q *queue) push(c candidate) {
	*q = append(*q, c)
	h := *q
	i := len(h) - 1
	for i > 0 {
		up := (i - 1) / 4
		if !c.before(&h[up]) {
			break
		}
		h[i] = h[up]
		i = up
	}
	h[i] = c
}

func (q *queue) pop() candidate {
	h := *q
	top, last := h[0], h[len(h)-1]
	h = h[:len(h)-1]
	*q = h
	if len(h) > 0 {
		h.sink(0, last)
	}
	return top
}

// sink puts c into the tree below the free place i.
func (q queue) sink(i int, c candidate) {
	for {
		least := 4*i + 1
		if least >= len(q) {
			break
		}
		for k := least + 1; k < min(4*i+5, len(q)); k++ {
			if q[k].before(&q[least]) {
				least = k
			}
		}
		if !q[least].before(&c) {
			break
		}
		q[i] = q[least]
		i = least
	}
	q[i] = c
}

// order makes a heap of entries in any order.
func (q queue) order() {
	for i := len(q) - 1; i >= 0; i-- {
		q.sink(i, q[i])
	}
}
