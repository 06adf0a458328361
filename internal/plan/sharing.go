package plan

import (
	"math/bits"
	"slices"
	"strings"

	"fettle/internal/body"
)

// Sharing is what demands have in common as things with a cost, each paid once,
// and conditions between them: parts that come off, joints that are opened, parts
// that are lost, tasks. The least cost of things that meet the conditions is never
// more than Shared: parts that wait for one another in a circle are not seen.
type Sharing struct {
	Cost  []int64 // of each thing, in weights
	Needs []SharingNeed
	opens map[int][][]int
	tasks map[int]int
}

// SharingNeed says that a thing needs one of others.
type SharingNeed struct {
	Who   int
	OneOf []int
}

// Of is what a demand needs: of every list one thing.
func (s *Sharing) Of(d Demand) [][]int {
	var out [][]int
	for i := range 256 {
		if d.opens.has(i) {
			out = append(out, s.opens[i]...)
		}
		if t, ok := s.tasks[i]; ok && d.tasks.has(i) {
			out = append(out, []int{t})
		}
	}
	return out
}

func (s *Sharing) thing(cost int64) int {
	s.Cost = append(s.Cost, cost)
	return len(s.Cost) - 1
}

func (s *Sharing) need(who int, oneOf ...int) {
	s.Needs = append(s.Needs, SharingNeed{who, oneOf})
}

// maxSharing is the number of choices of assemblies that are told one by one.
const maxSharing = 8

// Sharing is what parts of the demand could have in common, once for each choice
// of assemblies: the least over all of them counts. Castings in the demand are
// taken as replaced whatever is chosen. Where openings cannot be told in full,
// only the tasks are, which lowers the cost.
func (w *Weigher) Sharing(d Demand) []Sharing {
	b, targets, goals := w.asked(d)
	b.anyway = map[body.TaskID]bool{}
	for _, a := range w.in.Body.Assemblies {
		if slices.ContainsFunc(a.Parts, func(p body.PartID) bool { return targets[p] }) {
			return []Sharing{w.onlyTasks(d)}
		}
	}
	qs, all, many := b.questions(targets, goals)
	if !all || many > 0 || len(qs) > maxSharing {
		return []Sharing{w.onlyTasks(d)}
	}
	var out []Sharing
	for _, q := range qs {
		b.gather(q.use)
		s := w.onlyTasks(d)
		w.openings(&s, b, q.model, d)
		out = append(out, s)
	}
	return out
}

// onlyTasks is the tasks of a demand.
func (w *Weigher) onlyTasks(d Demand) Sharing {
	s := Sharing{opens: map[int][][]int{}, tasks: map[int]int{}}
	for i, c := range w.cost {
		if d.tasks.has(i) {
			s.tasks[i] = s.thing(c)
		}
	}
	return s
}

// openings adds what comes off.
func (w *Weigher) openings(s *Sharing, b *builder, m *removal, d Demand) {
	part, at := make([]int, len(m.ids)), map[body.PartID]int{}
	for i, id := range m.ids {
		at[id] = i
		c := m.partCost[i]
		if m.oneTime.has(i) {
			c += m.lossCost[i]
		}
		part[i] = s.thing(c)
	}
	alone := map[set]int{}
	oneOf := func(entry []set) []int {
		var out []int
		for _, alt := range entry {
			if alt.count() == 1 {
				out = append(out, part[bits.TrailingZeros64(uint64(alt))])
				continue
			}
			k, ok := alone[alt]
			if !ok {
				k = s.thing(0)
				alone[alt] = k
				for i := range m.ids {
					if alt.has(i) {
						s.need(k, part[i])
					}
				}
			}
			out = append(out, k)
		}
		return out
	}
	for i := range m.ids {
		for _, e := range m.entries[i] {
			s.need(part[i], oneOf(e)...)
		}
	}
	fresh := s.joints(m, part)
	w.brings(s, b, m, part)
	for to, i := range w.opens {
		if !d.opens.has(i) {
			continue
		}
		kind, id, _ := strings.Cut(to, " ")
		if kind != "to" {
			k := at[body.PartID(id)]
			s.opens[i] = [][]int{{part[k]}}
			for _, z := range fresh[k] { // it is a new one
				s.opens[i] = append(s.opens[i], []int{z})
			}
		}
	}
	for i, to := range w.reached() {
		if to != "" && d.opens.has(i) {
			for _, e := range b.entriesOf(to, at) {
				s.opens[i] = append(s.opens[i], oneOf(e))
			}
		}
	}
}

// reached is what has to be reached, by identity; empty for what comes off.
func (w *Weigher) reached() []string {
	out := make([]string, len(w.opens))
	for to, i := range w.opens {
		if kind, id, _ := strings.Cut(to, " "); kind == "to" {
			out[i] = id
		}
	}
	return out
}

// joints adds the joints that parts bring, what they destroy, and what they need where a part of
// them is a new one: that, by part.
func (s *Sharing) joints(m *removal, part []int) [][]int {
	lost, fresh := map[int]int{}, make([][]int, len(m.ids))
	for _, j := range m.joints {
		z := s.thing(j.cost)
		for i := range m.ids {
			if j.layers.has(i) {
				s.need(part[i], z)
			}
			if !j.destroys.has(i) {
				continue
			}
			s.need(z, part[i])
			if m.oneTime.has(i) {
				continue
			}
			k, ok := lost[i]
			if !ok {
				k = s.thing(m.lossCost[i])
				lost[i] = k
			}
			s.need(z, k)
		}
	}
	for _, j := range m.joints {
		if j.fresh == 0 {
			continue
		}
		z := s.thing(j.fresh)
		for _, i := range j.layers.items() {
			fresh[i] = append(fresh[i], z)
			if m.oneTime.has(i) {
				s.need(part[i], z)
			} else if k, ok := lost[i]; ok {
				s.need(k, z)
			}
		}
	}
	return fresh
}

// brings adds the tasks that taking parts off brings, unless there are more than
// the search for an opening weighs.
func (w *Weigher) brings(s *Sharing, b *builder, m *removal, part []int) {
	if len(m.taskCost) >= 64 {
		return
	}
	for i, id := range m.ids {
		for _, t := range sortedTasks(b.broughtBy(id)) {
			x := w.tasks[t]
			k, ok := s.tasks[x]
			if !ok {
				k = s.thing(w.cost[x])
				s.tasks[x] = k
			}
			s.need(part[i], k)
		}
	}
}
