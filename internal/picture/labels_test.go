package picture

import (
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// strips is a row of n unit squares that share corners, each with a label of
// its own from 1 on.
func strips(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n + 1 {
		m.Points = append(m.Points, geom.Vec{float64(i), 0, 0}, geom.Vec{float64(i), 1, 0})
	}
	for i := range n {
		a := int32(2 * i)
		m.Faces = append(m.Faces, [3]int32{a, a + 2, a + 3}, [3]int32{a, a + 3, a + 1})
		m.Label = append(m.Label, int32(i+1), int32(i+1))
	}
	return m
}

// Labels that touch never share a hatch, also when there are more labels than
// hatches and the list puts the thirteenth beside the first (constructed).
func TestLabelsThatTouchDifferInPrint(t *testing.T) {
	m := strips(30)
	var labels []int32
	for i := range 30 {
		labels = append(labels, int32(i+1))
	}
	labels[1], labels[hatches-1] = labels[hatches-1], labels[1]
	of := HatchLabels(m, labels)
	for l := int32(1); l <= 30; l++ {
		if of[l] < 1 || of[l] >= hatches {
			t.Errorf("label %d has hatch %d: no label is plain", l, of[l])
		}
		if l > 1 && of[l] == of[l-1] {
			t.Errorf("labels %d and %d touch and share hatch %d", l-1, l, of[l])
		}
	}
	if a, b := labels[0], labels[hatches-1]; of[a] == of[b] {
		t.Errorf("labels %d and %d touch and share hatch %d", a, b, of[a])
	}
}
