package body

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/unit"
)

// maxDraftPoints protects the machine: every point is held against every other one.
const maxDraftPoints = 2000

func (m *maker) makePoints() {
	own, _ := PointColumns()
	if t := m.d.Points; t != nil && len(t.Rows) > maxDraftPoints {
		m.problems = append(m.problems, diag.Problem{File: t.File, Msg: fmt.Sprintf("the table has more than %d rows", maxDraftPoints), Hint: "begin with the control points of the structure"})
		return
	}
	m.points = m.read(m.d.Points, own)
	if len(m.points.rows) == 0 {
		return
	}
	m.splitSides()
	m.nameSides()
	if m.d.BothSides {
		m.addSides()
	}
	m.mirrors()
	m.tolerances()
	m.nominated()
	m.sections()
	axes := m.d.Axes
	m.tell("axes: x %s, y %s, z %s", cmp.Or(axes.X, "rearward"), cmp.Or(axes.Y, "right"), cmp.Or(axes.Z, "up"))
}

// sectionColumn is the column of points that names their sections.
const sectionColumn = "section"

// sections makes those that points name, called as they are named there.
func (m *maker) sections() {
	var named []string
	column := slices.IndexFunc(m.points.from.columns, func(c column) bool { return strings.EqualFold(c.name, sectionColumn) })
	for i, r := range m.points.rows {
		s := r[sectionColumn]
		if s != "" && !idForm.MatchString(s) {
			m.problems = append(m.problems, m.points.from.t.Problem(m.points.of[i], column, fmt.Sprintf("%q is not an identity", s), "use letters, digits, '-', '_' and '.', beginning with a letter or digit"))
		} else if s != "" && !slices.Contains(named, s) {
			named = append(named, s)
			m.b.Sections = append(m.b.Sections, Section{ID: SectionID(s), Name: s})
		}
	}
	if len(named) > 0 {
		m.tell("sections, named as in the table: %s", strings.Join(named, ", "))
	}
}

// splitSides makes two points of a row whose y stands behind ±.
func (m *maker) splitSides() {
	t := &m.points
	var rows []map[string]string
	var of []int
	var told []string
	for i, r := range t.rows {
		y, both := strings.CutPrefix(r["y_mm"], bothSides)
		if both && y == "0" {
			both, r["y_mm"] = false, y
		}
		if !both {
			rows, of = append(rows, r), append(of, t.of[i])
			continue
		}
		for _, y := range []string{"-" + y, y} {
			c := map[string]string{}
			for k, v := range r {
				c[k] = v
			}
			c["y_mm"] = y
			c["id"] = r["id"] + "-" + m.side(c)
			rows, of = append(rows, c), append(of, t.of[i])
		}
		told = append(told, r["id"])
	}
	t.rows, t.of = rows, of
	if len(told) > 0 {
		m.tell("two points each, -L and -R by the sign of y, since y is given with %s: %s", bothSides, strings.Join(told, ", "))
	}
}

// side is L or R: the side a point is on, by the sign of its y; empty for one that is on neither.
func (m *maker) side(r map[string]string) string {
	y := number(r["y_mm"])
	switch {
	case y == 0 || math.IsNaN(y):
		return ""
	case (y < 0) == (m.d.Axes.Y != Left):
		return "L"
	}
	return "R"
}

