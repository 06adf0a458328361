package cost

import (
	"fmt"
	"math/big"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// exact is a share as the fraction its decimal writing stands for: 72.5 % is
// 725/1000, to the last digit a person can have written.
func exact(f unit.Frac) (num, den int64) {
	whole, frac, _ := strings.Cut(strings.TrimSuffix(f.String(), " %"), ".")
	frac = frac[:min(len(frac), 10)]
	n, ok := new(big.Int).SetString(whole+frac, 10)
	if !ok || !n.IsInt64() {
		return 0, 1
	}
	den = 100
	for range frac {
		den *= 10
	}
	return n.Int64(), den
}

// LossOf judges a repair cost, net and with tax, by every total-loss rule of the
// shop. Law and insurer decide; this only computes what the rules say.
func LossOf(net, total unit.Minor, s *shop.Shop, j *job.State) ([]Loss, []diag.Note) {
	x := &pricing{shop: s, job: j, body: &body.Body{}, bill: Bill{Complete: true}}
	return x.losses(net, total), x.notes
}

func (x *pricing) losses(net, total unit.Minor) []Loss {
	value, ok1 := x.price(x.job.Vehicle.Value, "value of the vehicle")
	salvage, ok2 := x.price(x.job.Vehicle.Salvage, "salvage value")
	if !ok1 || !ok2 {
		return nil
	}
	var out []Loss
	for _, r := range x.shop.TotalLoss {
		repair, with := net, "without tax"
		if r.WithTax {
			repair, with = total, "with tax"
		}
		l := Loss{ID: r.ID, Name: r.Name, Kind: r.Kind, Operator: r.Operator, Applies: r.Applies}
		switch r.Kind {
		case shop.LossPercentage:
			percentage(&l, r, repair, value, with, x.shop.Currency)
		case shop.LossFormula:
			formula(&l, repair, salvage, value, with, x.shop.Currency)
		default:
			x.missing(r.ID, diag.Say("cost.loss-rule", "rule {rule} is of the kind {kind:q}, which is not known", r.ID, r.Kind), "write percentage or formula")
			continue
		}
		if r.Operator != shop.AtLeast && r.Operator != shop.Above {
			x.missing(r.ID, diag.Say("cost.loss-operator", "rule {rule} has the operator {operator:q}", r.ID, r.Operator), "write >= or >")
			continue
		}
		if l.Unsure = !x.bill.Complete && !l.IsLoss; l.Unsure {
			l.Because += " as far as it is priced, and a price is missing"
		}
		out = append(out, l)
	}
	return out
}

// percentage holds repair against a share p = num/den of the value: repair x den
// against num x value, in whole numbers, never by a rounded ratio.
func percentage(l *Loss, r shop.LossRule, repair, value unit.Minor, with, currency string) {
	num, den := exact(r.Percent)
	left := product(int64(repair), den)
	right := product(num, int64(value))
	l.Left, l.Right = repair, value.Times(num, den)
	l.IsLoss = beyond(left.Cmp(right), r.Operator)
	l.Because = fmt.Sprintf("repair %s %s %s is %s of the value %s; a total loss when %s %s: %s",
		repair.Grouped(), currency, with, ratio(repair, value, num, den), value.Grouped(), r.Operator, r.Percent, verdict(l.IsLoss))
}

// formula holds repair plus salvage against the value.
func formula(l *Loss, repair, salvage, value unit.Minor, with, currency string) {
	l.Left, l.Right = repair+salvage, value
	cmp := 0
	switch {
	case l.Left < l.Right:
		cmp = -1
	case l.Left > l.Right:
		cmp = 1
	}
	l.IsLoss = beyond(cmp, l.Operator)
	l.Because = fmt.Sprintf("repair %s %s %s + salvage %s = %s against the value %s; a total loss when %s the value: %s",
		repair.Grouped(), currency, with, salvage.Grouped(), l.Left.Grouped(), value.Grouped(), l.Operator, verdict(l.IsLoss))
}

func product(a, b int64) *big.Int { return new(big.Int).Mul(big.NewInt(a), big.NewInt(b)) }

func beyond(cmp int, operator shop.LossOperator) bool {
	return cmp > 0 || cmp == 0 && operator == shop.AtLeast
}

func verdict(loss bool) string {
	if loss {
		return "total loss by this rule"
	}
	return "not a total loss by this rule"
}

// ratio is repair against value in percent: exactly when three decimals suffice,
// else rounded to one decimal, and to more where the rounded figure would stand on
// another side of the threshold num/den than the share does.
func ratio(repair, value unit.Minor, num, den int64) string {
	if value <= 0 {
		return "no share"
	}
	q, rest := new(big.Int).QuoRem(product(int64(repair), 100000), big.NewInt(int64(value)), new(big.Int))
	if rest.Sign() == 0 && q.IsInt64() {
		return "exactly " + decimal(q.Int64()) + " %"
	}
	share := new(big.Rat).SetFrac(product(int64(repair), 100), big.NewInt(int64(value)))
	limit := new(big.Rat).SetFrac(product(num, 100), big.NewInt(den))
	for places := 1; ; places++ {
		text := share.FloatString(places)
		told, ok := new(big.Rat).SetString(text)
		if ok && told.Cmp(limit) == share.Cmp(limit) || places == 12 {
			return text + " %"
		}
	}
}
