package report

import (
	"cmp"
	"fmt"
	"slices"

	"fettle/internal/measure"
	"fettle/internal/rule"
)

// needed is what would decide the points of a hypothesis, as things to do: what
// several points need alike is said once.
func needed(points []measure.PointResult) []string {
	ids := map[measure.NeedKind][]string{}
	var kinds []measure.NeedKind
	var out, rough []string
	roughest := 0.0
	sorted := slices.Clone(points)
	slices.SortStableFunc(sorted, func(a, b measure.PointResult) int {
		x, y := a.Need(), b.Need()
		return cmp.Or(cmp.Compare(x.Kind, y.Kind), cmp.Compare(x.Setups, y.Setups))
	})
	for _, p := range sorted {
		n, id := p.Need(), string(p.ID)
		if n.Kind == measure.NeedsNothing {
			if p.Needs != "" { // a result that was not worked out here
				out = append(out, "Point "+id+": "+sentence(p.Needs))
			}
			continue
		}
		if n.RoughMM > 0 {
			rough, roughest = append(rough, id), max(roughest, n.RoughMM)
		}
		if n.Kind == measure.NeedsSetups {
			id += fmt.Sprintf(" in %d independent set-ups or one %s", n.Setups, rule.KnownTo(n.StdMM, "mm"))
		}
		if ids[n.Kind] == nil {
			kinds = append(kinds, n.Kind)
		}
		ids[n.Kind] = append(ids[n.Kind], id)
	}
	for _, k := range kinds {
		out = append(out, need(k, list(ids[k], 60)))
	}
	if len(rough) > 0 {
		out = append(out, fmt.Sprintf("The readings of %s are too rough for the limit: uncertain by up to ± %s (k = 2).", list(rough, 60), mm(expanded(roughest))))
	}
	return out
}

// need is what some points need alike.
func need(kind measure.NeedKind, who string) string {
	switch kind {
	case measure.NeedsReadingAgain:
		return "Moved, or misread; read again in another set-up: " + who + "."
	case measure.NeedsSetups:
		return "Measure again: " + who + "."
	case measure.NeedsBetterDevice:
		return fmt.Sprintf("Measure with a much better device, too near the limit for %d readings like these: %s.", measure.MaxSetups, who)
	case measure.NeedsManufacturer:
		return "More points that kept their places, or the manufacturer's word, since no reading can tell while the places at which the steady points were built are no better known: " + who + "."
	case measure.NeedsSteadyPoints:
		return "More points that kept their places; the steady block leans so much on " + who + " that a move could have gone unseen."
	case measure.NeedsCoordinates:
		return "A coordinate reading of each: " + who + "."
	case measure.NeedsLimit:
		return "A limit from the manufacturer: " + who + "."
	}
	return ""
}
