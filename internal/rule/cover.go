package rule

import "slices"

// Both is a part of the cell in which all conditions of both rows are met;
// false when there is none.
func Both(cell Cell, a, b Row, sp Space) (Cell, bool) {
	for _, r := range []Row{a, b} {
		for _, c := range r.Conds {
			var ok bool
			if cell, ok = cell.Narrow(c, sp); !ok {
				return nil, false
			}
		}
	}
	return cell, true
}

// Implies says that every exact value that meets c also meets d. The space says which
// values a number can have; of words any other may come.
func (c Cond) Implies(d Cond, sp Space) bool {
	if !c.ok || !d.ok || c.Kind != d.Kind || c.Fact != d.Fact {
		return false
	}
	const other = "\x00another word"
	sp.Words = map[string][]string{c.Fact: slices.Concat(c.Words, d.Words, []string{other})}
	in, ok := Cell{}.Narrow(c, sp)
	return !ok || len(in.Outside(d, sp)) == 0
}

// Within says that row a can only apply where row b applies too.
func (a Row) Within(b Row, sp Space) bool {
	for _, d := range b.Conds {
		if !slices.ContainsFunc(a.Conds, func(c Cond) bool { return c.Implies(d, sp) }) {
			return false
		}
	}
	return true
}

// Uncovered looks for a part of the cell in which no row applies. The search
// takes a row after the other and keeps what is left beside it; complete is
// false when it was given up at so many steps: then nothing was found.
func Uncovered(cell Cell, rows []Row, sp Space, steps int) (found Cell, complete bool) {
	s := &search{rows: rows, sp: sp, left: steps}
	found = s.beside(cell, 0)
	return found, s.left > 0
}

type search struct {
	rows []Row
	sp   Space
	left int
}

func (s *search) beside(cell Cell, i int) Cell {
	if i == len(s.rows) {
		return cell
	}
	for _, c := range s.rows[i].Conds {
		if s.left--; s.left <= 0 {
			return nil
		}
		for _, out := range cell.Outside(c, s.sp) {
			if found := s.beside(out, i+1); found != nil {
				return found
			}
		}
		var ok bool
		if cell, ok = cell.Narrow(c, s.sp); !ok {
			return nil // all of it lies beside this row
		}
	}
	return nil
}
