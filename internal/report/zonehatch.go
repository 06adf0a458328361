package report

import (
	"fettle/internal/body"
	"fettle/internal/mesh"
	"fettle/internal/picture"
)

// zoneHatches gives every zone of a casting a hatch; zones that touch differ.
func zoneHatches(m *mesh.Mesh, zones []body.Zone) map[int32]int {
	labels := make([]int32, len(zones))
	for i, z := range zones {
		labels[i] = int32(z.Label)
	}
	return picture.HatchLabels(m, labels)
}
