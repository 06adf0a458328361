//go:build !amd64

package mesh

func partBoxes(boxes []boxed, axis int, plane int32, left, right *part) int {
	return partBoxesPlain(boxes, axis, plane, left, right)
}

func binBoxes(boxes []boxed, step, axis int, x *bins, bin *[sahBins]span, count *[sahBins]int32) {
	binBoxesPlain(boxes, step, axis, x, bin, count)
}
