package app

import (
	"path"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// MeasureOptions is what may be said beside the two files of MeasureFiles.
type MeasureOptions struct {
	Impact string
	StdMM  float64 // standard uncertainty of readings that give none
	Seed   uint64  // of the search above 60 points
	// Temperature of the body [degrees Celsius] in all set-ups, with its standard
	// uncertainty; the body's expansion [ppm per kelvin] with its own, and the
	// temperature the points are for. Without an expansion nothing is corrected.
	Temp       unit.Maybe[float64]
	TempStd    float64
	ReferenceC float64
	Expansion  unit.Maybe[float64]
	ExpandStd  float64
}

// FileMeasurement is a result with the points it is about.
type FileMeasurement struct {
	Points []body.Point
	Result measure.Result
}

// MeasureFiles runs the measuring engine on two CSV files alone: control points
// and readings. Every set-up that a reading names exists.
func (a *App) MeasureFiles(points, readings string, o MeasureOptions) (FileMeasurement, error) {
	var problems diag.Problems
	ps, found, err := readRows[body.Point](a, points)
	if err != nil {
		return FileMeasurement{}, err
	}
	problems = append(problems, found...)
	rs, found, err := readRows[job.Reading](a, readings)
	if err != nil {
		return FileMeasurement{}, err
	}
	problems = append(problems, found...)
	if len(problems) > 0 {
		return FileMeasurement{}, problems
	}
	in := measure.Input{Points: ps, Readings: rs, Setups: setupsOf(rs, o), Impact: o.Impact, Seed: o.Seed}
	if o.Expansion.Known {
		in.Thermal = measure.Thermal{BodyPerK: o.Expansion.Value * 1e-6, PerKStd: o.ExpandStd * 1e-6, ReferenceC: o.ReferenceC}
	}
	result, _ := measure.Run(in)
	return FileMeasurement{ps, result}, nil
}

func readRows[T any](a *App, p string) ([]T, diag.Problems, error) {
	data, err := a.files.Read(p)
	if err != nil {
		return nil, nil, notRead(p, err, "check the path")
	}
	rows, lines, problems := doc.DecodeCSV[T](path.Base(p), data)
	for i := range rows {
		if r, ok := any(&rows[i]).(*job.Reading); ok {
			r.Line = lines[i]
		}
	}
	return rows, located(problems, path.Dir(p)), nil
}

// setupsOf are the set-ups the readings name, in their order.
func setupsOf(rs []job.Reading, o MeasureOptions) []job.Setup {
	var out []job.Setup
	seen := map[string]bool{}
	for _, r := range rs {
		if !seen[r.Setup] {
			seen[r.Setup] = true
			s := job.Setup{ID: r.Setup, Stage: "before", Std: unit.MM(o.StdMM), TempStd: unit.Kelvin(o.TempStd)}
			if o.Temp.Known {
				s.Temp = unit.Some(unit.Celsius(o.Temp.Value))
			}
			out = append(out, s)
		}
	}
	return out
}

// MeasureText is the result for a terminal: what held, what moved, and what
// would decide what is open.
func (a *App) MeasureText(m FileMeasurement) string {
	return report.MeasureText(m.Points, nil, body.Axes{}, m.Result, 96)
}
