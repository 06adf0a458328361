package revise

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/decide"
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
			add(Unclear, l.Cite, "new level %s", l.ID) // it matters where it is asked for
			continue
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
		for _, t := range differences(was, l, wordedLevel) {
			add(Unclear, l.Cite, "level %s, %s", l.ID, t)
		}
	}
	for _, l := range old.Levels {
		if _, ok := fresh.Level(l.ID); !ok {
			add(Unclear, l.Cite, "level %s is dropped", l.ID)
		}
	}
	if a, b := levelIDs(old), levelIDs(fresh); !slices.Equal(keptOf(a, b), keptOf(b, a)) {
		add(Unclear, "", "the levels stand in another order: %s", decide.JoinWords(b))
	}
	for _, a := range fresh.Acceptance {
		i := slices.IndexFunc(old.Acceptance, func(o body.Acceptance) bool { return o.ID == a.ID })
		if i < 0 {
			add(Stricter, a.Cite, "before release also: %s", showText(a))
			continue
		}
		if was := old.Acceptance[i]; showText(was) != showText(a) {
			add(Unclear, a.Cite, "before release %s in place of %s", showText(a), showText(was))
		} else {
			for _, t := range differences(was, a, nil) {
				add(Unclear, a.Cite, "before release, %s, %s", a.ID, t)
			}
		}
	}
	for _, a := range old.Acceptance {
		if !slices.ContainsFunc(fresh.Acceptance, func(o body.Acceptance) bool { return o.ID == a.ID }) {
			add(Milder, a.Cite, "before release no longer: %s", showText(a))
		}
	}
	if a, b := acceptanceIDs(old), acceptanceIDs(fresh); !slices.Equal(keptOf(a, b), keptOf(b, a)) {
		add(Unclear, "", "what has to be shown stands in another order: %s", decide.JoinWords(b))
	}
	return out
}

func acceptanceIDs(p body.Procedure) []string {
	out := make([]string, len(p.Acceptance))
	for i, a := range p.Acceptance {
		out[i] = a.ID
	}
	return out
}

func levelIDs(p body.Procedure) []string {
	out := make([]string, len(p.Levels))
	for i, l := range p.Levels {
		out[i] = l.ID
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
		t = string(a.Show)
	}
	t += " after " + decide.JoinKinds(a.For)
	if len(a.Zones) > 0 {
		t += " in " + decide.JoinWords(a.Zones)
	}
	return t
}
