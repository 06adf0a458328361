package geom

// netRow is one whitened row: up to twelve derivatives.
type netRow struct {
	n   int
	idx [12]int
	val [12]float64
	l   float64 // observed minus computed, over std
}

func (r *netRow) put(first int, v Vec) {
	if first < 0 {
		return
	}
	for k := 0; k < 3; k++ {
		r.idx[r.n], r.val[r.n] = first+k, v[k]
		r.n++
	}
}

// row linearises one observation.
func (nw *Network) row(s *NetResult, o *NetObs) netRow {
	var r netRow
	ga, gb := s.gradients(o)
	r.put(s.point[o.A], ga)
	if o.Kind != NetCoordinate {
		r.put(s.point[o.B], gb)
	}
	m, at := s.frame(o.Pose)
	axis := o.direction().Scale(1 / o.Std)
	var computed float64
	switch o.Kind {
	case NetCoordinate:
		computed = m.Apply(s.Points[o.A])[o.Axis]
		if o.Dir != (Vec{}) {
			computed = m.Apply(s.Points[o.A]).Dot(o.Dir)
		}
		s.putPose(&r, at, axis, m.R.MulVec(s.Points[o.A].Sub(s.centre(o.Pose))), true)
	case NetLength:
		computed = s.Points[o.A].Dist(s.Points[o.B])
	case NetHeight:
		d := m.R.MulVec(s.Points[o.A].Sub(s.Points[o.B]))
		computed = d[o.Axis]
		s.putPose(&r, at, axis, d, false)
	case NetMirror:
		computed = s.Points[o.A][o.Axis] + float64(o.Sign*s.Points[o.B][o.Axis])
	}
	r.l = (o.Value - computed) / o.Std
	return r
}

// direction is the unit vector along which an observation is taken.
func (o *NetObs) direction() Vec {
	if o.Kind == NetCoordinate && o.Dir != (Vec{}) {
		return o.Dir
	}
	var v Vec
	v[o.Axis] = 1
	return v
}

// gradients are the whitened derivatives of an observation by its points.
func (s *NetResult) gradients(o *NetObs) (a, b Vec) {
	axis := o.direction().Scale(1 / o.Std)
	switch o.Kind {
	case NetLength:
		u := s.Points[o.A].Sub(s.Points[o.B]).Unit().Scale(1 / o.Std)
		return u, u.Scale(-1)
	case NetMirror:
		return axis, axis.Scale(o.Sign)
	}
	m, _ := s.frame(o.Pose)
	g := m.R.TMulVec(axis)
	return g, g.Scale(-1)
}

func (s *NetResult) frame(pose int) (Rigid, int) {
	if pose < 0 {
		return Still(), none
	}
	return s.Poses[pose], s.pose[pose]
}

func (s *NetResult) centre(pose int) Vec {
	if pose < 0 {
		return Vec{}
	}
	return s.Centres[pose]
}

// putPose adds the derivatives by a pose: d(dw x arm).axis = dw . (arm x axis).
func (s *NetResult) putPose(r *netRow, first int, axis, arm Vec, shifts bool) {
	if first < 0 {
		return
	}
	if shifts {
		r.put(first, axis)
	}
	r.put(first+3, arm.Cross(axis))
}
