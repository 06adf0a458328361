package job

import (
	"reflect"
	"testing"

	"fettle/internal/body"
	"fettle/internal/golden/broken"
)

// TestEveryCellBroken: every column of readings.csv has at least five broken cells, made by its type, and each is refused in
// its row and column, with what would be right.
func TestEveryCellBroken(t *testing.T) {
	b, sh := goodBody(t), goodShop(t)
	broken.Table{Of: Reading{},
		Kinds: map[reflect.Type]broken.Kind{reflect.TypeFor[string](): broken.Ref, reflect.TypeFor[body.PointID](): broken.Ref},
		Taken: map[string]string{"x_mm: negative": eitherSide, "y_mm: negative": eitherSide, "z_mm: negative": eitherSide},
		Sound: []broken.Sound{{File: ReadingsFile, Files: goodFiles(t)}},
		Decode: func(files map[string][]byte) (bool, error) {
			s, err := Decode(files)
			if err == nil {
				found, _ := CheckAgainst(s, b, sh)
				if err = found.OrNil(); err != nil {
					s = nil
				}
			}
			return s != nil, err
		},
	}.Run(t)
}
