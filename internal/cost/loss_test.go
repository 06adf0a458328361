package cost

import (
	"fmt"
	"math/big"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

var shareForm = regexp.MustCompile(`EUR (with|without) tax is (exactly )?([0-9.]+) % of the value`)

// Every rule is its definition in fractions: repair (with tax where the rule says so) against a
// share of the value, or repair and salvage against the value. The share that is told stands on the
// side of the threshold where the true one stands, with as few decimals as show it, and is called
// exact where it is. Drawn near the threshold.
func TestLossesAgainstFractionsSeeds(t *testing.T) {
	losses, close := 0, 0
	for seed := range uint64(1000) {
		rng := rand.New(rand.NewPCG(seed, 23))
		percent := int64(500 + rng.IntN(600)) // tenths of one
		value := 1 + rng.Int64N([]int64{9, 999, 2000000, 90000000}[seed%4])
		net := max(0, value*percent/1000+rng.Int64N(5)-2)
		total, salvage := net+rng.Int64N(9), max(0, value-net+rng.Int64N(3)-1)
		_, s, j := setting(t)
		op := []shop.LossOperator{">=", ">"}[rng.IntN(2)]
		rule := func(kind shop.LossKind, tax bool) shop.LossRule {
			return shop.LossRule{ID: "r", Name: "Rule", Kind: kind, Operator: op, Percent: frac(t, fmt.Sprintf("%d.%d %%", percent/10, percent%10)), WithTax: tax, Applies: tax}
		}
		s.TotalLoss = []shop.LossRule{rule("percentage", false), rule("percentage", true), rule("formula", false), rule("formula", true)}
		j.Vehicle.Value, j.Vehicle.Salvage = eur(unit.Minor(value)), eur(unit.Minor(salvage))
		got, notes := LossOf(unit.Minor(net), unit.Minor(total), s, j)
		if len(got) != 4 || len(notes) > 0 {
			t.Fatalf("seed %d: %+v %v", seed, got, notes)
		}
		for k, r := range s.TotalLoss {
			repair, tax := net, "without"
			if r.WithTax {
				repair, tax = total, "with"
			}
			left, right := big.NewRat(repair, 1), big.NewRat(value*percent, 1000)
			shown := [2]unit.Minor{unit.Minor(repair), halfUp(value*percent, 1000)}
			if r.Kind == "formula" {
				left, right = big.NewRat(repair+salvage, 1), big.NewRat(value, 1)
				shown = [2]unit.Minor{unit.Minor(repair + salvage), unit.Minor(value)}
			}
			want := left.Cmp(right) > 0 || left.Cmp(right) == 0 && op == ">="
			if want {
				losses++
			}
			l := got[k]
			if l.IsLoss != want || [2]unit.Minor{l.Left, l.Right} != shown || l.ID != "r" || l.Name != "Rule" || l.Kind != r.Kind || l.Operator != op || l.Applies != r.Applies {
				t.Errorf("seed %d, %s: %+v, want %v of %v", seed, r.Kind, l, want, shown)
			}
			if r.Kind == "formula" {
				continue
			}
			m := shareForm.FindStringSubmatch(l.Because)
			if m == nil || m[1] != tax {
				t.Fatalf("seed %d: %q", seed, l.Because)
			}
			told, _ := new(big.Rat).SetString(m[3])
			share, limit := big.NewRat(100*repair, value), big.NewRat(percent, 10)
			decimals := len(m[3]) - strings.IndexByte(m[3]+".", '.') - 1
			if exact := new(big.Rat).Mul(share, big.NewRat(1000, 1)).IsInt(); exact != (m[2] != "") || exact && told.Cmp(share) != 0 || told.Cmp(limit) != share.Cmp(limit) {
				t.Errorf("seed %d: %s of %s is told as %q, the threshold is %s", seed, big.NewRat(repair, 1), big.NewRat(value, 1), m[0], limit)
			} else if !exact && decimals > 1 {
				close++
				less, _ := new(big.Rat).SetString(share.FloatString(decimals - 1))
				if less.Cmp(limit) == share.Cmp(limit) {
					t.Errorf("seed %d: %q has more decimals than it takes", seed, m[0])
				}
			}
		}
	}
	if losses < 1000 || losses > 3000 || close < 250 {
		t.Errorf("%d losses, %d told with more decimals: the draws show little", losses, close)
	}
}

// Where value or salvage is in another currency, or a rule says what no rule says, nothing is judged
// by it, and the bill is not complete. A vehicle that is worth nothing has no share.
func TestLossesThatCannotBeJudged(t *testing.T) {
	usd := unit.Money{Minor: 5, Currency: "USD"}
	for _, c := range []struct {
		value, salvage unit.Money
		kind           shop.LossKind
		op             shop.LossOperator
		code           string
		judged         int
	}{
		{eur(100), eur(0), "percentage", ">=", "", 2}, {unit.Money{}, unit.Money{}, "formula", ">", "", 2},
		{usd, eur(5), "formula", ">", "cost.currency", 0}, {eur(5), usd, "percentage", ">", "cost.currency", 0},
		{eur(100), eur(0), "guess", ">", "cost.loss-rule", 1}, {eur(100), eur(0), "percentage", "<", "cost.loss-operator", 1}, {eur(100), eur(0), "formula", "", "cost.loss-operator", 1},
	} {
		b, s, j := setting(t)
		s.TotalLoss = []shop.LossRule{{ID: "a", Kind: c.kind, Operator: c.op, Percent: 0.5, Applies: true}, {ID: "b", Kind: "formula", Operator: ">="}}
		j.Vehicle.Value, j.Vehicle.Salvage = c.value, c.salvage
		bill, notes := Price(plan.Plan{Calendar: 1, Lost: []plan.Lost{{Part: "clip", Quantity: 3}}}, b, s, j)
		if len(bill.Loss) != c.judged || bill.Complete != (c.code == "") || len(notes) != min(1, len(c.code)) || len(notes) > 0 && notes[0].Code != c.code {
			t.Errorf("%+v: %+v, complete %v, %v", c, bill.Loss, bill.Complete, notes)
		}
		if want := c.judged == 2; bill.IsLoss != want { // 9.99 and tax against 1.00 or nothing, by rule a, which applies
			t.Errorf("%+v: a total loss is %v", c, bill.IsLoss)
		}
	}
	b, s, j := setting(t)
	j.Vehicle.Value = eur(0)
	s.TotalLoss = []shop.LossRule{{ID: "a", Kind: "percentage", Operator: ">=", Percent: 0.5}}
	if bill, _ := Price(plan.Plan{}, b, s, j); bill.IsLoss || !bill.Loss[0].IsLoss || !strings.Contains(bill.Loss[0].Because, "is no share of the value 0.00") {
		t.Errorf("a rule that does not apply: %+v", bill)
	}
}
