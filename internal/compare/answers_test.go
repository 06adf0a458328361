package compare

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
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
	var b strings.Builder
	tell := func(name string, in Input) {
		text, figures := compared(in)
		fmt.Fprintf(&b, "%s\t%s\t%.4x\n", name, figures, sha256.Sum256([]byte(text)))
	}
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
	parts := []any{in.Body, in.Shop, in.Job, &in.Inspect, &in.Decide}
	plain, _ := compared(in)
	for k, of := range append(parts, &in.Shop.Spreads, &in.Job.Risks) {
		if k == len(parts) { // and what money and days may turn out to be, by draws
			in.Shop.Spreads = []shop.Spread{{ID: "h", On: "labour", Low: 0.7, High: 1.9, Means: "ends", Factor: "damage", Together: 0.6}, {ID: "w", On: "parts", Low: 0.8, High: 3, Means: "ends"}}
			in.Job.Risks = risks[:min(2, len(risks))]
			plain, _ = compared(in)
		}
		v := reflect.ValueOf(of).Elem()
		held.EachField(v, v.Type().String(), func(name string) {
			if text, figures := compared(in); text != plain {
				fmt.Fprintf(&b, "%s\t%s\t%.4x\n", name, figures, sha256.Sum256([]byte(text)))
			}
		})
	}
	held.Same(t, "testdata/routes.tsv", b.String())
}

// compared is what the comparison says of a job whole, and in short.
func compared(in Input) (text, figures string) {
	defer func() {
		if recover() != nil { // no document like this is read
			text, figures = "", "contradicts itself"
		}
	}()
	r, notes := Routes(in)
	out, err := json.Marshal([]any{r, notes})
	if err != nil {
		return err.Error(), "no JSON"
	}
	figures = "best " + r.Best + ":"
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
	return string(out), fmt.Sprintf("%s %d notes", figures, len(notes))
}
