package report

import (
	"fmt"

	"fettle/internal/measure"
	"fettle/internal/unit"
)

// formSays is how well lengths alone hold the points, in sentences: what they determine, of which
// points nothing can be said and why, and what other forms fit as well.
func formSays(f *measure.Form) []string {
	if f == nil {
		return nil
	}
	var out []string
	if f.Points > 0 {
		out = append(out, fmt.Sprintf("%s by %s: %d of %d unknowns of their form are determined, %s over to check them. The least singular value is %s (0: some motion changes no length).",
			unit.Count(f.Points, "point"), unit.Count(f.Lengths, "length"), f.Rank, f.Unknowns, unit.Count(max(0, f.Lengths-f.Unknowns), "length"), fixed(f.Least, 3)))
	}
	who := map[string][]string{}
	var reasons []string
	for _, l := range f.Left {
		if who[l.Because] == nil {
			reasons = append(reasons, l.Because)
		}
		who[l.Because] = append(who[l.Because], string(l.ID))
	}
	for _, why := range reasons {
		out = append(out, "Nothing can be said of "+list(who[why], 40)+": "+why+".")
	}
	for _, x := range f.Folds {
		out = append(out, fmt.Sprintf("Every length fits as well with %s mirrored, up to %s off: lengths alone do not say on which side, so that nothing is certain there.", list(texts(x.Points), 20), mm(x.ByMM)))
	}
	return out
}
