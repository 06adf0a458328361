package plan

import "sort"

// Work is minutes of work by skill, in the order the shop's people have them: a
// bound on the days no plan can beat. Skills beyond its size are left out, which
// only lowers the bound.
type Work [workSkills]float64

const workSkills = 12

// Plus is the work of both.
func (x Work) Plus(y Work) Work {
	for i := range x {
		x[i] += y[i]
	}
	return x
}

// Sum is the minutes of all skills.
func (x Work) Sum() float64 {
	sum := 0.0
	for _, m := range x {
		sum += m
	}
	return sum
}

// Least is the work that each of both takes at least.
func (x Work) Least(y Work) Work {
	for i := range x {
		x[i] = min(x[i], y[i])
	}
	return x
}

// crew is who does the work and when: how many have each skill, how many there are,
// and the working minutes of one of them up to the end of each day of the job.
type crew struct {
	index  map[string]int
	have   [workSkills]int
	people int
	upTo   []int
}

// crewDays is how many days are looked at; what takes longer is taken as this long.
const crewDays = 400

func (b *builder) crew() crew {
	c := crew{index: map[string]int{}, people: len(b.in.Shop.People)}
	for _, p := range b.in.Shop.People {
		for _, s := range p.Skills {
			k, ok := c.index[string(s)]
			if !ok {
				k = len(c.index)
				c.index[string(s)] = k
			}
			if k < workSkills {
				c.have[k]++
			}
		}
	}
	silent := len(b.notes)
	cal, _, ok := b.calendar()
	b.notes = b.notes[:silent] // the plan itself says what is wrong with the calendar
	if !ok {
		return c
	}
	off, more := map[int]bool{}, map[int]int{}
	for _, d := range cal.Off {
		off[d] = true
	}
	for _, s := range cal.Shifts {
		more[cal.Wall(s.At-1)/(24*60)] += max(0, -s.By) // an hour that the clock has twice may be worked twice
	}
	sum := 0
	for d := range crewDays {
		for _, w := range cal.Week[d%7] {
			if !off[d] {
				sum += w.To - w.From
			}
		}
		sum += more[d]
		c.upTo = append(c.upTo, sum)
	}
	return c
}

// days is a number of calendar days that work cannot be done in less.
func (c *crew) days(x Work) int {
	need, all := 0.0, 0.0
	for k, m := range x {
		if c.have[k] > 0 {
			need = max(need, m/float64(c.have[k]))
			all += m
		}
	}
	if c.people > 0 {
		need = max(need, all/float64(c.people))
	}
	if need <= 0 || len(c.upTo) == 0 {
		return 0
	}
	return 1 + sort.Search(len(c.upTo)-1, func(d int) bool { return float64(c.upTo[d]) >= need-1e-6 })
}

// add puts minutes of a skill into the work.
func (c *crew) add(x *Work, skill string, minutes float64) {
	if k, ok := c.index[skill]; ok && k < workSkills {
		x[k] += minutes
	}
}

// Work is what an item takes by itself, whatever else is done.
func (w *Weigher) Work(it Item) Work {
	b := w.builder([]Item{it})
	b.each = true
	var out Work
	for _, n := range b.ownSteps(b.items[0]) {
		w.crew.add(&out, string(n.step.Skill), n.step.Minutes)
	}
	return out
}

// WorkOf is what the tasks that are asked for take, each once, and the steps that are done once.
func (w *Weigher) WorkOf(d Demand) Work {
	var out Work
	for i, t := range w.in.Body.Tasks {
		if d.tasks.has(i) {
			w.crew.add(&out, string(t.Step.Skill), float64(t.Step.Fixed))
		}
	}
	for k, st := range w.steps {
		if d.tasks.has(len(w.in.Body.Tasks) + k) {
			w.crew.add(&out, string(st.Skill), float64(st.Fixed))
		}
	}
	return out
}

// Days is a number of calendar days no plan with this work can do without.
func (w *Weigher) Days(x Work) int { return w.crew.days(x) }
