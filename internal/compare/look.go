package compare

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"unicode"

	"fettle/internal/job"
	"fettle/internal/normal"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// LookWorth is what it is worth to look first.
type LookWorth struct {
	Risks   []string   `json:"risks"`
	Minutes float64    `json:"minutes"`
	Price   unit.Minor `json:"priceMinor"`
	Gain    unit.Minor `json:"gainMinor"`    // money expected to be saved by deciding afterwards, before the price
	Changes float64    `json:"changes"`      // chance that another route is taken than without looking
	Worth   bool       `json:"worthIt"`      // the gain is above the price
	Text    string     `json:"text"`         // the advice in a sentence
	To      []string   `json:"to,omitempty"` // routes it may change to
}

// decision is a choice among routes under states of chance: cost[r][s].
type decision struct {
	cost  [][]float64
	prior []float64
}

// expected is the expected cost of the best of the routes allowed, where a
// signal is seen first: like[g][s] is the chance of signal g in state s. It also
// tells which route is taken on each signal, and how likely each signal is.
func (d decision) expected(like [][]float64, allowed func(r, g int) bool) (value float64, taken []int, chance []float64) {
	for g := range like {
		p := 0.0
		for s := range d.prior {
			p += float64(d.prior[s] * like[g][s])
		}
		best, least := -1, 0.0
		for r := range d.cost {
			if !allowed(r, g) {
				continue
			}
			c := 0.0
			for s := range d.prior {
				c += float64(d.prior[s] * like[g][s] * d.cost[r][s])
			}
			if best < 0 || c < least {
				best, least = r, c
			}
		}
		value += least
		taken, chance = append(taken, best), append(chance, p)
	}
	return value, taken, chance
}

// blind is the one signal that tells nothing.
func blind(states int) [][]float64 {
	row := make([]float64, states)
	for s := range row {
		row[s] = 1
	}
	return [][]float64{row}
}

// perfect are signals that tell the state.
func perfect(states int) [][]float64 {
	out := make([][]float64, states)
	for s := range out {
		out[s] = make([]float64, states)
		out[s][s] = 1
	}
	return out
}

// looks weighs every look by itself, and for each route that is open all the
// looks that settle it. The state of a risk is good or bad; the money of a route
// in a state is its mean without risks, given the state, and the mean of what is bad.
func (d *drawing) looks(out *Spread) {
	dec := d.decision()
	now := func(r, _ int) bool { return len(d.routes[r].startsBy) == 0 }
	if !slices.ContainsFunc(d.routes, func(c contender) bool { return len(c.startsBy) == 0 }) {
		return
	}
	before, taken, _ := dec.expected(blind(len(dec.prior)), now)
	free, _, _ := dec.expected(perfect(len(dec.prior)), func(r, s int) bool { return true })
	out.Perfect = rounded(max(0, before-free))
	for _, set := range d.lookSets() {
		out.Looks = append(out.Looks, d.worth(dec, set, before, taken[0]))
	}
	sort.SliceStable(out.Looks, func(i, j int) bool {
		a, b := out.Looks[i], out.Looks[j]
		return a.Gain-a.Price > b.Gain-b.Price
	})
}

// lookSets are the sets of risks that could be looked for.
func (d *drawing) lookSets() [][]int {
	var out [][]int
	add := func(set []int) {
		slices.Sort(set)
		set = slices.Compact(set)
		for _, k := range set {
			if d.risks[k].Look == nil {
				return
			}
		}
		if len(set) > 0 && !slices.ContainsFunc(out, func(o []int) bool { return slices.Equal(o, set) }) {
			out = append(out, set)
		}
	}
	for k := range d.risks {
		add([]int{k})
	}
	for _, c := range d.routes {
		add(slices.Clone(c.startsBy))
	}
	return out
}

