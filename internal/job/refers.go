package job

import (
	"slices"
	"strings"

	"fettle/internal/diag"
)

// holds refuses what makes faults of a job that it had not before. A record that others
// refer to is not withdrawn: whoever does it has to withdraw or change those with it, and is
// told which.
func (s *Stored) holds(before *Stored) error {
	after := s.State()
	problems := after.Validate()
	if len(before.slots) > 0 {
		problems = after.Fresh(before.State())
	}
	for _, x := range s.slots {
		if i, ok := before.at[x.of]; !ok || !x.gone || before.slots[i].gone {
			continue
		}
		by := referring(problems, x.of)
		for _, y := range s.slots { // what a risk is about may also be a point or an area, which a job has not
			if r, ok := y.data.(Risk); ok && !y.gone && x.of == RecordName("finding/"+r.About) {
				by = append(by, string(y.of))
			}
		}
		if len(by) > 0 {
			return &diag.Error{Kind: diag.Conflict, Op: "job.Write", Subject: string(x.of),
				Msg: "it is not withdrawn while others refer to it: " + strings.Join(by, ", "), Hint: "withdraw or change those with it; nothing was written"}
		}
	}
	problems.Sort()
	return problems.OrNil()
}

// referring is the records with a fault that names one that is not there any more.
func referring(problems diag.Problems, gone RecordName) []string {
	_, name, _ := strings.Cut(string(gone), "/")
	var out []string
	for _, p := range problems {
		record, _, _ := strings.Cut(p.Field, ".")
		if strings.Contains(p.Msg, name) && !slices.Contains(out, record) {
			out = append(out, record)
		}
	}
	return out
}
