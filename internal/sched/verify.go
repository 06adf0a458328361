package sched

import (
	"slices"
	"strconv"
)

// Verify judges a schedule by the words of the problem alone: it counts
// minutes day by day and shares no code with Solve.
func Verify(p Problem, s Solution) error {
	if len(s.Slots) != len(p.Activities) {
		return refuse("schedule", "%d slots for %d activities", len(s.Slots), len(p.Activities))
	}
	if err := verifySlots(p, s); err != nil {
		return err
	}
	if err := verifySharing(p, s); err != nil {
		return err
	}
	if err := verifyKept(p, s); err != nil {
		return err
	}
	if err := verifyAway(p, s); err != nil {
		return err
	}
	if err := verifyBegins(p, s); err != nil {
		return err
	}
	return verifyChains(p, s)
}

// verifyBegins judges that nothing is begun for the last minutes of a day: neither an
// activity nor what is done in one go with it.
func verifyBegins(p Problem, s Solution) error {
	whole := make([]int, len(p.Activities)) // minutes of what begins with it
	for i, a := range p.Activities {
		whole[i] = a.Minutes
	}
	for _, c := range p.Chains {
		for k, m := range c.Members {
			if k > 0 {
				whole[c.Members[0]] += p.Activities[m].Minutes
				whole[m] = 0
			}
		}
	}
	shortest := 1 << 40
	for _, day := range p.Calendar.Week {
		sum := 0
		for _, w := range day {
			sum += w.To - w.From
		}
		if sum > 0 {
			shortest = min(shortest, sum)
		}
	}
	for i, x := range s.Slots {
		left := worked(p, x.From, endOfDay(p, x.From))
		if n := min(whole[i], p.Least, shortest); n > 0 && left < n {
			return refuse(p.Activities[i].ID, "begins with %d minutes of the day left, not %d", left, n)
		}
	}
	return nil
}

// verifyKept judges places that are kept, and states that are set one way at a time.
func verifyKept(p Problem, s Solution) error {
	chain := map[int]int{}
	group := make([]string, len(p.Activities)) // what an activity's stay does not keep out
	for i := range group {
		group[i] = p.Activities[i].ID
	}
	for k, c := range p.Chains {
		for _, m := range c.Members {
			group[m] = "chain " + strconv.Itoa(k)
			chain[m] = k + 1
		}
	}
	for k, h := range p.Holds {
		for _, m := range h.Members {
			if group[m] = "hold " + strconv.Itoa(k); h.Owner != "" {
				group[m] = "owner " + h.Owner
			}
		}
	}
	for i, a := range p.Activities {
		x := s.Slots[i]
		if x.Place >= 0 && a.Minutes > 0 && x.From < p.Places[x.Place].Free {
			return refuse(a.ID, "begins at %d, before %s is free", x.From, p.Places[x.Place].ID)
		}
		for j, b := range p.Activities {
			y := s.Slots[j]
			if i == j || a.Minutes == 0 || b.Minutes == 0 {
				continue
			}
			if a.Stay > 0 && group[i] != group[j] && x.Place >= 0 && x.Place == y.Place && x.To <= y.From && y.From < x.To+a.Stay {
				return refuse(b.ID, "begins at %d, while %s stays in its place until %d", y.From, a.ID, x.To+a.Stay)
			}
			for _, v := range a.Sets {
				for _, w := range b.Sets {
					if chain[i] > 0 && chain[i] == chain[j] {
						continue // they follow one another
					}
					if v.State == w.State && v.Value != w.Value && !changed(p, x.To+v.Stay, y.From, v, w) && !changed(p, y.To+w.Stay, x.From, w, v) {
						return refuse(a.ID, "needs %s %s while %s needs it %s", p.States[v.State], v.Value, b.ID, w.Value)
					}
				}
			}
		}
	}
	for _, h := range p.Holds {
		if err := verifyHold(p, s, h); err != nil {
			return err
		}
	}
	return nil
}

// changed says that between two times there are the minutes to change from one setting to
// the other.
func changed(p Problem, from, to int, v, w Setting) bool {
	need := v.Out + w.In
	if v.Bits&w.Bits != 0 {
		need += v.More
	}
	return from <= to && worked(p, from, to) >= need
}

