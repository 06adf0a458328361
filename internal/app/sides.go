package app

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// twinRow is a row of a table of points without places: which point is whose twin.
type twinRow struct {
	ID     body.PointID        `doc:"id,required"`
	Mirror body.PointID        `doc:"mirror" help:"its twin on the other side; empty for a point on the centre plane"`
	Std    unit.Maybe[float64] `doc:"std_mm" help:"manufacturing spread per coordinate, as a standard deviation"`
	Name   string              `doc:"name"`
}

// withoutPlaces says that the header of a table of points names no coordinate.
func withoutPlaces(data []byte) bool {
	head, _, _ := strings.Cut(strings.TrimPrefix(string(data), "\ufeff"), "\n")
	cells := strings.Split(head, ",")
	for i := range cells {
		cells[i] = strings.Trim(cells[i], " \r\"")
	}
	return slices.Contains(cells, "mirror") && !slices.ContainsFunc(cells, func(c string) bool { return c == "x_mm" || c == "y_mm" || c == "z_mm" })
}

// readPoints reads a table of points; placed is false when it names twins and no places.
func (a *App) readPoints(file string) (ps []body.Point, lines []int, placed bool, faults diag.Problems, err error) {
	data, err := a.read("", file, aDocument, "check the path")
	if err != nil {
		return nil, nil, false, nil, err
	}
	if !withoutPlaces(data) {
		ps, lines, faults, err = readRows[body.Point](a, file)
		return ps, lines, true, faults, err
	}
	rows, lines, faults, err := readRows[twinRow](a, file)
	for _, r := range rows {
		ps = append(ps, body.Point{ID: r.ID, Mirror: r.Mirror, Std: r.Std, Name: r.Name})
	}
	return ps, lines, false, faults, err
}

// checkTwins demands that twins name each other, and that there are some.
func checkTwins(ps []body.Point, lines []int) diag.Problems {
	var out diag.Problems
	twin := map[body.PointID]body.PointID{}
	for _, p := range ps {
		twin[p.ID] = p.Mirror
	}
	any := false
	for i, p := range ps {
		other, there := twin[p.Mirror]
		any = any || p.Mirror != ""
		if p.Mirror != "" && there && p.Mirror != p.ID && other != p.ID {
			out = append(out, diag.Problem{Line: lines[i], Field: "column mirror", Msg: fmt.Sprintf("point %q names %q as its twin, but %q does not name %q", p.ID, p.Mirror, p.Mirror, p.ID), Hint: "two twins name each other"})
		}
	}
	if !any {
		out = append(out, diag.Problem{Line: 1, Field: "column mirror", Msg: "no point has a twin, and none has a place", Hint: "without published places only twins can be compared"})
	}
	return out
}
