package body

import (
	"slices"
	"testing"

	"fettle/internal/unit"
)

// What is not known of taking a part off and fitting it, each by itself and together: minutes, which
// are none where they are zero, the joints that hold it, and what a joint is closed with.
func TestWhatOpeningAPartLacks(t *testing.T) {
	const off, on, holds = "the minutes it takes to come off", "the minutes it takes to go on", "the joints that hold it"
	bare := Joint{ID: "bare", Methods: []JoinMethod{JoinBlindRivet}}
	lacks := bare.ClosingLacks()
	if lacks == "" {
		t.Fatal("a riveted joint without rivets lacks nothing")
	}
	nothing, all := func(Joint) bool { return false }, func(Joint) bool { return true }
	for name, c := range map[string]struct {
		p       Part
		holding []Joint
		done    func(Joint) bool
		want    []string
	}{
		"nothing is said":    {Part{}, nil, nothing, []string{off, on, holds}},
		"half a minute each": {Part{Off: 0.5, On: 0.5}, nil, nothing, []string{holds}},
		"off only":           {Part{Off: 3}, nil, nothing, []string{on, holds}},
		"on only":            {Part{On: 3}, nil, nothing, []string{off, holds}},
		"nothing holds it":   {Part{Off: 3, On: 3, Comes: Freely}, nil, nothing, nil},
		"built on it":        {Part{Off: 3, On: 3, Comes: Never}, nil, nothing, []string{"it cannot be taken out of the vehicle"}},
		"a bare joint":       {Part{Off: 3, On: 3}, []Joint{bare}, nothing, []string{lacks}},
		"and it is treated":  {Part{Off: 3, On: 3}, []Joint{bare}, all, nil},
		"two bare joints":    {Part{On: 3}, []Joint{bare, bare}, nothing, []string{off, lacks, lacks}},
	} {
		if got := OpeningLacks(c.p, c.holding, c.done); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// A step goes by a surface where its minutes do, or what it uses does: a coat of some thickness, or an
// amount for an area that is not a strip. A coat of a material of which nobody knows the solids takes
// what is said.
func TestWhatGoesByASurface(t *testing.T) {
	area := amount(5, "ml")
	for name, c := range map[string]struct {
		s    Step
		want bool
	}{
		"nothing":         {Step{}, false},
		"minutes":         {Step{PerArea: 0.5}, true},
		"an amount":       {Step{Uses: []Use{{}, {PerArea: area}}}, true},
		"a coat":          {Step{Uses: []Use{{Film: 40}}}, true},
		"along a strip":   {Step{Uses: []Use{{PerArea: area, Width: 10}}}, false},
		"along a length":  {Step{Uses: []Use{{PerMetre: area}}}, false},
		"a strip, a coat": {Step{Uses: []Use{{PerArea: area, Width: 10}, {Film: 40}}}, true},
	} {
		if got := c.s.BySurface(); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
	for _, c := range []struct {
		u    Use
		m    Material
		want unit.Amount
	}{{Use{PerArea: area}, Material{Solids: 0.5}, area}, {Use{PerArea: area, Film: 40}, Material{}, area}, {Use{Film: 40}, Material{Solids: 0.5}, amount(80, "ml")}, {Use{PerArea: area}, Material{}, area}} {
		if got := c.u.PerSquareMetre(c.m); got != c.want {
			t.Errorf("%+v: %v, want %v", c.u, got, c.want)
		}
	}
}
