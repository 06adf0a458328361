package decide

import (
	"slices"

	"fettle/internal/body"
)

// zoneRow begins the identity of a row that is made of a zone.
const zoneRow = "zone "

// compileOn is Compile of a procedure for the casting of a body. A zone that says which treatments
// its map gives has a row of its own: it asks for every other one.
func compileOn(b *body.Body, p body.Procedure) *Ruleset {
	k, _ := b.Casting(p.Casting)
	for _, z := range k.Zones {
		if z.Treatments == nil {
			continue
		}
		other := slices.DeleteFunc(body.TreatmentKinds(), func(t body.TreatmentKind) bool { return slices.Contains(z.Treatments, t) })
		p.Rows = append(slices.Clip(p.Rows), body.Row{
			ID: zoneRow + string(z.ID), Cite: k.Name + ", " + z.Name, When: map[string]string{body.FactZones: "any of " + string(z.ID)},
			Ask: "its zone map gives " + orNone(z.Treatments) + " there, and nothing else", AskFor: other,
		})
	}
	return Compile(p, float64(b.Confidence))
}

func orNone(ks []body.TreatmentKind) string {
	if len(ks) == 0 {
		return "no treatment"
	}
	return JoinKinds(ks)
}
