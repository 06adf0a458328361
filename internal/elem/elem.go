// Package elem owns the elementary functions: exponential, logarithm, angles, the
// error function. Those of the standard library give another last bit on another
// machine: some are written in assembly for one processor and not for the next, and
// where products are fused into sums, theirs are. These round after every operation
// and give the same bits everywhere.
//
// What package math computes exactly (Sqrt, Floor, Mod, Frexp, ...) is taken from there.
//
// The formulas and their coefficients are those of FreeBSD's msun and of the Cephes
// library as the standard library of Go has them. Their notices:
//
// Copyright (C) 1993 by Sun Microsystems, Inc. All rights reserved. Developed at
// SunPro, a Sun Microsystems, Inc. business. Permission to use, copy, modify, and
// distribute this software is freely granted, provided that this notice is preserved.
//
// Cephes Math Library Release 2.8: June, 2000. Copyright 1984, 1987, 1989, 1992, 2000
// by Stephen L. Moshier. What you see here may be used freely but it comes with no
// support or guarantee.
//
// Copyright 2009 The Go Authors. All rights reserved. Use of that source code is
// governed by the BSD-style licence in the file LICENSE beside this one.
package elem

import "math"

// horner is the polynomial with the coefficients c, that of the highest power first.
func horner(x float64, c []float64) float64 {
	sum := c[0]
	for _, a := range c[1:] {
		sum = float64(sum*x) + a
	}
	return sum
}

// Hypot is the length of the hypotenuse, sqrt(p*p + q*q), without overflow.
func Hypot(p, q float64) float64 {
	p, q = math.Abs(p), math.Abs(q)
	long, short := max(p, q), min(p, q)
	switch {
	case long > 0 && long <= math.MaxFloat64:
		short /= long
		return float64(long * math.Sqrt(1+float64(short*short)))
	case math.IsInf(p, 1) || math.IsInf(q, 1):
		return math.Inf(1)
	}
	return p + q // 0 or no number
}
