package casting

import (
	"math"

	"fettle/internal/geom"
)

// A solid is a signed distance bound [mm]: negative inside, zero on the
// surface, and never changing faster than the point moves (Lipschitz bound 1),
// so that a ball in which nothing can happen may be skipped.
type solid interface {
	at(p geom.Vec) float64
}

// smin is the smooth minimum with blend width k [mm] (quadratic polynomial
// blend, I. Quilez, from memory): equal to min where the two differ by more
// than k, at most k/4 below it elsewhere. Two walls at a right angle get a
// fillet of radius about 0.85 k.
func smin(a, b, k float64) float64 {
	m := min(a, b)
	h := k - math.Abs(a-b)
	if h <= 0 {
		return m
	}
	return m - float64(h*h)/(4*k)
}

// smax is the smooth maximum: the mirror of smin.
func smax(a, b, k float64) float64 { return -smin(-a, -b, k) }

// union joins its parts with fillets of blend width k.
type union struct {
	k     float64
	parts []solid
}

func (u *union) at(p geom.Vec) float64 {
	d := u.parts[0].at(p)
	for _, s := range u.parts[1:] {
		d = smin(d, s.at(p), u.k)
	}
	return d
}

// both keeps what lies in all parts, with edges rounded by blend width k.
type both struct {
	k     float64
	parts []solid
}

func (b *both) at(p geom.Vec) float64 {
	d := b.parts[0].at(p)
	for _, s := range b.parts[1:] {
		d = smax(d, s.at(p), b.k)
	}
	return d
}

// cut takes the tools away from the base, with edges rounded by blend width k.
type cut struct {
	k     float64
	base  solid
	tools []solid
}

func (c *cut) at(p geom.Vec) float64 {
	d := c.base.at(p)
	for _, s := range c.tools {
		d = smax(d, -s.at(p), c.k)
	}
	return d
}

// inverse is everything outside the solid.
type inverse struct{ s solid }

func (n *inverse) at(p geom.Vec) float64 { return -n.s.at(p) }

// reach is the distance [mm] from the surface inside which the simplified
// solids of near must be right; it exceeds every blend width plus the size of a
// grid cell.
const reach = 24.0

// near returns a simpler solid that agrees with s, close to the surface, for
// all points within r of c. Parts too far away to matter are dropped.
func near(s solid, c geom.Vec, r float64) solid {
	switch t := s.(type) {
	case *union:
		kept := nearestParts(t.parts, c, r, t.k, 1)
		if len(kept) == 1 {
			return kept[0]
		}
		return &union{t.k, kept}
	case *both:
		kept := nearestParts(t.parts, c, r, t.k, -1)
		if len(kept) == 1 {
			return kept[0]
		}
		return &both{t.k, kept}
	case *cut:
		return nearCut(t, c, r)
	case *inverse:
		return &inverse{near(t.s, c, r)}
	}
	return s
}

// nearestParts keeps the parts that can shape a minimum (sign 1) or a maximum
// (sign -1) within r of c. One part always stays.
func nearestParts(parts []solid, c geom.Vec, r, k, sign float64) []solid {
	dist := make([]float64, len(parts))
	lowest := math.Inf(1)
	for i, s := range parts {
		dist[i] = sign * s.at(c)
		lowest = min(lowest, dist[i])
	}
	limit := max(lowest, min(lowest+2*r+2*k, r+reach))
	var kept []solid
	for i, s := range parts {
		if dist[i] <= limit {
			kept = append(kept, near(s, c, r))
		}
	}
	return kept
}

func nearCut(t *cut, c geom.Vec, r float64) solid {
	base := near(t.base, c, r)
	var kept []solid
	for _, s := range t.tools {
		if s.at(c) <= r+reach {
			kept = append(kept, near(s, c, r))
		}
	}
	if len(kept) == 0 {
		return base
	}
	return &cut{t.k, base, kept}
}
