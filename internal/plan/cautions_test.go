package plan

import (
	"slices"
	"testing"

	"fettle/internal/body"
)

// Common practice, no source: the usual warning stands where the step is.
func TestCautionsFollowPartsAndJoints(t *testing.T) {
	b := &body.Body{
		Tasks:    []body.Task{{ID: "hv-off", When: "start", Step: body.Step{Cautions: []body.Caution{body.HighVoltage}}}},
		Triggers: []body.Trigger{{Part: "charger", Before: []body.TaskID{"hv-off"}}},
	}
	for _, c := range []struct {
		name string
		got  []body.Caution
		want []body.Caution
	}{
		{"module behind a task", partCautions(b, body.Part{ID: "charger", Kind: "module"}, []body.PartID{"charger"}, 0), []body.Caution{body.HighVoltage, body.Lifting}},
		{"trim", partCautions(b, body.Part{ID: "liner", Kind: "trim"}, []body.PartID{"liner"}, 0), nil},
		{"casting", partCautions(b, body.Part{ID: "cast", Kind: "casting"}, []body.PartID{"cast"}, 15), []body.Caution{body.Lifting}},
		{"small module", partCautions(b, body.Part{ID: "lamp", Kind: "module", Mass: 3}, []body.PartID{"lamp"}, 15), nil},
		{"as heavy as the limit", partCautions(b, body.Part{ID: "lamp", Kind: "panel", Mass: 15}, []body.PartID{"lamp"}, 15), nil},
		{"heavy panel", partCautions(b, body.Part{ID: "door", Kind: "panel", Mass: 15.1}, []body.PartID{"door"}, 15), []body.Caution{body.Lifting}},
		{"module, no limit given", partCautions(b, body.Part{ID: "lamp", Kind: "module", Mass: 3}, []body.PartID{"lamp"}, 0), []body.Caution{body.Lifting}},
		{"bolts", openCautions(body.Joint{Methods: []body.JoinMethod{"bolt"}}), nil},
		{"bond opened", openCautions(body.Joint{Methods: []body.JoinMethod{"adhesive"}}), []body.Caution{body.Dust, body.Eyes}},
		{"bond closed", closeCautions(body.Joint{Methods: []body.JoinMethod{"self-piercing rivet", "adhesive"}}), []body.Caution{body.Chemical, body.Eyes}},
		{"weld closed", closeCautions(body.Joint{Methods: []body.JoinMethod{"weld"}}), []body.Caution{body.BatteryHeat, body.Welding, body.Eyes}},
	} {
		if !slices.Equal(c.got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
}