func verifyHold(p Problem, s Solution, h Hold) error {
	place, from, to := none, 1<<60, 0
	member := map[int]bool{}
	for _, g := range p.Holds {
		for _, m := range g.Members {
			member[m] = member[m] || h.Owner != "" && g.Owner == h.Owner
		}
	}
	for _, m := range h.Members {
		member[m] = true
		if p.Activities[m].Minutes == 0 {
			continue
		}
		x := s.Slots[m]
		if place >= 0 && x.Place != place {
			return refuse(h.ID, "it is in %s, but %s is done in %s", p.Places[place].ID, p.Activities[m].ID, p.Places[x.Place].ID)
		}
		place, from, to = x.Place, min(from, x.From), max(to, x.To+p.Activities[m].Stay)
	}
	if h.Open {
		from = 0
	}
	first := 1 << 60
	for _, u := range h.Until {
		first = min(first, s.Slots[u].From)
	}
	if len(h.Until) > 0 {
		to = max(to, first)
	}
	for i, x := range s.Slots {
		if !member[i] && place >= 0 && x.Place == place && x.From < to && from < x.To+p.Activities[i].Stay && p.Activities[i].Minutes > 0 {
			return refuse(h.ID, "%s is used by %s while it is kept", p.Places[place].ID, p.Activities[i].ID)
		}
	}
	return nil
}

// endOfDay is the minute at which the day of a minute ends, by the clock on the wall.
func endOfDay(p Problem, e int) int {
	put := 0
	for _, s := range p.Calendar.Shifts {
		if s.At <= e {
			put += s.By
		}
	}
	end := ((e+put)/dayMin+1)*dayMin - put
	for _, s := range p.Calendar.Shifts {
		if e < s.At && s.At < end {
			end -= s.By
		}
	}
	return end
}

// worked counts the working minutes from e to f: between two moments at which the clock is
// put forward or back, those that it shows.
func worked(p Problem, e, f int) int {
	sum, put, at := 0, 0, e
	for _, s := range p.Calendar.Shifts {
		if s.At > at && s.At < f {
			sum += shown(p, at+put, s.At+put)
			at = s.At
		}
		if s.At < f {
			put += s.By
		}
	}
	if at < f {
		sum += shown(p, at+put, f+put)
	}
	return sum
}

// shown counts the working minutes that the clock on the wall shows from e to f.
func shown(p Problem, e, f int) int {
	sum := 0
	for day := e / dayMin; day*dayMin < f; day++ {
		off := false
		for _, d := range p.Calendar.Off {
			off = off || d == day
		}
		if off {
			continue
		}
		for _, w := range p.Calendar.Week[day%7] {
			a, b := max(e, day*dayMin+w.From), min(f, day*dayMin+w.To)
			sum += max(0, b-a)
		}
	}
	return sum
}

func verifySlots(p Problem, s Solution) error {
	finish := 0
	for i, a := range p.Activities {
		x := s.Slots[i]
		finish = max(finish, x.To)
		if x.From < p.Start || x.From < a.Release {
			return refuse(a.ID, "begins at %d, before it is released", x.From)
		}
		if got := worked(p, x.From, x.To); got != a.Minutes {
			return refuse(a.ID, "takes %d working minutes, not %d", got, a.Minutes)
		}
		if a.Minutes > 0 && worked(p, x.From, x.From+1) != 1 {
			return refuse(a.ID, "begins at %d, when nobody works", x.From)
		}
		for _, l := range a.After {
			from := s.Slots[l.Pred].To
			if l.From == Start {
				from = s.Slots[l.Pred].From
			}
			gap := x.From - from
			if l.Clock == Working {
				gap = worked(p, from, x.From) - worked(p, x.From, from)
			}
			if gap < l.Minutes {
				return refuse(a.ID, "begins %d minutes after %s, not %d", gap, p.Activities[l.Pred].ID, l.Minutes)
			}
		}
		if (a.Skill == "") != (x.Worker < 0) || (a.Place == "") != (x.Place < 0) {
			return refuse(a.ID, "has a worker or place it does not need, or lacks one")
		}
	}
	if finish > s.FinishMin || s.BoundMin > s.FinishMin || s.WorkBound > s.WorkMin {
		return refuse("schedule", "finish %d, told as %d, with bound %d", finish, s.FinishMin, s.BoundMin)
	}
	return nil
}

