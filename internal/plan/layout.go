package plan

import (
	"fmt"
	"math"

	"fettle/internal/body"
)

// rowOf is one row of rivets along a length.
type rowOf struct {
	count int
	pitch float64 // as laid out, mm
}

// row lays rivets along lengthMM: the first and last at the end distance, the
// others evenly between, no farther apart than the pitch: n = ceil((L - 2e)/p)
// + 1. A row shorter than two end distances has no place for a rivet.
func row(lengthMM, endMM, pitchMM float64) (rowOf, bool) {
	free := lengthMM - 2*endMM
	if free < 0 || pitchMM <= 0 {
		return rowOf{}, false
	}
	gaps := math.Ceil(free/pitchMM - 1e-9)
	if gaps == 0 {
		return rowOf{count: 1}, true
	}
	return rowOf{count: int(gaps) + 1, pitch: free / gaps}, true
}

// layoutLength is how long the joint is: a plate reaches past the crack on
// both sides.
func layoutLength(it Item, l *body.Layout, m measure) float64 {
	if it.Kind == body.SectionOff || it.Kind == body.ReplaceCasting {
		return m.mm
	}
	return m.mm + 2*float64(l.PlateOver)
}

// rivets counts the rivets of a step's layout and checks it against the least
// distances of the rivet. It is a check and a takeoff, never a design.
func (b *builder) rivets(it Item, st body.Step, m measure) (int, string) {
	l := st.Layout
	if l == nil || l.Rivet == "" || !m.known {
		return 0, ""
	}
	where := string(it.Treatment) + "/" + st.ID
	length := layoutLength(it, l, m)
	r, ok := row(length, float64(l.EndDistance), float64(l.Pitch))
	if !ok {
		b.block("plan.layout-short", where, fmt.Sprintf("a row of %s mm has no place for rivets %s from each end", num(length), l.EndDistance), "follow the manufacturer's drawing")
		return 0, ""
	}
	mat, ok := b.material(l.Rivet, where)
	if !ok {
		return 0, ""
	}
	if r.count > 1 && r.pitch < float64(mat.MinPitch) {
		b.block("plan.pitch", where, fmt.Sprintf("rivets would stand %s mm apart; %s needs at least %s", num(r.pitch), mat.Name, mat.MinPitch), "follow the manufacturer's drawing")
	}
	if l.EndDistance < mat.MinEdge {
		b.block("plan.edge", where, fmt.Sprintf("the first rivet is %s from the end; %s needs at least %s", l.EndDistance, mat.Name, mat.MinEdge), "follow the manufacturer's drawing")
	}
	rows := max(1, l.Rows)
	b.checkFlange(it, rows, mat, where)
	return rows * r.count, fmt.Sprintf("%d row(s) x (ceil((%s mm - 2 x %s) / %s) + 1 = %d), %s mm apart",
		rows, num(length), l.EndDistance, l.Pitch, r.count, num(r.pitch))
}

// checkFlange says when the rows cannot stand side by side on the flange of a
// section joint: it takes (rows - 1) pitches and an edge distance on each side.
func (b *builder) checkFlange(it Item, rows int, mat body.Material, where string) {
	line, ok := b.in.Body.Line(it.Line)
	if it.Kind != body.SectionOff || !ok || line.FlangeWidth <= 0 {
		return
	}
	need := float64(float64(rows-1)*float64(mat.MinPitch)) + float64(2*mat.MinEdge)
	if need > float64(line.FlangeWidth) {
		b.block("plan.flange", where, fmt.Sprintf("%d row(s) of %s need a flange of %s mm; that of %s is %s", rows, mat.Name, num(need), line.ID, line.FlangeWidth),
			"follow the manufacturer's drawing")
	}
}

// layoutUses adds the rivets, adhesive and plate of a step's layout.
func (b *builder) layoutUses(n *node, it Item, st body.Step, m measure, rivets int, formula string) {
	l := st.Layout
	if l == nil || !m.known {
		return
	}
	where := string(it.Treatment) + "/" + st.ID
	if rivets > 0 {
		b.use(n, l.Rivet, float64(rivets), "", formula, where)
	}
	length := layoutLength(it, l, m)
	if l.Adhesive != "" && l.BeadWidth > 0 && l.BondLine > 0 {
		ml := length * float64(l.BeadWidth) * float64(l.BondLine) / 1000
		b.use(n, l.Adhesive, ml, "ml", fmt.Sprintf("%s mm x %s x %s / 1000 = %s ml", num(length), l.BeadWidth, l.BondLine, num(ml)), where)
	}
	if l.Plate != "" {
		b.plate(n, l, m.mm, where)
	}
}

// plate adds the blank of a backing plate: (L + 2 o) by 2 o for a length L and
// an overlap o on every side.
func (b *builder) plate(n *node, l *body.Layout, mm float64, where string) {
	mat, ok := b.material(l.Plate, where)
	if !ok {
		return
	}
	long, wide := mm+2*float64(l.PlateOver), 2*float64(l.PlateOver)
	text := fmt.Sprintf("(%s mm + 2 x %s) x 2 x %s = %s mm x %s mm", num(mm), l.PlateOver, l.PlateOver, num(long), num(wide))
	perMM2 := map[string]float64{"mm2": 1, "cm2": 0.01, "m2": 1e-6}
	if f, ok := perMM2[mat.Pack.Unit]; ok {
		b.use(n, l.Plate, long*wide*f, mat.Pack.Unit, text, where)
		return
	}
	b.use(n, l.Plate, 1, mat.Pack.Unit, "1 blank of "+text, where)
}
