package plan

import (
	"math"
	"slices"

	"fettle/internal/body"
)

// Packed is a material of which nothing but treatments uses any, so that what a mix of
// treatments takes of it is known without a plan.
type Packed struct {
	Material body.MaterialID
	Price    int64 // of a pack, as a weight
}

// Packed are those materials, in the order of the body.
func (w *Weigher) Packed() []Packed {
	others := map[body.MaterialID]bool{}
	uses := func(list []body.Use) {
		for _, u := range list {
			others[u.Material] = true
		}
	}
	for _, t := range w.in.Body.Tasks {
		uses(t.Step.Uses)
		if l := t.Step.Layout; l != nil {
			for _, id := range []body.MaterialID{l.Rivet, l.Adhesive, l.Plate} {
				others[id] = true
			}
		}
	}
	for _, j := range w.in.Body.Joints {
		uses(j.Uses)
		for _, st := range slices.Concat(j.Before, j.After) {
			uses(st.Uses)
		}
	}
	for _, t := range w.in.Body.Treatments {
		for _, st := range t.Steps {
			if st.Once != "" {
				uses(st.Uses)
			}
		}
	}
	var out []Packed
	for _, m := range w.in.Body.Materials {
		if !others[m.ID] && m.Pack.Value > 0 && m.Price.Minor > 0 {
			out = append(out, Packed{m.ID, w.builder(nil).weight(float64(m.Price.Minor) * costScale)})
		}
	}
	return out
}

// Bare is Own without the packed materials, and how many packs of each the item uses up.
func (w *Weigher) Bare(it Item, packed []Packed) (int64, []float64) {
	b := w.builder([]Item{it})
	b.each = true
	b.ownSteps(b.items[0])
	sum, used := w.Own(it), make([]float64, len(packed))
	for _, u := range b.uses {
		m := b.mats[u.mat]
		if m.Pack.Value <= 0 {
			continue
		}
		packs := u.amount * (1 + float64(m.Waste)) / m.Pack.Value
		for k, p := range packed {
			if p.Material == u.mat {
				used[k] += packs
				sum -= b.weight(math.Floor(packs * float64(m.Price.Minor) * costScale))
			}
		}
	}
	return sum, used
}
