package sched

import (
	"fmt"

	"fettle/internal/diag"
)

// limitMin bounds every number of minutes given: a hundred years.
const limitMin = 100 * 366 * dayMin

func refuse(subject, format string, args ...any) error {
	return &diag.Error{Kind: diag.Invalid, Op: "sched", Subject: subject, Msg: fmt.Sprintf(format, args...)}
}

// check refuses a problem that has no meaning.
func (p *Problem) check() error {
	if err := p.Calendar.check(); err != nil {
		return err
	}
	if p.Start < 0 || p.Start > limitMin {
		return refuse("start", "minute %d is out of range", p.Start)
	}
	for i := range p.Activities {
		if err := p.checkActivity(&p.Activities[i]); err != nil {
			return err
		}
	}
	in := map[int]string{}
	for _, c := range p.Chains {
		for _, m := range c.Members {
			if m < 0 || m >= len(p.Activities) {
				return refuse(c.ID, "member %d does not exist", m)
			}
			if other, ok := in[m]; ok {
				return refuse(p.Activities[m].ID, "is in two chains, %s and %s", other, c.ID)
			}
			in[m] = c.ID
		}
		if c.Window < 0 {
			return refuse(c.ID, "a window of %d minutes is negative", c.Window)
		}
	}
	if err := p.checkAway(); err != nil {
		return err
	}
	return p.checkHolds()
}

func (p *Problem) checkHolds() error {
	seen := map[int]string{}
	for _, h := range p.Holds {
		for _, m := range h.Members {
			if m < 0 || m >= len(p.Activities) {
				return refuse(h.ID, "member %d does not exist", m)
			}
			if kind := p.Activities[m].Place; kind == "" || kind != h.Kind {
				return refuse(h.ID, "%s is not done in the kind of place that is held", p.Activities[m].ID)
			}
			if other, ok := seen[m]; ok {
				return refuse(p.Activities[m].ID, "is in two holds, %s and %s", other, h.ID)
			}
			seen[m] = h.ID
		}
		for _, u := range h.Until {
			if u < 0 || u >= len(p.Activities) {
				return refuse(h.ID, "activity %d does not exist", u)
			}
			if p.Activities[u].Place == h.Kind {
				return refuse(h.ID, "%s, which ends it, is done in a place of the same kind", p.Activities[u].ID)
			}
		}
		if h.Open && len(p.placesOf(h.Kind)) == 0 {
			return refuse(h.ID, "there is no place of the kind %q", h.Kind)
		}
	}
	for _, c := range p.Chains {
		for _, a := range c.Members {
			for _, b := range c.Members {
				if p.Activities[a].Place == p.Activities[b].Place && seen[a] != seen[b] {
					return refuse(c.ID, "only some of its activities in a place of one kind belong to %s", seen[a]+seen[b])
				}
			}
		}
	}
	if !p.greatest() {
		return nil
	}
	for _, a := range p.Activities {
		if len(p.Holds) > 0 || len(a.Sets) > 0 || a.Stay > 0 {
			return refuse(a.ID, "greatest distances are not scheduled together with places that are kept or states that are set")
		}
	}
	return nil
}

// holdOf is the hold of each activity, -1: none.
func (p *Problem) holdOf() []int {
	out := make([]int, len(p.Activities))
	for i := range out {
		out[i] = none
	}
	for h := range p.Holds {
		for _, m := range p.Holds[h].Members {
			out[m] = h
		}
	}
	return out
}

func (p *Problem) checkActivity(a *Activity) error {
	if a.Minutes < 0 || a.Minutes > limitMin || a.Release < 0 || a.Release > limitMin {
		return refuse(a.ID, "%d minutes, released at %d, is out of range", a.Minutes, a.Release)
	}
	for _, l := range a.After {
		if l.Pred < 0 || l.Pred >= len(p.Activities) {
			return refuse(a.ID, "the activity %d before it does not exist", l.Pred)
		}
		if l.Minutes > limitMin || l.Minutes < -limitMin {
			return refuse(a.ID, "a lag of %d minutes after %s cannot be kept", l.Minutes, p.Activities[l.Pred].ID)
		}
	}
	for _, d := range a.Draws {
		if d.Pool < 0 || d.Pool >= len(p.Pools) || d.Amount < 0 || d.Amount > p.Pools[d.Pool].Capacity {
			return refuse(a.ID, "it draws %d from pool %d, which has not that much", d.Amount, d.Pool)
		}
	}
	if a.Stay < 0 || a.Stay > limitMin {
		return refuse(a.ID, "a stay of %d minutes is out of range", a.Stay)
	}
	for i, s := range a.Sets {
		if s.State < 0 || s.State >= len(p.States) || min(s.Stay, s.Out, s.In, s.More) < 0 || max(s.Stay, s.Out, s.In, s.More) > limitMin {
			return refuse(a.ID, "it sets state %d, which does not exist, or for a time out of range", s.State)
		}
		for _, t := range a.Sets[:i] {
			if t.State == s.State {
				return refuse(a.ID, "it sets %s twice", p.States[s.State])
			}
		}
	}
	if a.Skill != "" && len(p.workersWith(a.Skill)) == 0 {
		return refuse(a.ID, "no worker has the skill %q", a.Skill)
	}
	if a.Place != "" && len(p.placesOf(a.Place)) == 0 {
		return refuse(a.ID, "there is no place of the kind %q", a.Place)
	}
	return nil
}

func (c *Calendar) check() error {
	work := 0
	for d, ws := range c.Week {
		last := 0
		for _, w := range ws {
			if w.From < last || w.To <= w.From || w.To > dayMin {
				return refuse("calendar", "window %d to %d of day %d is not in order", w.From, w.To, d)
			}
			last = w.To
			work += w.To - w.From
		}
	}
	if work == 0 {
		return refuse("calendar", "nobody works on any day")
	}
	for i, s := range c.Shifts {
		if s.At <= 0 || i > 0 && s.At <= c.Shifts[i-1].At || max(s.By, -s.By) > dayMin/2 {
			return refuse("calendar", "the clock is put forward by %d minutes at %d, which is not in order", s.By, s.At)
		}
	}
	for _, d := range c.Off {
		if d > limitMin/dayMin {
			return refuse("calendar", "day %d off is out of range", d)
		}
	}
	return nil
}

// workersWith is every worker who has all the skills.
func (p *Problem) workersWith(skills ...string) []int {
	var out []int
	for i, w := range p.Workers {
		all := true
		for _, s := range skills {
			has := false
			for _, k := range w.Skills {
				has = has || k == s
			}
			all = all && has
		}
		if all {
			out = append(out, i)
		}
	}
	return out
}

func (p *Problem) placesOf(kind string) []int {
	var out []int
	for i, pl := range p.Places {
		if pl.Kind == kind {
			out = append(out, i)
		}
	}
	return out
}
