package app

import (
	"fmt"
	"path"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/unit"
)

// MeasureFiles runs the measuring engine on two CSV files alone: control points
// and readings. Every set-up that a reading names exists; stdMM is the standard
// uncertainty of readings that give none.
func (a *App) MeasureFiles(points, readings, impact string, stdMM float64) (measure.Result, error) {
	var problems diag.Problems
	ps, found, err := readRows[body.Point](a, points)
	if err != nil {
		return measure.Result{}, err
	}
	problems = append(problems, found...)
	rs, found, err := readRows[job.Reading](a, readings)
	if err != nil {
		return measure.Result{}, err
	}
	problems = append(problems, found...)
	if len(problems) > 0 {
		return measure.Result{}, problems
	}
	result, _ := measure.Run(measure.Input{Points: ps, Readings: rs, Setups: setupsOf(rs, stdMM), Impact: impact})
	return result, nil
}

func readRows[T any](a *App, p string) ([]T, diag.Problems, error) {
	data, err := a.files.Read(p)
	if err != nil {
		return nil, nil, notRead(p, err, "check the path")
	}
	rows, _, problems := doc.DecodeCSV[T](path.Base(p), data)
	return rows, located(problems, path.Dir(p)), nil
}

// setupsOf are the set-ups the readings name, in their order.
func setupsOf(rs []job.Reading, stdMM float64) []job.Setup {
	var out []job.Setup
	seen := map[string]bool{}
	for _, r := range rs {
		if !seen[r.Setup] {
			seen[r.Setup] = true
			out = append(out, job.Setup{ID: r.Setup, Stage: "before", Std: unit.MM(stdMM)})
		}
	}
	return out
}

// MeasureText is the result for a terminal: what stood still, what moved, and
// what would decide what is open.
func (a *App) MeasureText(r measure.Result) string {
	var b strings.Builder
	for i, h := range r.Hypotheses {
		if len(r.Hypotheses) > 1 {
			fmt.Fprintf(&b, "Reading %d of %d\n", i+1, len(r.Hypotheses))
		}
		b.WriteString(wrap(fmt.Sprintf("Stood still: %s; %s.", joined(h.Steady), h.Because), "", "  ", 96))
		moved := "none"
		if len(h.Moved) > 0 {
			moved = joined(h.Moved)
		}
		b.WriteString(wrap("Moved: "+moved+".", "", "  ", 96))
		fmt.Fprintf(&b, "%-8s %9s %9s %9s %9s  %-9s %7s\n", "point", "x mm", "y mm", "z mm", "± k=2", "tolerance", "prob.")
		for _, p := range h.Points {
			worst := max(p.ExpandedMM[0], p.ExpandedMM[1], p.ExpandedMM[2])
			fmt.Fprintf(&b, "%-8s %+9.2f %+9.2f %+9.2f %9.2f  %-9s %6.1f%%\n", p.ID, p.ShiftMM[0], p.ShiftMM[1], p.ShiftMM[2], worst, p.Tolerance, 100*p.Probability)
			if p.Needs != "" {
				b.WriteString(wrap("what would decide it: "+p.Needs, "         ", "         ", 96))
			}
		}
	}
	for _, w := range r.Why {
		b.WriteString(wrap("Not certain: "+w, "", "  ", 96))
	}
	for _, n := range r.Notes {
		b.WriteString(wrap(fmt.Sprintf("%s: %s: %s", n.Severity, n.Where, n.Text), "", "  ", 96))
	}
	return b.String()
}
