package plan

import (
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// removalModel puts the question into sets and whole numbers.
func (b *builder) removalModel(ids []body.PartID, targets map[body.PartID]bool, goals []goal) *removal {
	m := &removal{work: b.in.Work, ids: ids, limit: removalLimit, entries: make([][][]set, len(ids)), partCost: make([]int64, len(ids)),
		lossCost: make([]int64, len(ids)), tasks: make([]uint64, len(ids))}
	at := map[body.PartID]int{}
	for i, id := range ids {
		at[id] = i
	}
	for i, id := range ids {
		p := b.part(id)
		m.entries[i] = b.entriesOf(string(id), at)
		m.partCost[i] = b.handling(p.Skill, p.Off, p.On)
		m.lossCost[i] = b.weight(float64(p.Price.Minor)*costScale) + b.coatWeight(p)
		if targets[id] {
			m.targets, m.renewed = m.targets|1<<i, m.renewed|1<<i
			m.lossCost[i] = 0 // bought whatever else happens
		}
		if p.OneTime {
			m.oneTime |= 1 << i
		}
		if b.members[id] != nil {
			m.kept |= 1 << i
		}
	}
	for _, g := range goals {
		m.goals = append(m.goals, b.entriesOf(g.to, at)...)
	}
	for _, j := range b.joints {
		if l := setOf(j.Layers, at); l != 0 {
			m.joints = append(m.joints, removalJoint{layers: l, destroys: setOf(j.Destroys, at), cost: b.handling(j.Skill, j.Open, j.Refit) + b.supplies(j.Uses, float64(j.Length)) + b.jointCost(j, false), fresh: b.jointCost(j, true)})
			if k := &m.joints[len(m.joints)-1]; b.isCut(j) {
				k.cost, k.fresh = k.cost+k.fresh, 0
			}
		}
	}
	b.taskCosts(m)
	b.unknownIn(m)
	return m
}

// setOf is the parts by their places.
func setOf(list []body.PartID, at map[body.PartID]int) set {
	var s set
	for _, p := range list {
		if i, ok := at[p]; ok {
			s |= 1 << i
		}
	}
	return s
}

// entriesOf is the entries of a part, zone or section line as sets.
func (b *builder) entriesOf(to string, at map[body.PartID]int) [][]set {
	var out [][]set
	for _, entry := range b.accessTo(to) {
		var alts []set
		for _, alt := range entry {
			alts = append(alts, setOf(alt, at))
		}
		out = append(out, alts)
	}
	return out
}

// handling is minutes at the shop's rate, in cost units.
func (b *builder) handling(s body.SkillID, minutes ...unit.Minutes) int64 {
	sum := int64(0)
	for _, m := range minutes {
		sum += b.labour(float64(m), s)
	}
	return sum
}

// supplies is what materials cost along a length, in cost units: by the amount, waste
// included, whole packs not.
func (b *builder) supplies(uses []body.Use, mm float64) int64 {
	sum := int64(0)
	for _, u := range uses {
		m := b.mats[u.Material]
		if m.Pack.Value <= 0 {
			continue
		}
		sum += b.supply(m, u.Each.Value+float64(u.PerMetre.Value*mm/1000)+float64(u.PerArea.Value*mm*float64(u.Width)/1e6))
	}
	return sum
}

// supply is what an amount of a material costs, in cost units.
func (b *builder) supply(m body.Material, amount float64) int64 {
	return b.weight(math.Floor(amount * (1 + float64(m.Waste)) / m.Pack.Value * float64(m.Price.Minor) * costScale))
}

// milli is thousandths, rounded half away from zero.
func milli(v float64) int64 {
	if v < 0 {
		return -milli(-v)
	}
	return unit.Whole(float64(v*1000) + 0.5)
}

// mostWeight is the most that one thing weighs, in cost units: 1.5 thousand million of a
// currency. Sums of such weights fit whole numbers.
const mostWeight = 1 << 53

// weight is a cost in cost units. One that is beyond what is weighed is told, since then
// nobody knows which way is the cheapest.
func (b *builder) weight(v float64) int64 {
	if !(v <= mostWeight) {
		b.block("prices", diag.Say("plan.beyond-weighing", "a price, a rate or a time is so large that what is cheapest cannot be told"), "see whether a digit is wrong in the prices and times of body and shop")
	}
	return min(unit.Whole(v), mostWeight)
}

// labour is minutes at the shop's rate, in cost units.
func (b *builder) labour(minutes float64, s body.SkillID) int64 {
	m, rate := milli(minutes), b.rate(s)
	if v := float64(m) * float64(rate); v > mostWeight {
		return b.weight(v)
	}
	return m * rate
}

// taskCosts adds what a part's removal brings with it, except tasks the job
// needs anyway. At most 64 such tasks are weighed.
func (b *builder) taskCosts(m *removal) {
	anyway := b.anyway
	if anyway == nil {
		anyway = map[body.TaskID]bool{}
		b.needs(anyway)
	}
	index := map[body.TaskID]int{}
	for i, id := range m.ids {
		for _, t := range sortedTasks(b.broughtBy(id)) {
			if anyway[t] {
				continue
			}
			k, ok := index[t]
			if !ok {
				if len(index) == 64 {
					continue
				}
				k = len(index)
				index[t] = k
				st := b.tasks[t].Step
				m.taskCost = append(m.taskCost, b.handling(st.Skill, st.Fixed)+b.supplies(st.Uses, 0))
			}
			m.tasks[i] |= 1 << k
		}
	}
}

// broughtBy is the tasks that taking off a part brings with it.
func (b *builder) broughtBy(id body.PartID) map[body.TaskID]bool {
	brought := map[body.TaskID]bool{}
	for _, tr := range b.in.Body.Triggers {
		if slices.Contains(b.whole(id), tr.Part) {
			b.withNeeds(brought, tr.Before...)
			b.withNeeds(brought, tr.After...)
		}
	}
	return brought
}

func sortedTasks(m map[body.TaskID]bool) []body.TaskID {
	out := make([]body.TaskID, 0, len(m))
	for t := range m {
		out = append(out, t)
	}
	slices.Sort(out)
	return out
}

// withNeeds adds tasks, all they need, and what undoes them.
func (b *builder) withNeeds(to map[body.TaskID]bool, ids ...body.TaskID) {
	for _, id := range ids {
		if !to[id] {
			to[id] = true
			t := b.tasks[id]
			b.withNeeds(to, t.Needs...)
			b.withNeeds(to, t.Step.While...)
			b.withNeeds(to, t.UndoneBy...)
		}
	}
}

// minor is cost units in minor units, rounded half away from zero.
func minor(cost int64) unit.Minor { return unit.Minor(1).Times(cost, costScale) }
