package compare

import (
	"fmt"
	"testing"

	held "fettle/internal/golden"
	"fettle/internal/shop"
)

// TestRoutesStayAsTheyAre: the routes of random jobs of every kind that these tests make, and
// of one of them with one field after the other changed, each with its money and days and a
// fingerprint of all that is said. What is right in them the trees, enumerations and laws
// hold; this holds the rest: whoever changes an answer looks at why, and runs the test with
// -update.
func TestRoutesStayAsTheyAre(t *testing.T) {
	var told held.Answers
	tell := func(name string, in Input) { told.Tell(name, compared(&in)) }
	for seed := range uint64(16) {
		tell(fmt.Sprintf("damage %d", seed), randomDamage(seed))
		tell(fmt.Sprintf("worth %d", seed), randomWorth(seed))
	}
	for seed := range uint64(4) {
		tell(fmt.Sprintf("risks %d", seed), smallRisks(seed))
		tell(fmt.Sprintf("wider risks %d", seed), widerRisks(seed))
		tell(fmt.Sprintf("shared %d", seed), randomShared(seed, 3))
	}
	for seed := range uint64(4) {
		tell(fmt.Sprintf("packs %d", seed), randomPacked(seed, 4))
	}
	tell("risky", risky(0.9, 0.2))
	tell("two risks", twoRisks(0.5))
	tell("many lines", manyLines())
	in := widerRisks(1)
	risks := in.Job.Risks
	in.Job.Risks = nil // without: draws take most of the time
	told.TellFields(compared(&in), in.Body, in.Shop, in.Job, &in.Inspect, &in.Decide)
	// and what money and days may turn out to be, by draws
	in.Shop.Spreads = []shop.Spread{{ID: "h", On: "labour", Low: 0.7, High: 1.9, Means: "ends", Factor: "damage", Together: 0.6}, {ID: "w", On: "parts", Low: 0.8, High: 3, Means: "ends"}}
	in.Job.Risks = risks[:min(2, len(risks))]
	told.TellFields(compared(&in), &in.Shop.Spreads, &in.Job.Risks)
	told.Same(t, "testdata/routes.tsv")
}

// compared is what the comparison says of a job, and in short.
func compared(in *Input) held.Say {
	return func() (any, string) {
		r, notes := Routes(*in)
		figures := "best " + r.Best + ":"
		for _, x := range r.Routes[:min(2, len(r.Routes))] {
			state := ""
			switch {
			case x.Excluded != "":
				state = "excluded"
			case x.Open > 0:
				state = fmt.Sprintf("%d open, ", x.Open)
				fallthrough
			default:
				state += fmt.Sprintf("%d in %d days", x.Bill.Total, x.Plan.Calendar)
			}
			figures += " " + x.ID + " " + state + ";"
		}
		return []any{r, notes}, fmt.Sprintf("%s %d notes", figures, len(notes))
	}
}
