package mesh

import (
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// A mesh of which some triangles are turned, or all, has no volumes on either side
// of a line, and it is said why.
func TestSectionOfTurnedMeshHasNoVolume(t *testing.T) {
	r := rand.New(rand.NewPCG(14, 3))
	for k := range 30 {
		m := splitInFourFlat(boxMesh(40, 30, 20))
		want := "inside out"
		turned := len(m.Faces)
		if k > 0 {
			turned, want = 1+r.IntN(len(m.Faces)-1), "disagree"
		}
		for _, f := range r.Perm(len(m.Faces))[:turned] {
			c := &m.Faces[f]
			c[0], c[1] = c[1], c[0]
		}
		x, err := m.Section([]Plane{{geom.Vec{1, 0, 0}, 11}}, 0)
		if err != nil || x.VolumesExact || x.Outer.VolumeMM3 != 0 || x.Rest.VolumeMM3 != 0 || !strings.Contains(x.VolumeDoubt, want) {
			t.Errorf("%d turned: %v %v %g %q", turned, err, x.VolumesExact, x.Outer.VolumeMM3, x.VolumeDoubt)
		}
	}
}
