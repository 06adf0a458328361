package geom

import "math"

// nearParallel is the squared sine of the angle below which the crossing of two
// lines is too uncertain to be the nearest place by itself: a milliradian.
const nearParallel = 1e-6

// NearestOnSegment is the point of segment ab that is nearest to p; a segment
// may be a point.
func NearestOnSegment(p, a, b Vec) Vec {
	ab := b.Sub(a)
	l2 := ab.Dot(ab)
	if !(l2 > 0) {
		return a
	}
	return a.Lerp(b, min(1, max(0, p.Sub(a).Dot(ab)/l2)))
}

// NearestOnSegments is the points of the segments p1q1 and p2q2 that are nearest
// to each other; a segment may be a point.
//
// The square of the distance is convex in the two shares. Its least value
// inside is where the two lines are nearest to each other; when that is not
// inside, or the lines are nearly parallel, the least lies at an end of one of
// the segments, and all four are looked at. Of equal distances that from p1
// comes first, then from q1, p2 and q2.
//
// Source: C. Ericson, Real-Time Collision Detection, 2005, section 5.1.9, for
// the inside; the ends are written out because clamping one share after the
// other loses digits on long, nearly parallel segments.
func NearestOnSegments(p1, q1, p2, q2 Vec) (on1, on2 Vec) {
	d1, d2, r := q1.Sub(p1), q2.Sub(p2), p1.Sub(p2)
	a, e := d1.Dot(d1), d2.Dot(d2)
	best := math.Inf(1)
	try := func(x, y Vec) {
		v := x.Sub(y)
		if d := v.Dot(v); d < best {
			best, on1, on2 = d, x, y
		}
	}
	b, c, f := d1.Dot(d2), d1.Dot(r), d2.Dot(r)
	if den := float64(a*e) - float64(b*b); den > 0 {
		s, t := (float64(b*f)-float64(c*e))/den, (float64(a*f)-float64(b*c))/den
		if s > 0 && s < 1 && t > 0 && t < 1 {
			if try(p1.Lerp(q1, s), p2.Lerp(q2, t)); den > nearParallel*a*e {
				return on1, on2
			}
		}
	}
	try(p1, NearestOnSegment(p1, p2, q2))
	try(q1, NearestOnSegment(q1, p2, q2))
	try(NearestOnSegment(p2, p1, q1), p2)
	try(NearestOnSegment(q2, p1, q1), q2)
	return on1, on2
}

// SegmentsDist is the distance between two segments [mm].
func SegmentsDist(p1, q1, p2, q2 Vec) float64 {
	a, b := NearestOnSegments(p1, q1, p2, q2)
	return a.Dist(b)
}

// NearerSegments is the distance between two segments where that is below best,
// otherwise best. Their middles tell most that are not: no point of a segment is
// farther from its middle than half of its length.
func NearerSegments(best float64, p1, q1, p2, q2 Vec) float64 {
	middles := p1.Add(q1).Sub(p2.Add(q2)).Norm() / 2
	if middles-(p1.Dist(q1)+p2.Dist(q2))/2 > best {
		return best
	}
	return min(best, SegmentsDist(p1, q1, p2, q2))
}

// PolylineLength is the length of the line through points, one after the other.
func PolylineLength(points []Vec) float64 {
	sum := 0.0
	for i := 1; i < len(points); i++ {
		sum += points[i-1].Dist(points[i])
	}
	return sum
}
