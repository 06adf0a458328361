package sched

import "slices"

// Away is a time in which a worker or a place is not there: nothing that needs it is under way
// then. Whatever stands in a place may stand in it all the same.
type Away struct {
	From, To int // minutes; To 0: for good
}

// blanks are the times in which the resources are away, in working minutes, in order and apart
// from one another.
func (m *model) blanks() [][]span {
	out := make([][]span, len(m.p.Workers)+len(m.p.Places))
	for i, w := range m.p.Workers {
		out[i] = m.blank(w.Away)
	}
	for i, p := range m.p.Places {
		out[len(m.p.Workers)+i] = m.blank(p.Away)
	}
	return out
}

func (m *model) blank(all []Away) []span {
	var out []span
	sorted := slices.Clone(all)
	slices.SortStableFunc(sorted, func(a, b Away) int { return a.From - b.From })
	for _, a := range sorted {
		s := span{from: m.clock.work(a.From), to: never, hold: none, closed: true}
		if a.To > 0 {
			s.to = m.clock.work(a.To)
		}
		s.until = s.to
		switch n := len(out); {
		case s.to <= s.from: // nobody works then anyway
		case n > 0 && s.from <= out[n-1].to:
			out[n-1].to = max(out[n-1].to, s.to)
			out[n-1].until = out[n-1].to
		default:
			out = append(out, s)
		}
	}
	return out
}

// trim leaves out what is away only from a working minute on: a schedule that is over by then
// does not meet it. It says whether anything is left, of which the proofs know nothing.
func (m *model) trim(end int) bool {
	left := false
	for r := range m.away {
		m.away[r] = slices.DeleteFunc(slices.Clone(m.away[r]), func(s span) bool { return s.from >= end })
		left = left || len(m.away[r]) > 0
	}
	m.empty = nil
	return left
}

// keepsAway says that nothing in a schedule is under way while what it needs is away.
func (m *model) keepsAway(bd *board) bool {
	all := m.blanks()
	for i := range m.blocks {
		if m.meets(all, bd, i, bd.start[i]) {
			return false
		}
	}
	return true
}

// meets says that a block that begins at t needs something that is away then.
func (m *model) meets(away [][]span, bd *board, i, t int) bool {
	b := &m.blocks[i]
	for k, n := range b.needs {
		if n.time(b) > 0 && slices.ContainsFunc(away[bd.who[i][k]], func(s span) bool { return s.from < t+b.dur && s.to > t }) {
			return true
		}
	}
	return false
}

func (p *Problem) checkAway() error {
	check := func(id string, all []Away) error {
		for _, a := range all {
			if a.From < 0 || a.From > limitMin || a.To != 0 && (a.To <= a.From || a.To > limitMin) {
				return refuse(id, "it is away from minute %d to %d, which is out of range", a.From, a.To)
			}
		}
		if len(all) > 0 && p.greatest() {
			return refuse(id, "greatest distances are not scheduled together with what is away")
		}
		return nil
	}
	for _, w := range p.Workers {
		if err := check(w.ID, w.Away); err != nil {
			return err
		}
	}
	for _, x := range p.Places {
		if err := check(x.ID, x.Away); err != nil {
			return err
		}
	}
	return nil
}

// verifyAway judges that nothing is under way while who does it or where it is done is away.
func verifyAway(p Problem, s Solution) error {
	for i, a := range p.Activities {
		x := s.Slots[i]
		meets := func(all []Away) bool {
			for _, y := range all {
				from, to := max(x.From, y.From), x.To
				if y.To > 0 {
					to = min(to, y.To)
				}
				if a.Minutes > 0 && from < to && worked(p, from, to) > 0 {
					return true
				}
			}
			return false
		}
		if x.Worker >= 0 && meets(p.Workers[x.Worker].Away) {
			return refuse(a.ID, "%s is away while it is under way", p.Workers[x.Worker].ID)
		}
		if x.Place >= 0 && meets(p.Places[x.Place].Away) {
			return refuse(a.ID, "%s is away while it is under way", p.Places[x.Place].ID)
		}
	}
	return nil
}
