package body

import (
	"maps"
	"reflect"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/golden/broken"
)

// cellKinds is what texts of a table are, by their type.
var cellKinds = map[reflect.Type]broken.Kind{
	reflect.TypeFor[string]():    broken.Words,
	reflect.TypeFor[SkillID]():   broken.Words,
	reflect.TypeFor[PointID]():   broken.Ref,
	reflect.TypeFor[PartID]():    broken.Ref,
	reflect.TypeFor[SectionID](): broken.Ref,
}

// TestEveryCellBroken: every column of a body's tables has at least five broken cells, made by its type, and each is
// refused in its row and column, with what would be right.
func TestEveryCellBroken(t *testing.T) {
	decode := func(files map[string][]byte) (bool, error) {
		b, err := Decode(files)
		return b != nil, err
	}
	front := maps.Clone(below(demo.Files(), "body"))
	maps.DeleteFunc(front, func(name string, _ []byte) bool { return strings.HasPrefix(name, procedureDir) }) // which takes less time
	for file, of := range map[string]any{PointsFile: Point{}, PartsFile: Part{}} {
		t.Run(file, func(t *testing.T) {
			broken.Table{Of: of, Decode: decode, Kinds: cellKinds, Fields: map[string]broken.Kind{"id": broken.Name},
				Taken: map[string]map[string]string{PointsFile: {"x_mm: negative": eitherSide, "y_mm: negative": eitherSide, "z_mm: negative": eitherSide}}[file],
				Sound: []broken.Sound{{File: file, Files: goodFiles(t)}, {File: file, Files: front}},
			}.Run(t)
		})
	}
}