// hold is how long an activity keeps what it needs, and in which chain: a
// member of a chain keeps it for the whole chain.
type hold struct {
	from, to, chain int
}

func holds(p Problem, s Solution) []hold {
	out := make([]hold, len(p.Activities))
	for i, x := range s.Slots {
		out[i] = hold{x.From, x.To, none - i}
	}
	for c, ch := range p.Chains {
		work := workOf(p, ch)
		for _, m := range work {
			out[m] = hold{s.Slots[work[0]].From, s.Slots[work[len(work)-1]].To, c}
		}
	}
	return out
}

// workOf is the members of a chain that take time.
func workOf(p Problem, c Chain) []int {
	return slices.DeleteFunc(slices.Clone(c.Members), func(m int) bool { return p.Activities[m].Minutes == 0 })
}

func verifySharing(p Problem, s Solution) error {
	hold := holds(p, s)
	for i, a := range p.Activities {
		x := s.Slots[i]
		if x.Worker >= 0 && !has(p.Workers[x.Worker].Skills, a.Skill) {
			return refuse(a.ID, "worker %s has not the skill %s", p.Workers[x.Worker].ID, a.Skill)
		}
		if x.Place >= 0 && p.Places[x.Place].Kind != a.Place {
			return refuse(a.ID, "place %s is not of the kind %s", p.Places[x.Place].ID, a.Place)
		}
		for j := range p.Activities[:i] {
			y := s.Slots[j]
			meet := hold[i].from < hold[j].to && hold[j].from < hold[i].to && hold[i].chain != hold[j].chain
			if meet && a.Minutes > 0 && p.Activities[j].Minutes > 0 && (x.Worker >= 0 && x.Worker == y.Worker || x.Place >= 0 && x.Place == y.Place) {
				return refuse(a.ID, "shares a worker or place with %s at the same time", p.Activities[j].ID)
			}
		}
		if err := verifyPools(p, hold, i); err != nil {
			return err
		}
	}
	return nil
}

// verifyPools counts what is taken from every pool when activity i begins.
func verifyPools(p Problem, hold []hold, i int) error {
	for pool, c := range p.Pools {
		taken := map[int]int{} // by chain: the most of its members
		sum := 0
		for j, b := range p.Activities {
			if hold[j].from <= hold[i].from && hold[i].from < hold[j].to {
				for _, d := range b.Draws {
					if more := d.Amount - taken[hold[j].chain]; d.Pool == pool && more > 0 {
						taken[hold[j].chain] = d.Amount
						sum += more
					}
				}
			}
		}
		if sum > c.Capacity {
			return refuse(p.Activities[i].ID, "%d of %s are taken when it begins, of %d", sum, c.ID, c.Capacity)
		}
	}
	return nil
}

func has(list []string, x string) bool {
	for _, s := range list {
		if s == x {
			return true
		}
	}
	return false
}

func verifyChains(p Problem, s Solution) error {
	for _, c := range p.Chains {
		var told Broken
		for _, b := range s.Broken {
			if b.Chain == c.ID {
				told = b
			}
		}
		worker := none
		for k, m := range c.Members {
			x := s.Slots[m]
			if k > 0 && (x.From < s.Slots[c.Members[k-1]].To || worked(p, s.Slots[c.Members[k-1]].To, x.From) != 0) {
				return refuse(c.ID, "there is a gap before %s", p.Activities[m].ID)
			}
			if x.Worker >= 0 && worker >= 0 && x.Worker != worker && !told.NoWorker {
				return refuse(c.ID, "the worker changes at %s", p.Activities[m].ID)
			}
			if x.Worker >= 0 {
				worker = x.Worker
			}
		}
		work := workOf(p, c)
		if len(work) == 0 || c.Window == 0 || told.TooLong {
			continue
		}
		if took := s.Slots[work[len(work)-1]].To - s.Slots[work[0]].From; took > c.Window {
			return refuse(c.ID, "it takes %d minutes of a window of %d", took, c.Window)
		}
	}
	return nil
}
