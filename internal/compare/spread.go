package compare

import (
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"sort"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/job"
	"fettle/internal/normal"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Spread is how far the money of the routes may turn out off, by the spreads of
// the shop and the risks of the job.
type Spread struct {
	Draws   int           `json:"draws"`
	Seed    uint64        `json:"seed,string"`
	Routes  []RouteSpread `json:"routes"`
	Drivers []Driver      `json:"drivers"` // of the best route, the strongest first
	Days    []DayDriver   `json:"dayDrivers,omitempty"`
	Looks   []LookWorth   `json:"looks"` // what it is worth to look first, the best first
	Perfect unit.Minor    `json:"perfectMinor"`
	Left    []string      `json:"leftOut,omitempty"` // routes of which nothing is told, and why
}

// RouteSpread is the spread of one route's money, tax included.
type RouteSpread struct {
	Route   string     `json:"route"`
	Mean    unit.Minor `json:"meanMinor"`
	P10     unit.Minor `json:"p10Minor"`
	P50     unit.Minor `json:"p50Minor"`
	P90     unit.Minor `json:"p90Minor"`
	Loss    float64    `json:"lossChance"` // by the rule that applies
	LossStd float64    `json:"lossStd"`    // standard error of that chance
	Best    float64    `json:"bestChance"` // that it turns out the cheapest
	BestStd float64    `json:"bestStd"`
	Days    *DaySpread `json:"days,omitempty"` // nil: nothing that counts in days has a spread
}

// Driver is what moves the money of the best route.
type Driver struct {
	Name  string     `json:"name"`
	Title string     `json:"title"`     // what it is, in words
	Low   unit.Minor `json:"lowMinor"`  // expected money where it is in its lowest tenth, or does not happen
	High  unit.Minor `json:"highMinor"` // where it is in its highest tenth, or happens
}

// Effort of the draws.
const (
	spreadDraws  = 20000
	spreadRoutes = 48
	spreadRisks  = 10
	chunkDraws   = 1024
)

// contender is a route in the draws.
type contender struct {
	route    Route
	gross    map[string]float64 // by bill line, tax included
	fixed    float64            // what has no spread
	net      map[string]float64
	fixedNet float64
	risks    []int // that concern it
	startsBy []int // risks that settle its open points; empty when it may start now
	storage  cost.Line
	perDay   float64 // storage that follows the drawn days, tax included
	perNet   float64
}

// drawing is everything that is drawn.
type drawing struct {
	in      Input
	seed    uint64
	ids     []string // of the lines
	lines   []*line
	factors []string
	routes  []contender
	risks   []job.Risk
	costs   []*line   // of the risks, when they happen, tax included
	untaxed []float64 // share of those amounts without their tax
	value   int       // index of the line of the vehicle's value, -1: fixed
	salvage int
	waits   []wait
	days    []*duration // by route; nil: none are told
	byDay   bool        // days are drawn
}

// spread draws the money and days of the routes. It is nil when no spreads, risks
// or differing waits are given: then nothing is known of it.
func (f *finder) spread(res Result) *Spread {
	if len(f.in.Shop.Spreads) == 0 && len(f.in.Job.Risks) == 0 && !waitsDiffer(res) {
		return nil
	}
	h := fnv.New64a()
	h.Write([]byte(f.in.Job.ID)) // never fails
	d := &drawing{in: f.in, seed: h.Sum64(), value: -1, salvage: -1}
	out := &Spread{Draws: spreadDraws, Seed: d.seed}
	out.Left = d.takeRisks()
	for _, r := range d.risks {
		if r.Factor != "" && !slices.Contains(d.factors, r.Factor) {
			d.factors = append(d.factors, r.Factor)
		}
		d.untaxed = append(d.untaxed, 1/(1+d.taxOnAll()))
		d.costs = append(d.costs, newLine(triangular(float64(r.Low.Minor), float64(r.Likely.Minor), float64(r.High.Minor))))
	}
	out.Left = append(out.Left, d.enterAll(res)...)
	if len(d.routes) == 0 {
		return out
	}
	d.vehicle()
	d.durations(f)
	d.stores()
	d.run(out)
	d.looks(out)
	return out
}

// takeRisks takes the risks that are open, and says which of the others do not count.
func (d *drawing) takeRisks() []string {
	var left []string
	open := 0
	for _, k := range d.in.Job.Risks {
		switch {
		case k.Settled == job.SettledBadly:
			left = append(left, fmt.Sprintf("%s: turned out badly by %s, so its amounts no longer count: what it costs is in the plan", k.ID, k.SettledBy))
		case !k.Open():
			left = append(left, fmt.Sprintf("%s: turned out well by %s, so it no longer counts", k.ID, k.SettledBy))
		default:
			if open++; open <= spreadRisks {
				d.risks = append(d.risks, k)
			}
		}
	}
	if open > spreadRisks {
		left = append(left, fmt.Sprintf("risks: %d are open, the first %d count", open, spreadRisks))
	}
	return left
}

// waitsDiffer says that some delivery or answer has a spread.
func waitsDiffer(res Result) bool {
	return slices.ContainsFunc(res.Routes, func(r Route) bool {
		return slices.ContainsFunc(r.Plan.Steps, func(s plan.Step) bool {
			return slices.ContainsFunc(s.Awaits, func(w plan.Awaited) bool { return w.High > 0 })
		})
	})
}

// enterAll puts the routes into the draws: those that no other beats first, then the others,
// since a draw may go on by every route that is possible in it. It says which are left out.
func (d *drawing) enterAll(res Result) []string {
	d.byDay = waitsDiffer(res) || slices.ContainsFunc(d.in.Shop.Spreads, func(s shop.Spread) bool { return s.On == shop.OnLabour })
	why := make([]string, len(res.Routes))
	for _, beaten := range []bool{false, true} {
		for i, r := range res.Routes {
			if (r.Dominated != "") == beaten {
				why[i] = d.enter(r)
			}
		}
	}
	var left []string
	for i, r := range res.Routes {
		if why[i] != "" {
			left = append(left, r.ID+": "+why[i])
		}
	}
	return left
}

// enter puts a route into the draws, or says why not.
func (d *drawing) enter(r Route) string {
	if r.ID == lossID || !r.Feasible {
		return ""
	}
	if !dated(r) {
		return "a date or price is missing"
	}
	c := contender{route: r, gross: map[string]float64{}, net: map[string]float64{}}
	for _, x := range r.OpenFor() {
		k := slices.IndexFunc(d.risks, func(k job.Risk) bool { return k.About == x })
		if k < 0 {
			if i := slices.IndexFunc(d.in.Job.Risks, func(k job.Risk) bool { return k.About == x && !k.Open() }); i >= 0 {
				return fmt.Sprintf("%s is still open, although %s is settled by %s", x, d.in.Job.Risks[i].ID, d.in.Job.Risks[i].SettledBy)
			}
			return "nobody gave a chance for " + x
		}
		c.startsBy = append(c.startsBy, k)
	}
	for k, risk := range d.risks {
		if concerns(risk, r) {
			c.risks = append(c.risks, k)
		}
	}
	for _, l := range r.Bill.Lines {
		switch l.Kind {
		case cost.LineTax:
		case cost.LineStorage:
			c.storage = l
		default:
			d.charge(&c, l)
		}
	}
	switch {
	case d.needless(c):
	case len(d.routes) == spreadRoutes:
		return fmt.Sprintf("%d others are drawn", spreadRoutes)
	default:
		d.routes = append(d.routes, c)
	}
	return ""
}

// needless says that a route of the draws costs no more in any draw, may start no later and
// is barred in no draw in which this one is not.
func (d *drawing) needless(c contender) bool {
	within := func(a, b []int) bool {
		return !slices.ContainsFunc(a, func(k int) bool { return !slices.Contains(b, k) })
	}
	return slices.ContainsFunc(d.routes, func(a contender) bool {
		if !within(a.risks, c.risks) || !within(a.startsBy, c.startsBy) || a.fixed > c.fixed || a.route.Plan.Calendar > c.route.Plan.Calendar {
			return false
		}
		for id, g := range a.gross {
			if g > c.gross[id] {
				return false
			}
		}
		return a.storage.ID == "" || a.storage.Sum <= c.storage.Sum && !d.byDay
	})
}

// charge adds a bill line to the route, with its spread or as it is.
func (d *drawing) charge(c *contender, l cost.Line) {
	gross := float64(float64(l.Sum) * (1 + d.taxOn(l.Kind)))
	if d.line(l) {
		c.gross[l.ID], c.net[l.ID] = gross, float64(l.Sum)
	} else {
		c.fixed, c.fixedNet = c.fixed+gross, c.fixedNet+float64(l.Sum)
	}
}

// stores charges storage: by the drawn days where the route's days are drawn, else
// by the days of the plan, with the shop's spread on storage.
func (d *drawing) stores() {
	for r := range d.routes {
		c := &d.routes[r]
		switch days := c.route.Plan.Calendar; {
		case c.storage.ID == "":
		case d.days != nil && d.days[r] != nil && days > 0:
			c.perNet = float64(c.storage.Sum) / float64(days)
			c.perDay = c.perNet * (1 + d.taxOn(c.storage.Kind))
		default:
			d.charge(c, c.storage)
		}
	}
}

func (d *drawing) taxOn(kind shop.AmountKind) float64 {
	sum := 0.0
	for _, t := range d.in.Shop.Taxes {
		if slices.Contains(t.On, kind) {
			sum += float64(t.Rate)
		}
	}
	return sum
}

// taxOnAll is what the taxes make of an amount that is not split by kind: those on labour,
// parts and materials alike.
func (d *drawing) taxOnAll() float64 {
	sum := 0.0
	for _, t := range d.in.Shop.Taxes {
		if slices.Contains(t.On, shop.OnLabour) && slices.Contains(t.On, shop.OnParts) && slices.Contains(t.On, shop.OnMaterials) {
			sum += float64(t.Rate)
		}
	}
	return sum
}

// concerns says that a risk matters on a route.
func concerns(k job.Risk, r Route) bool {
	if slices.Contains(r.OpenFor(), k.About) {
		return true
	}
	spared := func(it plan.Item) bool { return slices.Contains(k.Spared, it.Kind) }
	if k.About == "" {
		return !slices.ContainsFunc(r.Items, spared)
	}
	return slices.ContainsFunc(r.Items, func(it plan.Item) bool {
		return slices.Contains(it.Findings, job.FindingID(k.About)) && !spared(it)
	})
}

// line says that a bill line has a spread, and enters it once.
func (d *drawing) line(l cost.Line) bool {
	if slices.Contains(d.ids, l.ID) {
		return true
	}
	s, ok := d.spreadOf(l.Kind, body.SkillID(trimKind(l)))
	if ok {
		d.add(l.ID, s)
	}
	return ok
}

// trimKind is the skill of a labour line.
func trimKind(l cost.Line) string {
	if l.Kind != cost.LineLabour {
		return ""
	}
	return l.ID[len("L-"):]
}

// spreadOf is the spread on a kind of line: that of its skill before the general
// one.
func (d *drawing) spreadOf(kind shop.AmountKind, skill body.SkillID) (shop.Spread, bool) {
	var found shop.Spread
	ok := false
	for _, s := range d.in.Shop.Spreads {
		if s.On == kind && (s.Skill == skill && skill != "" || s.Skill == "" && !ok) {
			found, ok = s, true
		}
	}
	return found, ok
}

// add enters a line: a multiplier of the plan's figure.
func (d *drawing) add(id string, s shop.Spread) int {
	q := triangular(float64(s.Low), 1, float64(s.High))
	if s.Means == shop.SpreadTenths {
		q = triangularTenths(float64(s.Low), 1, float64(s.High))
	}
	var loads []loading
	if s.Factor != "" {
		k := slices.Index(d.factors, s.Factor)
		if k < 0 {
			k = len(d.factors)
			d.factors = append(d.factors, s.Factor)
		}
		loads = append(loads, loading{k, math.Sqrt(float64(s.Together))})
	}
	d.ids = append(d.ids, id)
	d.lines = append(d.lines, newLine(q, loads...))
	return len(d.lines) - 1
}

func (d *drawing) vehicle() {
	if s, ok := d.spreadOf(shop.OnValue, ""); ok {
		d.value = d.add("value of the vehicle", s)
	}
	if s, ok := d.spreadOf(shop.OnSalvage, ""); ok {
		d.salvage = d.add("salvage value", s)
	}
}

// chunk is the draws worked on at once.
type chunk struct {
	factors [][]float64
	values  [][]float64 // by line
	bad     [][]bool    // by risk
	extra   [][]float64 // by risk
	total   [][]float64 // by route
	net     [][]float64
	waits   [][]float64 // by wait
	days    [][]int     // by route; empty where they are not drawn
}

func (d *drawing) chunk() *chunk {
	k := &chunk{}
	rows := func(n int) [][]float64 {
		out := make([][]float64, n)
		for i := range out {
			out[i] = make([]float64, chunkDraws)
		}
		return out
	}
	k.factors, k.values, k.extra = rows(len(d.factors)), rows(len(d.lines)), rows(len(d.risks))
	k.total, k.net = rows(len(d.routes)), rows(len(d.routes))
	k.waits, k.days = rows(len(d.waits)), make([][]int, len(d.routes))
	for range d.risks {
		k.bad = append(k.bad, make([]bool, chunkDraws))
	}
	return k
}

// draw fills the chunk from a draw on. Streams: the lines, then the factors, then
// two for each risk: whether it happens, and what it costs; then the waits.
func (d *drawing) draw(k *chunk, first int) {
	next := len(d.lines)
	for i := range k.factors {
		normals(stream(d.seed, next+i), first, k.factors[i])
	}
	next += len(d.factors)
	for i, l := range d.lines {
		l.values(stream(d.seed, i), first, k.factors, k.values[i])
	}
	for i, r := range d.risks {
		normals(stream(d.seed, next+2*i), first, k.extra[i])
		d.happens(k, i, r)
		d.costs[i].values(stream(d.seed, next+2*i+1), first, nil, k.extra[i])
	}
	for w := range d.waits {
		d.waits[w].line.values(stream(d.seed, d.waitStream(w)), first, nil, k.waits[w])
	}
	d.takeDays(k, first)
	for r := range d.routes {
		d.in.Work.Step()
		d.money(k, r)
	}
	d.barred(k)
}

// happens says in which draws a risk turns out bad: where its normal number, partly
// that of its factor, lies in the share of its chance at the upper end, so that what
// goes together goes up together.
func (d *drawing) happens(k *chunk, i int, r job.Risk) {
	limit := -normal.Quantile(float64(r.Chance))
	own, common := 1.0, 0.0
	var factor []float64
	if f := slices.Index(d.factors, r.Factor); f >= 0 && r.Factor != "" {
		factor = k.factors[f]
		own, common = math.Sqrt(1-float64(r.Together)), math.Sqrt(float64(r.Together))
	}
	for n, z := range k.extra[i] {
		z = float64(-own * z)
		if factor != nil {
			z += float64(common * factor[n])
		}
		k.bad[i][n] = z > limit
	}
}

// money is the route's money without the change to another one.
func (d *drawing) money(k *chunk, r int) {
	c := &d.routes[r]
	total, net := k.total[r], k.net[r]
	for n := range total {
		total[n], net[n] = c.fixed, c.fixedNet
	}
	if c.perDay > 0 {
		for n, days := range k.days[r] {
			total[n] += float64(c.perDay * float64(days))
			net[n] += float64(c.perNet * float64(days))
		}
	}
	for i, id := range d.ids {
		g, b := c.gross[id], c.net[id]
		if g == 0 {
			continue
		}
		for n, v := range k.values[i] {
			total[n] += float64(g * v)
			net[n] += float64(b * v)
		}
	}
	for _, i := range c.risks {
		for n, bad := range k.bad[i] {
			if bad {
				total[n] += k.extra[i][n]
				net[n] += float64(k.extra[i][n] * d.untaxed[i])
			}
		}
	}
}

// barred lets a route that cannot be finished go on by the cheapest that is possible
// in the draw; without one the vehicle is lost. Net and gross are those of the route that is
// taken, each with what is lost by the change.
func (d *drawing) barred(k *chunk) {
	on := make([]int, len(d.routes)) // barred in the draw
	for n := range chunkDraws {
		on = on[:0]
		least, net, found := d.vehicleLost(k, n), 0.0, false
		net = least
		for r := range d.routes {
			switch {
			case d.isBarred(k, r, n):
				on = append(on, r)
			case d.starts(k, r, n) && (!found || k.total[r][n] < least):
				least, net, found = k.total[r][n], k.net[r][n], true
			}
		}
		for _, r := range on {
			k.total[r][n], k.net[r][n] = least, net
			for _, i := range d.routes[r].risks {
				if d.risks[i].Bars && k.bad[i][n] {
					k.total[r][n] += k.extra[i][n]
					k.net[r][n] += float64(k.extra[i][n] * d.untaxed[i])
				}
			}
		}
	}
}

// vehicleLost is the value of the vehicle less its salvage, as drawn.
func (d *drawing) vehicleLost(k *chunk, n int) float64 {
	value, salvage := d.worthOf(k, n)
	return value - salvage
}

func (d *drawing) worthOf(k *chunk, n int) (value, salvage float64) {
	value, salvage = float64(d.in.Job.Vehicle.Value.Minor), float64(d.in.Job.Vehicle.Salvage.Minor)
	if d.value >= 0 {
		value *= k.values[d.value][n]
	}
	if d.salvage >= 0 {
		salvage *= k.values[d.salvage][n]
	}
	return value, salvage
}

// starts says that a route may start now, or that all it waits for turns out well in the draw.
func (d *drawing) starts(k *chunk, r, n int) bool {
	return !slices.ContainsFunc(d.routes[r].startsBy, func(i int) bool { return k.bad[i][n] })
}

func (d *drawing) isBarred(k *chunk, r, n int) bool {
	for _, i := range d.routes[r].risks {
		if d.risks[i].Bars && k.bad[i][n] {
			return true
		}
	}
	return false
}

// run draws and sums up.
func (d *drawing) run(out *Spread) {
	k := d.chunk()
	totals := make([][]float64, len(d.routes))
	lost, best := make([]int, len(d.routes)), make([]int, len(d.routes))
	drivers := newDrivers(d)
	for first := 0; first < spreadDraws; first += chunkDraws {
		d.in.Work.Step()
		d.draw(k, first)
		size := min(chunkDraws, spreadDraws-first)
		for n := range size {
			least := 0
			for r := range d.routes {
				if k.total[r][n] < k.total[least][n] {
					least = r
				}
				if d.isLoss(k, r, n) {
					lost[r]++
				}
			}
			best[least]++
		}
		for r := range d.routes {
			totals[r] = append(totals[r], k.total[r][:size]...)
		}
		drivers.take(k, size)
	}
	for r, c := range d.routes {
		if c.route.Dominated != "" && best[r] == 0 && r > 0 {
			continue // it serves where others are barred
		}
		s := summary(c.route.ID, totals[r], lost[r], best[r])
		if d.days != nil && d.days[r] != nil {
			s.Days = d.days[r].summary()
		}
		out.Routes = append(out.Routes, s)
	}
	out.Drivers, out.Days = drivers.list(), d.dayDrivers()
}

// rounded is an amount that was reckoned as a float.
func rounded(v float64) unit.Minor { return unit.Minor(unit.Whole(math.Round(v))) }

func summary(id string, total []float64, lost, best int) RouteSpread {
	n := float64(len(total))
	sum := 0.0
	for _, v := range total {
		sum += v
	}
	sort.Float64s(total)
	at := func(p float64) unit.Minor { return rounded(total[int(p*n)]) }
	share := func(k int) (float64, float64) {
		p := float64(k) / n
		return p, math.Sqrt(p * (1 - p) / n)
	}
	s := RouteSpread{Route: id, Mean: rounded(sum / n), P10: at(0.1), P50: at(0.5), P90: at(0.9)}
	s.Loss, s.LossStd = share(lost)
	s.Best, s.BestStd = share(best)
	return s
}

// isLoss judges a draw by the rule that applies.
func (d *drawing) isLoss(k *chunk, r, n int) bool {
	value, salvage := d.worthOf(k, n)
	for _, rule := range d.in.Shop.TotalLoss {
		if !rule.Applies {
			continue
		}
		repair := k.net[r][n]
		if rule.WithTax {
			repair = k.total[r][n]
		}
		left, right := repair, value*float64(rule.Percent)
		if rule.Kind == shop.LossFormula {
			left, right = repair+salvage, value
		}
		if left > right || left == right && rule.Operator == shop.AtLeast {
			return true
		}
	}
	return false
}
