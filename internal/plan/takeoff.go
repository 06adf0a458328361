package plan

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// use is one use of a material by a step.
type use struct {
	node    *node
	mat     body.MaterialID
	amount  float64
	formula string
}

// use notes an amount in a unit; an empty unit is the unit of the pack. Another
// unit than the pack's blocks: it is never converted by guess.
func (b *builder) use(n *node, id body.MaterialID, amount float64, unit, formula, where string) {
	m, ok := b.material(id, where)
	if !ok {
		return
	}
	if unit != "" && unit != m.Pack.Unit {
		b.block(where, diag.Say("plan.material-unit", "{material} is used in {unit} but packed in {packed}, so the amount to order cannot be told", m.Name, unit, m.Pack.Unit),
			"write both with the same unit in the body folder")
		return
	}
	b.uses = append(b.uses, use{n, id, amount, formula})
	n.batch(m)
}

// stepUses adds the materials of a step or joint: a fixed amount, so much for
// each metre, and so much for each square metre of a strip L x w.
func (b *builder) stepUses(n *node, uses []body.Use, mm float64, where string) {
	for _, u := range uses {
		if u.Each.Value != 0 {
			b.use(n, u.Material, u.Each.Value, u.Each.Unit, u.Each.String(), where)
		}
		if u.PerMetre.Value != 0 {
			a := u.PerMetre.Value * mm / 1000
			b.use(n, u.Material, a, u.PerMetre.Unit, fmt.Sprintf("%s for each metre x %s mm = %s %s", u.PerMetre, num(mm), num(a), u.PerMetre.Unit), where)
		}
		if u.PerArea.Value != 0 && !u.BySurface() {
			a := u.PerArea.Value * mm * float64(u.Width) / 1e6
			b.use(n, u.Material, a, u.PerArea.Unit, fmt.Sprintf("%s for each m2 x %s mm x %s = %s %s", u.PerArea, num(mm), u.Width, num(a), u.PerArea.Unit), where)
		}
	}
}

// mostPacks is the most packs of a material that are counted.
const mostPacks = 1_000_000

// packsOf is how many whole packs hold an amount.
func packsOf(gross, pack float64) int {
	packs := math.Ceil(float64(gross/pack) - 1e-9)
	if !(packs <= mostPacks) {
		return mostPacks
	}
	return int(max(0, packs))
}

// takeoff sums the uses of each material, adds its waste and rounds up to whole
// packs.
func (b *builder) takeoff() []Takeoff {
	uses := slices.Clone(b.uses)
	sort.SliceStable(uses, func(i, j int) bool {
		if uses[i].mat != uses[j].mat {
			return uses[i].mat < uses[j].mat
		}
		return uses[i].node.rank < uses[j].node.rank
	})
	var out []Takeoff
	for _, u := range uses {
		if n := len(out); n == 0 || out[n-1].Material != u.mat {
			m := b.mats[u.mat]
			out = append(out, Takeoff{Material: u.mat, Name: m.Name, Kind: m.Kind, Unit: m.Pack.Unit, Pack: m.Pack.Value})
		}
		t := &out[len(out)-1]
		t.Net += u.amount
		t.Lines = append(t.Lines, TakeoffLine{Step: u.node.step.ID, Amount: u.amount, Formula: u.formula})
	}
	for i := range out {
		t := &out[i]
		t.Gross = t.Net * (1 + float64(b.mats[t.Material].Waste))
		if t.Pack <= 0 {
			b.block(string(t.Material), diag.Say("plan.pack", "{material} has no pack size, so it cannot be ordered", t.Name), "give its pack in the body folder")
			continue
		}
		if packs := math.Ceil(float64(t.Gross/t.Pack) - 1e-9); !(packs <= mostPacks) {
			b.block(string(t.Material), diag.Say("plan.packs", "{packs:g} packs of {material} are no number that anybody orders", packs, t.Name), "see whether a digit or a unit is wrong in its pack or in what is used of it")
		}
		t.Packs = packsOf(t.Gross, t.Pack)
	}
	return out
}
