package plan

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
)

// A step of a treatment may be done once for all findings that the treatment is used on: of the
// job, or of one casting, part or zones. Its fixed minutes and amounts count once, what goes by
// length is added up. It is one step, with its hold point and its records once; what a finding
// has to show by itself belongs to a step without 'once', or to the procedure.

// onceFor is a step that is done once, and for which items.
type onceFor struct {
	node  *node
	step  body.Step
	items []Item
}

// onceKey is what a step of an item is done once for: of items with the same, it is one step.
// Empty: it is the item's own, also where it is not known where a finding lies.
func (b *builder) onceKey(it Item, st body.Step) string {
	var at []string
	add := func(where string) {
		if !slices.Contains(at, where) {
			at = append(at, where)
		}
	}
	switch st.Once {
	case "":
		return ""
	case body.OnceJob:
		add("job")
	default:
		for _, id := range it.Findings {
			f := b.findings[id]
			switch st.Once {
			case body.OnceCasting:
				add(string(f.Casting))
			case body.OncePart:
				add(string(f.Part))
			default:
				for _, z := range f.Zones {
					add(string(z.Zone))
				}
				if len(f.Zones) == 0 {
					add("")
				}
			}
		}
	}
	if len(at) == 0 || slices.Contains(at, "") {
		return ""
	}
	slices.Sort(at)
	return fmt.Sprintf("%s/%s %s %s", it.Treatment, st.ID, st.Once, strings.Join(at, ","))
}

// stepOnce makes a step of an item, or finds it where it was made for another one; false: that
// was so.
func (b *builder) stepOnce(it Item, t body.Treatment, st body.Step, m measure) (*node, bool) {
	key := b.onceKey(it, st)
	if key == "" {
		return b.itemStep(it, t, st, m), true
	}
	if o := b.once[key]; o != nil {
		return o.node, false
	}
	o := &onceFor{step: st}
	for _, x := range b.items {
		if x.Treatment == it.Treatment && b.onceKey(x, st) == key {
			o.items = append(o.items, x)
		}
	}
	b.once[key] = o
	all, sum := b.asOne(o.items)
	o.node = b.itemStep(all, t, st, sum)
	if t.UsesNewPart(st) {
		o.node.step.Takes = nil
		for _, x := range o.items {
			o.node.step.Takes = append(o.node.step.Takes, b.boughtBy(x)...)
		}
	}
	return o.node, true
}

// asOne is items as one, as far as a step that serves all of them is concerned, and the sum of
// their lengths.
func (b *builder) asOne(items []Item) (Item, measure) {
	all, sum := items[0], b.length(items[0])
	for _, x := range items[1:] {
		all.Findings = slices.Concat(all.Findings, x.Findings)
		if x.Line != all.Line {
			all.Line = ""
		}
		m := b.length(x)
		sum.mm += m.mm
		sum.from += " + " + m.from
		if sum.known = sum.known && m.known; sum.flaw == "" {
			sum.flaw = m.flaw
		}
	}
	all.Findings = slices.Clone(all.Findings)
	slices.SortFunc(all.Findings, byName)
	all.Findings = slices.CompactFunc(all.Findings, func(x, y job.FindingID) bool { return x == y })
	return all, sum
}

// savedSteps is the steps that several items share.
func (b *builder) savedSteps() []Saved {
	var out []Saved
	for _, o := range b.once {
		if n := len(o.items); n > 1 {
			out = append(out, Saved{Step: o.node.step.Ref, Name: o.node.step.Name, Times: n, Minutes: float64(o.step.Fixed) * float64(n-1)})
			o.node.step.Because += fmt.Sprintf("; done once for all of them (%s): %s min saved", o.step.Once, num(out[len(out)-1].Minutes))
		}
	}
	slices.SortFunc(out, func(x, y Saved) int { return strings.Compare(x.Step, y.Step) })
	return out
}

// eachOf is the amounts that are used whatever the length.
func eachOf(uses []body.Use) []body.Use {
	var out []body.Use
	for _, u := range uses {
		out = append(out, body.Use{Material: u.Material, Each: u.Each})
	}
	return out
}

// byLength is a step without what counts once.
func byLength(st body.Step) body.Step {
	st.Fixed = 0
	st.Uses = slices.Clone(st.Uses)
	for i := range st.Uses {
		st.Uses[i].Each.Value = 0
	}
	return st
}

// hasOnce says that a step of an item may be done once with those of others.
func (b *builder) hasOnce(it Item) bool {
	return slices.ContainsFunc(b.treatment(it).Steps, func(st body.Step) bool { return b.onceKey(it, st) != "" })
}

// doneOnce is the steps of an item that are done once, as things that are paid for once.
func (w *Weigher) doneOnce(b *builder, it Item) []int {
	var out []int
	for _, st := range b.treatment(it).Steps {
		key := b.onceKey(it, st)
		if key == "" {
			continue
		}
		i, ok := w.once[key]
		if !ok {
			i = len(w.cost)
			w.once[key] = i
			w.steps = append(w.steps, st)
			w.cost = append(w.cost, b.handling(st.Skill, st.Fixed)+b.supplies(eachOf(st.Uses), 0))
		}
		out = append(out, i)
	}
	return out
}