// number is a number that this package wrote into a cell.
func number(cell string) float64 {
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

// spot is where a point lies.
type spot struct {
	side string
	at   [3]float64
}

func (m *maker) spot(r map[string]string) spot {
	return spot{m.side(r), [3]float64{number(r["x_mm"]), number(r["y_mm"]), number(r["z_mm"])}}
}

func (m *maker) spots() []spot {
	out := make([]spot, len(m.points.rows))
	for i, r := range m.points.rows {
		out[i] = m.spot(r)
	}
	return out
}

// facing says that two points lie at mirrored places.
func (m *maker) facing(a, b spot) bool {
	near := func(x, y float64) bool { return math.Abs(x-y) <= float64(m.d.MirrorWithin) }
	return a.side != "" && b.side != "" && a.side != b.side && near(a.at[0], b.at[0]) && near(a.at[1], -b.at[1]) && near(a.at[2], b.at[2])
}

// nameSides gives the two rows of one name that lie at mirrored places their sides.
func (m *maker) nameSides() {
	t := m.points
	at := map[string][]int{}
	for i, r := range t.rows {
		at[r["id"]] = append(at[r["id"]], i)
	}
	var told []string
	for i, r := range t.rows {
		id := r["id"]
		pair := at[id]
		if id == "" || len(pair) != 2 || pair[0] != i || !m.facing(m.spot(r), m.spot(t.rows[pair[1]])) {
			continue
		}
		for _, k := range pair {
			t.rows[k]["id"] = id + "-" + m.side(t.rows[k])
		}
		told = append(told, id)
	}
	if len(told) > 0 {
		m.tell("named -L and -R by the sign of y, since two points at mirrored places have one name: %s", strings.Join(told, ", "))
	}
}

// addSides adds the twin of every point that is off the centre plane and has none.
func (m *maker) addSides() {
	t := &m.points
	there := map[string]bool{}
	for _, r := range t.rows {
		there[r["id"]] = true
	}
	var told []string
	spots := m.spots()
	for i, r := range slices.Clone(t.rows) {
		side := spots[i].side
		if side == "" || r["mirror"] != "" || slices.ContainsFunc(spots, func(o spot) bool { return m.facing(spots[i], o) }) {
			continue
		}
		other := map[string]string{"L": "R", "R": "L"}[side]
		id := r["id"] + "-" + other
		if s := sideLetter.FindStringSubmatch(r["id"]); s != nil && s[2] == side {
			id = s[1] + other
		}
		if there[id] {
			m.problems = append(m.problems, m.points.from.t.Problem(t.of[i], doc.WholeRow, fmt.Sprintf("the point on the other side of %q would be called %q, and a point of that name is there at another place", r["id"], id), "give both sides in the table, or another name"))
			continue
		}
		there[id] = true
		twin := map[string]string{"id": id, "x_mm": r["x_mm"], "y_mm": strings.TrimPrefix("-"+r["y_mm"], "--"), "z_mm": r["z_mm"]}
		for _, same := range []string{"tol_mm", "tol_x_mm", "tol_y_mm", "tol_z_mm", "std_mm", "section", "name"} {
			twin[same] = r[same]
		}
		t.rows, t.of = append(t.rows, twin), append(t.of, t.of[i])
		told = append(told, id)
	}
	if len(told) > 0 {
		m.tell("added at mirrored places, since the table holds for both sides: %s (none of them a reference point or on a part)", strings.Join(told, ", "))
	}
}

// mirrors fills in the twins of points that face one another and nothing else.
func (m *maker) mirrors() {
	rows := m.points.rows
	byID := map[string]map[string]string{}
	for _, r := range rows {
		byID[r["id"]] = r
	}
	var back, pairs, unclear, alone []string
	for _, r := range rows {
		if twin := byID[r["mirror"]]; twin != nil && twin["mirror"] == "" && r["mirror"] != r["id"] {
			twin["mirror"] = r["id"]
			back = append(back, twin["id"])
		}
	}
	spots := m.spots()
	for i, r := range rows {
		if r["mirror"] != "" || spots[i].side == "" {
			continue
		}
		facing := m.allFacing(spots, i)
		switch {
		case len(facing) == 1 && len(m.allFacing(spots, facing[0])) == 1 && rows[facing[0]]["mirror"] == "":
			twin := rows[facing[0]]
			r["mirror"], twin["mirror"] = twin["id"], r["id"]
			pairs = append(pairs, r["id"]+" and "+twin["id"])
		case len(facing) > 0:
			unclear = append(unclear, r["id"])
		default:
			alone = append(alone, r["id"])
		}
	}
	for _, x := range []struct {
		what string
		ids  []string
	}{{"mirror points, since the other one names them: ", back}, {"mirror points by their places: ", pairs},
		{"not filled in, since it is not clear which point is the mirror of: ", unclear}, {"no point lies at the mirrored place of: ", alone}} {
		if len(x.ids) > 0 {
			m.tell("%s%s", x.what, strings.Join(x.ids, ", "))
		}
	}
}

func (m *maker) allFacing(spots []spot, i int) []int {
	var out []int
	for k, o := range spots {
		if m.facing(spots[i], o) {
			out = append(out, k)
		}
	}
	return out
}

// tolerances gives the points without a tolerance the one that is said for them.
func (m *maker) tolerances() {
	var without []int
	for i, r := range m.points.rows {
		if r["tol_mm"]+r["tol_x_mm"]+r["tol_y_mm"]+r["tol_z_mm"] == "" {
			without = append(without, i)
		}
	}
	if len(without) == 0 {
		return
	}
	if m.d.Tol == "" {
		m.ask(askTol, fmt.Sprintf("%d of %d points have no tolerance", len(without), len(m.points.rows)), "fill in the column 'tol', or say the maker's for all points without, for example '3 mm'")
		return
	}
	var tol unit.MM
	if err := tol.UnmarshalText([]byte(m.d.Tol)); err != nil {
		m.ask(askTol, err.Error(), "say it with its unit, for example '3 mm'")
		return
	}
	for _, i := range without {
		m.points.rows[i]["tol_mm"] = strconv.FormatFloat(float64(tol), 'f', -1, 64)
	}
	m.tell("tolerance of %s for the %d points without one", tol, len(without))
}

// nominated marks the reference points that are said, where the table marks none.
func (m *maker) nominated() {
	marked := 0
	for _, r := range m.points.rows {
		if !slices.Contains([]string{"", "no", "false"}, r["reference"]) {
			marked++
		}
	}
	if marked > 0 && len(m.d.References) > 0 {
		m.ask(askRefs, "the table names reference points itself", "leave them out here, or in the table")
		return
	}
	if marked == 0 && len(m.d.References) < 3 {
		ids := make([]string, len(m.points.rows))
		for i, r := range m.points.rows {
			ids[i] = r["id"]
		}
		of := ""
		if len(ids) <= 24 {
			of = ", of " + strings.Join(ids, ", ")
		}
		m.ask(askRefs, "at least three reference points are needed"+of, "name the points that the maker nominates, three or more that are not in one line, with commas between")
		return
	}
	for _, id := range m.d.References {
		i := slices.IndexFunc(m.points.rows, func(r map[string]string) bool { return r["id"] == string(id) })
		if i < 0 {
			m.problems = append(m.problems, diag.Problem{Field: askRefs, Msg: fmt.Sprintf("there is no point %q", id), Hint: "name points of the table; those that were given a side end in -L or -R"})
			continue
		}
		m.points.rows[i]["reference"] = "yes"
	}
}
