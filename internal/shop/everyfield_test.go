package shop

import (
	"reflect"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/golden/broken"
)

// TestEveryFieldBroken: every field of a shop has at least five broken texts, made by its type,
// and each is refused where it stands, with what would be right.
func TestEveryFieldBroken(t *testing.T) {
	good := goodFiles(t)
	every := map[string][]byte{"shop.yaml": []byte(strings.NewReplacer(
		"kind: bench, name: Bench}", "kind: bench, name: Bench, roll_out: 20 min}",
		"on: labour, low: 90 %", "on: labour, skill: body, low: 90 %",
	).Replace(string(good["shop.yaml"])) + `sublets:
  - {id: radar, skill: sensors, name: Radar calibration, visit: 80.00 EUR, per_hour: 120.00 EUR}
inspecting:
  - {method: penetrant, minutes: 12 min, skill: body, wait: 20 min}
absences:
  - {bay: B1, from: 2026-05-04, to: 2026-05-05, reason: lift out of order}
`)}
	broken.Document{Of: Shop{}, Beside: map[string][]byte{},
		Kinds: map[reflect.Type]broken.Kind{reflect.TypeFor[string](): broken.Words, reflect.TypeFor[body.SkillID](): broken.Words, reflect.TypeFor[body.BayKind](): broken.Words},
		Sound: []broken.Sound{{File: "shop.yaml", Files: good}, {File: "shop.yaml", Files: every}, {File: "shop.yaml", Files: demo.Files()}},
		Decode: func(files map[string][]byte) (bool, error) {
			s, err := Decode("shop.yaml", files["shop.yaml"])
			return s != nil, err
		},
	}.Run(t)
}
