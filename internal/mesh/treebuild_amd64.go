package mesh

// partBoxes is partBoxesPlain.
func partBoxes(boxes []boxed, axis int, plane int32, left, right *part) int {
	if !vectors || len(boxes) == 0 {
		return partBoxesPlain(boxes, axis, plane, left, right)
	}
	return int(partBoxes4(&boxes[0], int64(len(boxes)), int64(axis), plane, left, right))
}

// binBoxes is binBoxesPlain.
func binBoxes(boxes []boxed, step, axis int, x *bins, bin *[sahBins]span, count *[sahBins]int32) {
	if !vectors || len(boxes) == 0 {
		binBoxesPlain(boxes, step, axis, x, bin, count)
		return
	}
	n := (len(boxes) + step - 1) / step
	binBoxes4(&boxes[0], int64(n), int64(step), int64(axis), int64(x.base), x.each, bin, count)
}

// partBoxes4 takes the three coordinates of a corner, and what lies beside them, at
// once, and chooses between left and right without a branch.
//
//go:noescape
func partBoxes4(boxes *boxed, n, axis int64, plane int32, left, right *part) (front int64)

// binBoxes4 takes n boxes, step apart.
//
//go:noescape
func binBoxes4(boxes *boxed, n, step, axis, base int64, each uint64, bin *[sahBins]span, count *[sahBins]int32)
