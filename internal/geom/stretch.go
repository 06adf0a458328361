package geom

// Stretch is the least misfit of a body that is stretched and sheared as a whole:
//
//	to = A from + t
//
// with any matrix A, 12 parameters, by least squares with the weights of the points, or
// with their whole covariance where errors depend on one another.
// It is what a wrong scale or unit of one axis of a device makes of a body that kept
// its form. False when the points do not determine it: all near one plane.
func (x *Matcher) Stretch() (Misfit, bool) {
	const columns = 4
	from, to := x.m.From, x.m.To
	if 3*len(from) <= StretchParameters {
		return Misfit{}, false
	}
	var mid Vec
	for i := range from {
		mid = mid.Add(from[i].Scale(1 / float64(len(from))))
	}
	row := func(i int) [columns]float64 {
		d := from[i].Sub(mid)
		return [columns]float64{d[0], d[1], d[2], 1}
	}
	out := Misfit{DOF: 3*len(from) - StretchParameters}
	if x.together != nil {
		var members []int
		cols := newColumns(StretchParameters, 3*len(from))
		for i := range from {
			members = append(members, i)
			for c := range to[i] {
				cols.last()[3*i+c] = to[i][c]
				for a, v := range row(i) {
					cols[columns*c+a][3*i+c] = v
				}
			}
		}
		l, ok := x.leastTogether(members, cols)
		out.Chi2 = l.chi2
		return out, ok
	}
	n := newSymmetric(columns)
	var rhs [3][]float64
	for a := range rhs {
		rhs[a] = make([]float64, columns)
	}
	for i := range from {
		r := row(i)
		for a := range columns {
			for b := range a + 1 {
				n.add(a, b, x.weight[i]*r[a]*r[b])
			}
			for c := range rhs {
				rhs[c][a] += float64(x.weight[i] * r[a] * to[i][c])
			}
		}
	}
	if n.factor() >= 0 {
		return Misfit{}, false
	}
	for c := range rhs {
		n.solve(rhs[c])
	}
	for i := range from {
		r := row(i)
		for c := range rhs {
			d := to[i][c]
			for a := range columns {
				d -= float64(rhs[c][a] * r[a])
			}
			out.Chi2 += float64(x.weight[i] * float64(d*d))
		}
	}
	return out, true
}

// StretchParameters is the number of parameters of Stretch.
const StretchParameters = 12
