package app

import (
	"context"
	"fmt"
	"path"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/explain"
	"fettle/internal/halt"
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
	// AlikeMM is the standard deviation of the left/right equality of one coordinate of
	// twins, for points without places; their manufacturing spread counts when it is 0.
	AlikeMM float64
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
	Sides  *measure.Sides // in its place, of points that have no places
}

// Blocked says that something in the result must not be built upon.
func (m FileMeasurement) Blocked() bool {
	return m.Sides != nil || slices.ContainsFunc(m.Result.Notes, diag.Note.Blocks)
}

// MeasureFiles runs the measuring engine on two CSV files alone: control points
// and readings. Every set-up that a reading names exists.
func (a *App) MeasureFiles(ctx context.Context, points, readings string, o MeasureOptions) (FileMeasurement, error) {
	return computing(ctx, a, func(w *halt.Work) (FileMeasurement, error) { return a.measureFiles(w, points, readings, o) })
}

func (a *App) measureFiles(w *halt.Work, points, readings string, o MeasureOptions) (FileMeasurement, error) {
	ps, lines, placed, faults, err := a.readPoints(points)
	if err != nil {
		return FileMeasurement{}, err
	}
	rs, rows, found, err := readRows[job.Reading](a, readings)
	if err != nil {
		return FileMeasurement{}, err
	}
	if faults = append(faults, found...); len(faults) == 0 {
		for i := range rs {
			rs[i].Line = rows[i]
		}
		faults = append(renamed(body.CheckPoints(ps, lines), points), renamed(checkRows(ps, rs, o.StdMM), readings)...)
	}
	if len(faults) == 0 && !placed {
		faults = renamed(checkTwins(ps, lines), points)
	}
	if len(faults) > 0 {
		faults.Sort()
		return FileMeasurement{}, faults
	}
	in := measure.Input{Work: w, Points: ps, Sections: sectionsOf(ps), Readings: rs, Setups: setupsOf(rs, o), Impact: job.ImpactSide(o.Impact), Seed: o.Seed}
	if !placed {
		in.Symmetry = o.AlikeMM
		s := measure.CompareSides(in)
		return FileMeasurement{Points: ps, Sides: &s}, nil
	}
	if o.Expansion.Known {
		in.Thermal = measure.Thermal{BodyPerK: o.Expansion.Value * 1e-6, PerKStd: o.ExpandStd * 1e-6, ReferenceC: o.ReferenceC}
	}
	result, _ := measure.Run(in)
	return FileMeasurement{Points: ps, Result: result}, nil
}

func readRows[T any](a *App, p string) (rows []T, lines []int, problems diag.Problems, err error) {
	data, err := a.read("", p, aDocument, "check the path")
	if err != nil {
		return nil, nil, nil, err
	}
	rows, lines, problems = doc.DecodeCSV[T](path.Base(p), data)
	if len(problems) == 0 && len(rows) == 0 {
		problems = diag.Problems{{File: path.Base(p), Msg: "there is no row below the header", Hint: "write one row for each"}}
	}
	return rows, lines, located(problems, path.Dir(p)), nil
}

// checkRows judges the readings by themselves and against the points. A reading
// without uncertainty is taken only when one is given for all.
func checkRows(ps []body.Point, rs []job.Reading, std float64) diag.Problems {
	found := job.CheckReadings(rs)
	var known []string
	for _, p := range ps {
		known = append(known, string(p.ID))
	}
	for _, r := range rs {
		for _, c := range []struct {
			column string
			id     body.PointID
		}{{"from", r.From}, {"to", r.To}} {
			if c.id != "" && !slices.Contains(known, string(c.id)) {
				found = append(found, diag.Problem{Line: r.Line, Field: "column " + c.column, Msg: fmt.Sprintf("point %q is not among the control points", c.id), Hint: doc.DidYouMean(string(c.id), known)})
			}
		}
		if std <= 0 && !r.Std.Known && !r.StdX.Known && !r.StdY.Known && !r.StdZ.Known {
			found = append(found, diag.Problem{Line: r.Line, Field: "column std_mm", Msg: "the standard uncertainty is missing", Hint: "fill in the cell, or give one for all", Remedy: job.Give(job.GiveStd)})
		}
	}
	return gathered(found)
}

// gathered tells a fault that several rows have once, at the first of them, with the
// rows it holds for.
func gathered(ps diag.Problems) diag.Problems {
	var out diag.Problems
	rows := map[diag.Problem][]int{}
	for _, p := range ps {
		alike := p
		alike.Line, alike.Remedy = 0, nil
		if rows[alike] == nil {
			out = append(out, p)
		}
		rows[alike] = append(rows[alike], p.Line)
	}
	for i := range out {
		alike := out[i]
		alike.Line, alike.Remedy = 0, nil
		if all := rows[alike]; len(all) > 1 {
			out[i].Msg += fmt.Sprintf(" (%d rows: %s)", len(all), ranges(all))
		}
	}
	return out
}

// ranges are rising numbers in a few words: 2 to 9, 12 and 14.
func ranges(n []int) string {
	var out []string
	for i := 0; i < len(n); {
		k := i
		for k+1 < len(n) && n[k+1] == n[k]+1 {
			k++
		}
		switch {
		case k > i+1:
			out = append(out, fmt.Sprintf("%d to %d", n[i], n[k]))
		case k == i+1:
			out = append(out, fmt.Sprint(n[i]), fmt.Sprint(n[k]))
		default:
			out = append(out, fmt.Sprint(n[i]))
		}
		i = k + 1
	}
	return explain.Joined(out)
}

// renamed is the problems of a file under the name a person gave.
func renamed(ps diag.Problems, file string) diag.Problems {
	for i := range ps {
		ps[i].File = file
	}
	return ps
}

// sectionsOf are the sections the points name, in their order. Without a body
// their names are what the points call them.
func sectionsOf(ps []body.Point) []body.Section {
	var out []body.Section
	for _, p := range ps {
		named := func(s body.Section) bool { return s.ID == p.Section }
		if p.Section != "" && !slices.ContainsFunc(out, named) {
			out = append(out, body.Section{ID: p.Section})
		}
	}
	return out
}

// setupsOf are the set-ups the readings name, in their order.
func setupsOf(rs []job.Reading, o MeasureOptions) []job.Setup {
	var out []job.Setup
	seen := map[string]bool{}
	for _, r := range rs {
		if !seen[r.Setup] {
			seen[r.Setup] = true
			s := job.Setup{ID: r.Setup, Stage: job.StageBefore, Std: unit.MM(o.StdMM), TempStd: unit.Kelvin(o.TempStd)}
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
func (a *App) MeasureText(m FileMeasurement, col Column) string {
	if m.Sides != nil {
		return report.SidesText(*m.Sides, col.Width)
	}
	return report.MeasureText(m.Points, nil, body.Axes{}, m.Result, col.Width)
}
