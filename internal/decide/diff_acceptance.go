package decide

import (
	"fmt"
	"slices"

	"fettle/internal/body"
)

// diffAcceptance is what changed in the levels and in what has to be shown
// after a repair.
func diffAcceptance(old, fresh body.Procedure) []Change {
	var out []Change
	add := func(way Direction, cite, format string, args ...any) {
		out = append(out, Change{Text: fmt.Sprintf(format, args...), Way: way, Cite: cite})
	}
	for _, l := range fresh.Levels {
		was, ok := old.Level(l.ID)
		if !ok {
			continue // a level matters where it is asked for
		}
		if was.Linear != l.Linear {
			add(moreIs(l.Linear < was.Linear), l.Cite, "level %s accepts linear indications up to %s in place of %s", l.ID, l.Linear, was.Linear)
		}
		if was.NonLinear != l.NonLinear {
			add(moreIs(l.NonLinear < was.NonLinear), l.Cite, "level %s accepts non-linear indications up to %s in place of %s", l.ID, l.NonLinear, was.NonLinear)
		}
		if was.Ratio != l.Ratio {
			add(Unclear, l.Cite, "level %s calls an indication linear over %g times its width in place of %g", l.ID, l.Ratio, was.Ratio)
		}
	}
	for _, a := range fresh.Acceptance {
		i := slices.IndexFunc(old.Acceptance, func(o body.Acceptance) bool { return o.ID == a.ID })
		if i < 0 {
			add(Stricter, a.Cite, "before release also: %s", showText(a))
			continue
		}
		if was := old.Acceptance[i]; showText(was) != showText(a) {
			add(Unclear, a.Cite, "before release %s in place of %s", showText(a), showText(was))
		}
	}
	for _, a := range old.Acceptance {
		if !slices.ContainsFunc(fresh.Acceptance, func(o body.Acceptance) bool { return o.ID == a.ID }) {
			add(Milder, a.Cite, "before release no longer: %s", showText(a))
		}
	}
	return out
}

// showText is what has to be shown, in words.
func showText(a body.Acceptance) string {
	var t string
	switch a.Show {
	case body.ShowPenetrant:
		t = "penetrant inspection to level " + a.Level
	case body.ShowVisual:
		t = "visual inspection (" + a.Quality + ")"
	case body.ShowDimensions:
		t = "the control points measured again"
	case body.ShowTorque:
		t = "the torque of each joint on record"
	case body.ShowAdhesive:
		t = "the adhesive of each bond on record"
	default:
		t = a.Show
	}
	t += " after " + joinKinds(a.For)
	if len(a.Zones) > 0 {
		t += " in " + joinWords(a.Zones)
	}
	return t
}