// decision makes the table of states.
func (d *drawing) decision() decision {
	states := 1 << len(d.risks)
	dec := decision{prior: make([]float64, states), cost: make([][]float64, len(d.routes))}
	groups := d.commons()
	grouped := func(k int) bool {
		return slices.ContainsFunc(groups, func(c common) bool { return slices.Contains(c.risks, k) })
	}
	for s := range dec.prior {
		p := 1.0
		for _, c := range groups {
			p *= c.weight[c.set(s)]
		}
		for k, r := range d.risks {
			if grouped(k) {
				continue
			}
			if s>>k&1 == 1 {
				p *= float64(r.Chance)
			} else {
				p *= 1 - float64(r.Chance)
			}
		}
		dec.prior[s] = p
	}
	means := make([]float64, len(d.lines))
	for i, l := range d.lines {
		means[i] = l.mean()
	}
	for r := range d.routes {
		dec.cost[r] = make([]float64, states)
	}
	lost := d.lostOnAverage(means)
	for s := range dec.prior {
		d.state(dec, d.expected(groups, means, s), lost, s)
	}
	return dec
}

// expected is the mean money of every route without risks, where it is known which
// risks are bad: the lines of their factors are then likely to be off too.
func (d *drawing) expected(groups []common, means []float64, state int) []float64 {
	now := slices.Clone(means)
	for _, c := range groups {
		for i, l := range c.lines {
			now[l] = c.mean[c.set(state)][i]
		}
	}
	out := make([]float64, len(d.routes))
	for r, c := range d.routes {
		out[r] = c.fixed
		if c.perDay > 0 && d.days[r].n > 0 {
			out[r] += float64(c.perDay * d.days[r].mean())
		}
		for i, id := range d.ids {
			out[r] += float64(c.gross[id] * now[i])
		}
	}
	return out
}

// mean is the line's mean: the middle of its quantiles at equal probabilities.
func (l *line) mean() float64 {
	sum := 0.0
	const n = 4000
	for i := range n {
		sum += l.at(min(max(normal.Quantile((float64(i)+0.5)/n), -reach), reach)) / n
	}
	return sum
}

// state fills the money of every route in one state. gone is what the vehicle is worth beyond
// its salvage.
func (d *drawing) state(dec decision, mean []float64, gone float64, s int) {
	extra := func(k job.Risk) float64 { return float64(k.Low.Minor+k.Likely.Minor+k.High.Minor) / 3 }
	barred := make([]bool, len(mean))
	lost := make([]float64, len(mean))
	for r, c := range d.routes {
		dec.cost[r][s] = mean[r]
		for _, k := range c.risks {
			if s>>k&1 == 1 {
				dec.cost[r][s] += extra(d.risks[k])
				if d.risks[k].Bars {
					barred[r], lost[r] = true, lost[r]+extra(d.risks[k])
				}
			}
		}
	}
	least, found := gone, false
	for r := range d.routes {
		if d.startsIn(r, s) && !barred[r] && (!found || dec.cost[r][s] < least) {
			least, found = dec.cost[r][s], true
		}
	}
	for r := range d.routes {
		if barred[r] {
			dec.cost[r][s] = least + lost[r]
		}
	}
}

// startsIn says that a route may start now, or that all it waits for turns out well in the
// state.
func (d *drawing) startsIn(r, s int) bool {
	return !slices.ContainsFunc(d.routes[r].startsBy, func(k int) bool { return s>>k&1 == 1 })
}

// lostOnAverage is the value of the vehicle less its salvage, by their means.
func (d *drawing) lostOnAverage(means []float64) float64 {
	value, salvage := float64(d.in.Job.Vehicle.Value.Minor), float64(d.in.Job.Vehicle.Salvage.Minor)
	if d.value >= 0 {
		value *= means[d.value]
	}
	if d.salvage >= 0 {
		salvage *= means[d.salvage]
	}
	return value - salvage
}

