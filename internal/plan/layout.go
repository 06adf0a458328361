package plan

import (
	"fmt"
	"math"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// rowOf is one row of rivets along a length.
type rowOf struct {
	count int
	pitch float64 // as laid out, mm
}

// mostInRow is the most rivets of a row that are counted.
const mostInRow = 1_000_000

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
	if !(gaps < mostInRow) {
		return rowOf{count: mostInRow + 1, pitch: free / gaps}, true
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
// distances of the rivet and the published bounds it names. It is a check and a
// takeoff, never a design.
func (b *builder) rivets(it Item, st body.Step, m measure) (*Laid, string) {
	l := st.Layout
	if l == nil || l.Rivet == "" || !m.known {
		return nil, ""
	}
	where := string(it.Treatment) + "/" + st.ID
	length := layoutLength(it, l, m)
	r, ok := row(length, float64(l.EndDistance), float64(l.Pitch))
	if !ok {
		b.block(where, diag.Say("plan.layout-short", "a row of {length} mm has no place for rivets {end} from each end", figure(length), l.EndDistance), "follow the manufacturer's drawing")
		return nil, ""
	}
	if r.count > mostInRow {
		b.block(where, diag.Say("plan.rivets", "a row of {length} mm with a rivet every {pitch} has more rivets than anybody sets", figure(length), l.Pitch), "see whether a digit or a unit is wrong in the pitch or the length")
		return nil, ""
	}
	mat, ok := b.material(l.Rivet, where)
	if !ok {
		return nil, ""
	}
	rows := max(1, l.Rows)
	laid := &Laid{Rivet: mat.ID, Name: mat.Name, Rows: rows, PerRow: r.count, Count: rows * r.count, LengthMM: length, PitchMM: r.pitch,
		EndMM: float64(l.EndDistance), DrillMM: float64(mat.Drill), RivetMM: float64(mat.Length), StackMM: float64(l.Stack)}
	c := layoutCheck{b, laid, where}
	c.distances(*l, mat)
	c.published(*l, mat)
	c.grip(*l, mat)
	b.checkFlange(it, rows, *l, mat, where)
	return laid, fmt.Sprintf("%s x (ceil((%s mm - 2 x %s) / %s) + 1 = %d), %s mm apart",
		unit.Count(rows, "row"), num(length), l.EndDistance, l.Pitch, r.count, num(r.pitch))
}

// layoutCheck holds what the checks of one layout share.
type layoutCheck struct {
	b     *builder
	laid  *Laid
	where string
}

// least checks one distance against the least one; what is kept is on record.
func (c layoutCheck) least(code, what string, is, least float64, of string) {
	if least <= 0 {
		return
	}
	if is < least-1e-9 { // figures of a drawing: less apart than rounding is equal
		has, needs := numbers(is, least)
		const near = "{what} {has} mm; {of} needs at least {needs} mm"
		said := diag.Say("plan.pitch", near, what, has, of, needs)
		if code == "plan.edge" {
			said = diag.Say("plan.edge", near, what, has, of, needs)
		}
		c.b.block(c.where, said, "follow the manufacturer's drawing")
		return
	}
	c.laid.Checks = append(c.laid.Checks, fmt.Sprintf("%s %s mm, at least %s mm (%s)", what, num(is), num(least), of))
}

// distances checks the layout against the rivet's own data.
func (c layoutCheck) distances(l body.Layout, mat body.Material) {
	if c.laid.PerRow > 1 {
		c.least("plan.pitch", "distance between rivets", c.laid.PitchMM, float64(mat.MinPitch), mat.Name)
		if most := float64(mat.MaxPitch); most > 0 && c.laid.PitchMM > most {
			pitch, allows := numbers(c.laid.PitchMM, most)
			c.b.block(c.where, diag.Say("plan.pitch", "distance between rivets {pitch} mm; {material} allows at most {allows} mm", pitch, mat.Name, allows), "follow the manufacturer's drawing")
		}
	}
	c.least("plan.edge", "first rivet from the end", float64(l.EndDistance), float64(mat.MinEdge), mat.Name)
	if l.EdgeOff > 0 {
		c.least("plan.edge", "outer row from the edge", float64(l.EdgeOff), float64(mat.MinEdge), mat.Name)
	}
}

// published checks the layout against the bounds it names: multiples of the
// diameter of the hole or the shank.
func (c layoutCheck) published(l body.Layout, mat body.Material) {
	if l.Bounds == "" {
		return
	}
	x, ok := c.b.in.Body.RivetBounds(l.Bounds)
	d := float64(mat.Diameter)
	if x.Of == body.OfHole {
		d = float64(mat.Drill)
	}
	if !ok || d <= 0 {
		c.b.block(c.where, diag.Say("plan.bounds", "the layout cannot be checked with {bounds:q}: the bounds or the diameter of the {of} of {material} are not given", l.Bounds, x.Of, mat.Name), "give them in the body folder")
		return
	}
	of := func(times float64) string { return fmt.Sprintf("%s x %s mm, %s", num(times), num(d), x.Cite) }
	if c.laid.PerRow > 1 {
		c.least("plan.pitch", "distance between rivets", c.laid.PitchMM, float64(x.Pitch*d), of(x.Pitch))
	}
	c.least("plan.edge", "first rivet from the end", float64(l.EndDistance), float64(x.End*d), of(x.End))
	if l.EdgeOff > 0 {
		c.least("plan.edge", "outer row from the edge", float64(l.EdgeOff), float64(x.End*d), of(x.End))
	}
	if c.laid.Rows > 1 && l.RowGap > 0 {
		rows := x.Rows
		if rows == 0 {
			rows = x.Pitch
		}
		c.least("plan.pitch", "distance between rows", float64(l.RowGap), float64(rows*d), of(rows))
	}
}

// grip checks that the rivet clamps what is to be joined.
func (c layoutCheck) grip(l body.Layout, mat body.Material) {
	if l.Stack <= 0 || mat.GripHigh <= 0 {
		return
	}
	if l.Stack < mat.GripLow || l.Stack > mat.GripHigh {
		c.b.block(c.where, diag.Say("plan.grip", "{stack} is to be clamped; {material} clamps {low} to {high}", l.Stack, mat.Name, mat.GripLow, mat.GripHigh), "follow the manufacturer's drawing")
		return
	}
	c.laid.Checks = append(c.laid.Checks, fmt.Sprintf("clamps %s, grip %s to %s", l.Stack, mat.GripLow, mat.GripHigh))
}

// checkFlange says when the rows cannot stand side by side on the flange of a
// section joint: it takes the gaps between rows and an edge distance on each
// side, the least ones where the layout gives none.
func (b *builder) checkFlange(it Item, rows int, l body.Layout, mat body.Material, where string) {
	line, ok := b.in.Body.Line(it.Line)
	if it.Kind != body.SectionOff || !ok || line.FlangeWidth <= 0 {
		return
	}
	gap, edge := mat.MinPitch, mat.MinEdge
	if l.RowGap > 0 {
		gap = l.RowGap
	}
	if l.EdgeOff > 0 {
		edge = l.EdgeOff
	}
	need := float64(float64(rows-1)*float64(gap)) + float64(2*edge)
	if need > float64(line.FlangeWidth) {
		b.block(where, diag.Say("plan.flange", "{rows} of {material} need a flange of {need} mm; that of {line} is {width}", diag.Counted(rows, "row"), mat.Name, figure(need), line.ID, line.FlangeWidth),
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
	b.adhesive(n, l, length, where)
	if l.Plate != "" {
		b.plate(n, l, m.mm, where)
	}
}

// adhesive adds the squeezed bead, width x bond line along the joint, or the
// bond line over the whole plate. A round bead has to fill the squeezed one:
// pi d^2 / 4 of it is laid.
func (b *builder) adhesive(n *node, l *body.Layout, length float64, where string) {
	if l.Adhesive == "" || l.BondLine <= 0 {
		return
	}
	if l.WholePlate {
		wide := 2 * float64(l.PlateOver)
		ml := length * wide * float64(l.BondLine) / 1000
		b.use(n, l.Adhesive, ml, "ml", fmt.Sprintf("%s mm x %s mm x %s / 1000 = %s ml, over the whole plate", num(length), num(wide), l.BondLine, num(ml)), where)
		return
	}
	squeezed := float64(l.BeadWidth) * float64(l.BondLine)
	if squeezed <= 0 {
		return
	}
	if d := float64(l.BeadRound); d > 0 {
		laid := math.Pi / 4 * d * d
		if laid < squeezed {
			b.block(where, diag.Say("plan.bead", "a bead of {bead} mm holds {laid} mm2; {width} x {thickness} takes {squeezed} mm2", figure(d), figure(laid), l.BeadWidth, l.BondLine, figure(squeezed)), "lay a thicker bead, as the manufacturer says")
		}
		ml := length * laid / 1000
		b.use(n, l.Adhesive, ml, "ml", fmt.Sprintf("%s mm x pi/4 x (%s)^2 / 1000 = %s ml", num(length), l.BeadRound, num(ml)), where)
		return
	}
	ml := length * squeezed / 1000
	b.use(n, l.Adhesive, ml, "ml", fmt.Sprintf("%s mm x %s x %s / 1000 = %s ml", num(length), l.BeadWidth, l.BondLine, num(ml)), where)
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
