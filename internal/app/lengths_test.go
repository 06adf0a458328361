package app

import (
	"testing"

	"fettle/internal/job"
	"fettle/internal/unit"
)

// How well a gauge reads a length is the worst of the lengths of the stage: of each reading, or else
// of its set-up. What was read of another kind, in another set-up or at another stage says nothing.
func TestHowWellLengthsWereRead(t *testing.T) {
	read := func(setup string, kind job.ReadingKind, std float64) job.Reading {
		r := job.Reading{Setup: setup, Kind: kind}
		if std > 0 {
			r.Std = unit.Some(std)
		}
		return r
	}
	setups := []job.Setup{{ID: "A", Stage: job.StageAfter, Std: 9}, {ID: "B", Std: 1}, {ID: "C", Stage: job.StageBefore, Std: 2}}
	for name, c := range map[string]struct {
		readings []job.Reading
		want     float64
	}{
		"none":                     {nil, 0},
		"of the set-up":            {[]job.Reading{read("B", job.ReadLength, 0)}, 1},
		"its own":                  {[]job.Reading{read("B", job.ReadLength, 0.5)}, 0.5},
		"the worst":                {[]job.Reading{read("C", job.ReadLength, 0), read("B", job.ReadLength, 0), read("B", job.ReadLength, 0.25)}, 2},
		"another stage, then this": {[]job.Reading{read("A", job.ReadLength, 0), read("B", job.ReadLength, 0)}, 1},
		"a point, then a length":   {[]job.Reading{read("B", job.ReadHeight, 5), read("B", job.ReadLength, 0)}, 1},
		"no set-up, then one":      {[]job.Reading{read("X", job.ReadLength, 5), read("C", job.ReadLength, 0)}, 2},
		"points only":              {[]job.Reading{read("B", job.ReadHeight, 0)}, 0},
	} {
		if got := lengthStd(&job.State{Setups: setups, Readings: c.readings}, job.StageBefore); got != c.want {
			t.Errorf("%s: %g, want %g", name, got, c.want)
		}
	}
}