// worth weighs one set of looks. After them a route that was open may start when
// all its open points were looked for and nothing was shown.
func (d *drawing) worth(dec decision, set []int, before float64, now int) LookWorth {
	signals := 1 << len(set)
	like := make([][]float64, signals)
	for g := range like {
		like[g] = make([]float64, len(dec.prior))
		for s := range dec.prior {
			p := 1.0
			for i, k := range set {
				show := float64(d.risks[k].Look.False)
				if s>>k&1 == 1 {
					show = float64(d.risks[k].Look.Finds)
				}
				if g>>i&1 == 0 {
					show = 1 - show
				}
				p *= show
			}
			like[g][s] = p
		}
	}
	settled := func(r, g int) bool {
		for _, k := range d.routes[r].startsBy {
			if i := slices.Index(set, k); i < 0 || g>>i&1 == 1 {
				return false
			}
		}
		return true
	}
	after, taken, chance := dec.expected(like, settled)
	w := LookWorth{Gain: rounded(max(0, before-after))}
	for g, r := range taken {
		if r != now {
			w.Changes += chance[g]
			if id := d.routes[r].route.ID; !slices.Contains(w.To, id) {
				w.To = append(w.To, id)
			}
		}
	}
	d.priceOf(&w, set)
	return w
}

// priceOf adds what the looks cost, with tax, and the advice.
func (d *drawing) priceOf(w *LookWorth, set []int) {
	var names []string
	net := 0.0
	for _, k := range set {
		l := d.risks[k].Look
		w.Risks = append(w.Risks, d.risks[k].ID)
		w.Minutes += float64(l.Minutes)
		if x, ok := d.in.Shop.Sublet(l.Skill); ok {
			net += float64((float64(x.Visit.Minor) + float64(float64(l.Minutes)/60*float64(x.Hour.Minor))) * (1 + d.taxOn(shop.OnSublet)))
		} else if rate, ok := d.in.Shop.Rate(l.Skill); ok {
			net += float64(float64(l.Minutes) / 60 * float64(rate.Hour.Minor) * (1 + d.taxOn(shop.OnLabour)))
		}
		net += float64(float64(l.Price.Minor) * (1 + d.taxOn(shop.OnMaterials)))
		name := l.Name + " for " + d.risks[k].ID
		if text := lowerFirst(d.risks[k].Text); text != "" {
			name += " (" + text + ")"
		}
		names = append(names, name)
	}
	w.Price = rounded(net)
	w.Worth = w.Gain > w.Price
	what := fmt.Sprintf("%s: %.0f minutes, %s %s", strings.Join(names, ", "), w.Minutes, w.Price.Grouped(), d.in.Shop.Currency)
	tens := math.Round(w.Changes * 10)
	often := fmt.Sprintf("in %.0f of 10 cases", tens)
	if tens == 0 && w.Changes > 0 {
		often = "in fewer than 1 of 20 cases"
	}
	switch {
	case w.Worth:
		w.Text = fmt.Sprintf("Spend %.0f minutes before deciding: %s, %s %s. It changes the route %s and saves %s %s on average.", w.Minutes, strings.Join(names, ", "), w.Price.Grouped(), d.in.Shop.Currency, often, w.Gain.Grouped(), d.in.Shop.Currency)
	case w.Changes > 0:
		w.Text = fmt.Sprintf("Dearer than what it saves: %s. It changes the route %s and saves %s %s on average.", what, often, w.Gain.Grouped(), d.in.Shop.Currency)
	default:
		w.Text = fmt.Sprintf("Not needed before deciding: %s. Whatever it shows, the same route is taken.", what)
	}
}

// lowerFirst is a sentence within another one; what begins with a code stays.
func lowerFirst(s string) string {
	r := []rune(strings.TrimRight(strings.TrimSpace(s), "."))
	if len(r) > 1 && !unicode.IsUpper(r[1]) && !unicode.IsDigit(r[1]) {
		r[0] = unicode.ToLower(r[0])
	}
	return string(r)
}
