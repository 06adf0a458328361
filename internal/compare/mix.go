package compare

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// slot is a ward with more than one treatment to choose from.
type slot struct{ options []choice }

// choice is one treatment of a ward with its weights.
type choice struct {
	item   plan.Item
	own    int64
	bare   int64     // own without materials that only treatments use
	used   []float64 // packs of those
	demand plan.Demand
	days   int
	work   plan.Work
}

// choice weighs an item, each once.
func (f *finder) choice(it plan.Item) choice {
	k := key([]plan.Item{it})
	if x, ok := f.known[k]; ok {
		return x
	}
	f.known[k] = f.newChoice(it)
	return f.known[k]
}

func (f *finder) newChoice(it plan.Item) choice {
	if f.mayGo(it) {
		return choice{item: it, used: make([]float64, len(f.packed))}
	}
	own, work := f.weigh.Own(it), f.weigh.Work(it)
	bare, used := f.weigh.Bare(it, f.packed)
	if n := f.sharers(it); n > 1 { // the part is changed once for all of them: none is sure to carry more than its share
		own, bare = own/int64(n), bare/int64(n)
		for k := range used {
			used[k] /= float64(n)
		}
		for k := range work {
			work[k] /= float64(n)
		}
	}
	return choice{it, own, bare, used, f.weigh.Demand(it), f.weigh.LeastDays(it), work}
}

// sharers is how many wards could have the part of an item changed: one of them pays.
func (f *finder) sharers(it plan.Item) int {
	n := 0
	for k := range f.wards {
		if it.Kind.NewPart() && f.wards[k].part == it.Part {
			n++
		}
	}
	return n
}

// noWorse says that a choice replaces another at no cost. A part that is changed for another
// finding too is not saved by treating this one otherwise, and a treatment that a risk concerns
// does not replace one that it spares.
func (f *finder) noWorse(a, b plan.Item) bool {
	return (f.sharers(b) < 2 || a.Kind == b.Kind) && f.noMoreAtRisk(a, b) && f.weigh.NoWorse(a, b)
}

// reduce drops every choice that another one replaces at no cost in money, days
// or questions, and sorts: permitted before open, then by weight.
func (f *finder) reduce(list []choice) []choice {
	var out []choice
	for i, b := range list {
		worse := false
		for j, a := range list {
			if i != j && f.noWorse(a.item, b.item) && (j < i || !f.noWorse(b.item, a.item)) {
				worse = true
				break
			}
		}
		if !worse {
			out = append(out, b)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if a, b := out[i].item.Open, out[j].item.Open; a != b {
			return !a
		}
		return out[i].own < out[j].own
	})
	return out
}

// first is the choice that is told where none is made.
func (c candidate) first() []choice {
	var out []choice
	for _, s := range c.slots {
		out = append(out, s.options[0])
	}
	return out
}

// all is every item the candidate could hold.
func (c candidate) all() []plan.Item {
	out := slices.Clone(c.items)
	for _, s := range c.slots {
		for _, o := range s.options {
			out = append(out, o.item)
		}
	}
	return out
}

// Effort of the search for mixes inside one subset of the actions: as many
// plans are made to find quicker mixes, and as many to prove the money.
const (
	mixPlans  = 24
	mixProofs = 300
)

// hunt searches the mixes of one candidate. front holds those that no other
// mix beats in money, days and questions; the first is the one of fewest
// questions, then least money.
type hunt struct {
	f      *finder
	c      candidate
	front  []Route
	spares []Route // mixes that avoid a risk
	said   map[string][]diag.Note
	rest   []int64 // least own weight of the slots from k on
	fixed  int64
	sure   plan.Demand // what every mix asks for
	days   int
	work   plan.Work   // of what every mix holds
	toCome []plan.Work // least work of the slots from k on
	waits  int         // findings whose treatment is the same in every mix and open
	slack  unit.Minor  // what rounding of lines can take off a weight
	plans  int
	quick  bool // every mix that could be quicker was planned
	proven bool // no mix costs less with as few questions, to the rounding of lines

	leastMoney unit.Minor // of what was not looked at, 0: everything was that could cost less
	leastDays  int        // the same for days
	unspared   bool       // there are more sets of risks than mixes were sought for
	sought     int        // sets of risks that mixes were sought for
}

// hunt finds the front of the candidate's mixes, and those that avoid risks.
func (f *finder) hunt(c candidate) *hunt {
	h := f.search(c, 0)
	if !c.large() {
		h.prove()
	}
	sort.SliceStable(h.front, func(i, j int) bool { return before(h.front[i], h.front[j]) })
	h.spare()
	h.name()
	return h
}

// search finds the front by branch and bound: the money of
// a partial mix is at least its own weights, the least own weights of the other
// slots, and the least opening and tasks for what is chosen; see package plan's
// Weigher. A branch is left when a known mix is no worse in all three than
// anything in it can be. Very many mixes are not searched: their treatments are chosen together. After mixPlans plans only money and questions count; so many as are
// spent already are taken off the effort.
func (f *finder) search(c candidate, spent int) *hunt {
	h := f.begin(c, spent)
	if c.large() {
		h.straight(spent == 0)
	} else {
		h.visit(nil, h.sure, h.fixed, h.work, h.days, h.waits)
	}
	return h
}

// begin weighs what every mix of a candidate holds.
func (f *finder) begin(c candidate, spent int) *hunt {
	h := &hunt{f: f, c: c, said: map[string][]diag.Note{}, quick: true, proven: true, plans: spent,
		rest: make([]int64, len(c.slots)+1), toCome: make([]plan.Work, len(c.slots)+1), slack: unit.Minor(len(f.in.Shop.Rates) + len(f.in.Shop.Taxes) + 1)}
	for _, it := range c.items {
		x := f.choice(it)
		h.fixed += x.own
		h.sure = h.sure.With(x.demand)
		h.days = max(h.days, x.days)
		if it.Open {
			h.waits += len(it.Findings)
		}
		h.work = h.work.Plus(x.work)
	}
	for k := len(c.slots) - 1; k >= 0; k-- {
		least := c.slots[k].options[0].own
		common, work := c.slots[k].options[0].demand, c.slots[k].options[0].work
		for _, o := range c.slots[k].options {
			least = min(least, o.own)
			common = common.Common(o.demand)
			work = work.Least(o.work)
		}
		h.toCome[k] = h.toCome[k+1].Plus(work)
		h.rest[k] = h.rest[k+1] + least
		h.sure = h.sure.With(common)
	}
	return h
}

// visit goes on from the choices made for the first slots.
func (h *hunt) visit(picks []choice, demand plan.Demand, own int64, work plan.Work, days, open int) {
	h.f.in.Work.Step()
	k := len(picks)
	days = max(days, h.f.weigh.Days(work.Plus(h.toCome[k]).Plus(h.f.weigh.WorkOf(demand))))
	shared, _ := h.f.weigh.Shared(demand)
	if h.beaten(h.atLeast(own+h.rest[k]+shared, days), days, open) {
		return
	}
	if k == len(h.c.slots) {
		h.take(picks)
		return
	}
	for _, o := range h.c.slots[k].options {
		n := open
		if o.item.Open {
			n += len(o.item.Findings)
		}
		h.visit(append(slices.Clip(picks), o), demand.With(o.demand), own+o.own, work.Plus(o.work), max(days, o.days), n)
	}
}

// atLeast is the least bill of a weight and a number of calendar days.
func (h *hunt) atLeast(weight int64, days int) unit.Minor {
	out := h.withTax(unit.Minor(weight/plan.WeightScale) - h.slack)
	return out + unit.Minor(unit.Whole(math.Floor(float64(days)*h.storage())))
}

// withTax is what the taxes at least make of an amount: only those on labour,
// parts and materials alike are sure to be on it.
func (h *hunt) withTax(net unit.Minor) unit.Minor {
	out := net
	for _, t := range h.f.in.Shop.Taxes {
		if slices.Contains(t.On, shop.OnLabour) && slices.Contains(t.On, shop.OnParts) && slices.Contains(t.On, shop.OnMaterials) {
			out += unit.Minor(unit.Whole(float64(net) * float64(t.Rate)))
		}
	}
	return out - h.slack
}

// storage is what a calendar day of storage costs, with its taxes.
func (h *hunt) storage() float64 {
	s := h.f.in.Shop
	if s.Storage.Currency != s.Currency {
		return 0
	}
	rate := 1.0
	for _, t := range s.Taxes {
		if slices.Contains(t.On, shop.OnStorage) {
			rate += float64(t.Rate)
		}
	}
	return float64(float64(s.Storage.Minor) * rate)
}

// rounding is how far a bill may lie above a bound that is met: what lines and taxes are rounded
// by, with tax, and the bound itself.
func (h *hunt) rounding() unit.Minor { return h.withTax(h.slack) + 2*h.slack + 3 }

// onlyStorage says that nothing but quicker days could make a mix cheaper than this one.
func (h *hunt) onlyStorage(r Route) bool {
	return h.leastDays > 0 && dated(r) && openItems(r) == h.waits && r.Bill.Total <= h.leastMoney+h.rounding()+unit.Minor(unit.Whole(math.Ceil(float64(r.Plan.Calendar-h.leastDays)*h.storage())))
}

// beaten says that a known mix is no worse than anything with at least this
// much money, days and open treatments, or that the effort is spent: then it keeps
// the least money or days of what is left out.
func (h *hunt) beaten(money unit.Minor, days, open int) bool {
	cheaper := true // than every known mix that is no more open
	for _, r := range h.front {
		if r.Excluded != "" || !dated(r) || r.Bill.Total > money || openItems(r) > open {
			continue
		}
		if r.Plan.Calendar <= days {
			return true
		}
		cheaper = false
	}
	switch {
	case cheaper && h.plans < mixProofs, !cheaper && h.plans < mixPlans:
		return false
	case cheaper:
		if h.leastMoney == 0 || money < h.leastMoney {
			h.leastMoney = money
		}
		h.proven = false
	}
	if h.leastDays == 0 || days < h.leastDays {
		h.leastDays = days
	}
	h.quick = false
	return true
}

func openItems(r Route) int {
	n := 0
	for _, it := range r.Items {
		if it.Open {
			n += len(it.Findings)
		}
	}
	return n
}

// take plans and prices a mix and keeps it if no other beats it.
func (h *hunt) take(picks []choice) Route {
	h.plans++
	r, notes := h.planned(h.f.with(h.c, picks))
	for _, q := range h.front {
		if noWorse(q, r) {
			return r
		}
	}
	h.front = slices.DeleteFunc(h.front, func(q Route) bool { return noWorse(r, q) })
	h.front = append(h.front, r)
	h.said[key(r.Items)] = notes
	return r
}

// noWorse says that a is no worse than b in money, days and questions; one
// without dates or prices is worse than any with both.
func noWorse(a, b Route) bool {
	if barred := a.Excluded != ""; barred != (b.Excluded != "") {
		return !barred
	}
	if dated(a) != dated(b) {
		return dated(a) && a.Open <= b.Open
	}
	return a.Bill.Total <= b.Bill.Total && a.Plan.Calendar <= b.Plan.Calendar && a.Open <= b.Open
}

// name gives every mix but the first an identity of its own: the findings that
// it treats otherwise.
func (h *hunt) name() {
	for i := 1; i < len(h.front); i++ {
		h.nameAfterFirst(&h.front[i])
	}
	for i := range h.spares {
		h.nameAfterFirst(&h.spares[i])
	}
}

func (h *hunt) nameAfterFirst(r *Route) {
	var diff, words []string
	was := byFinding(h.front[0])
	for _, it := range r.Items {
		if f := string(it.Findings[0]); was[f] != itemName(it) || !hasItem(h.front[0], it) {
			diff = append(diff, fmt.Sprintf("%s=%s", strings.Join(names(it.Findings), "+"), it.Treatment))
			words = append(words, fmt.Sprintf("%s: %s", list(names(it.Findings)), itemName(it)))
		}
	}
	slices.Sort(diff)
	slices.Sort(words)
	r.ID += "~" + strings.Join(diff, ",")
	r.Name += " (" + strings.Join(words, ", ") + ")"
}

func hasItem(r Route, it plan.Item) bool {
	k := key([]plan.Item{it})
	return slices.ContainsFunc(r.Items, func(x plan.Item) bool { return key([]plan.Item{x}) == k })
}

// notes says what the search did not reach.
func (h *hunt) notes(c candidate) []diag.Note {
	out := h.effort(c)
	if h.unspared {
		out = append(out, diag.Say("compare.risks-not-all-avoided", "the treatments can avoid risks and open points in many ways; mixes were sought for the first {count}, the fewest at once, so a route that avoids many may be missing from the draws", h.sought).Note(diag.Note{Severity: diag.Caution, Where: c.id}))
	}
	return out
}

// effort says what the search for money and days did not reach.
func (h *hunt) effort(c candidate) []diag.Note {
	note := func(said diag.Said) []diag.Note {
		return []diag.Note{said.Note(diag.Note{Severity: diag.Caution, Where: c.id})}
	}
	least := h.front[0]
	for _, r := range h.front {
		if r.Bill.Total < least.Bill.Total {
			least = r
		}
	}
	fastest := h.front[0].Plan.Calendar
	for _, r := range h.front {
		fastest = min(fastest, r.Plan.Calendar)
	}
	switch {
	case !h.proven && h.leastMoney < least.Bill.Total:
		gap := least.Bill.Total - h.leastMoney
		if h.onlyStorage(least) {
			return note(diag.Say("compare.mix-not-all-days", "the mix of treatments of {findings} findings is proven to cost the least, storage left out; a quicker one may exist, by at most {days}, which would save at most {money} {currency} of storage ({share})", len(c.slots), diag.Counted(least.Plan.Calendar-h.leastDays, "calendar day"), diag.Paid(gap, least.Bill.Currency), least.Bill.Currency, diag.Share(float64(gap)/float64(least.Bill.Total))))
		}
		return note(diag.Say("compare.mix-not-proven", "the treatments of {findings} findings were mixed {ways} ways; a cheaper mix may exist, by at most {money} {currency} ({share})", len(c.slots), h.plans, diag.Paid(gap, least.Bill.Currency), least.Bill.Currency, diag.Share(float64(gap)/float64(least.Bill.Total))))
	case !h.quick && h.leastDays < fastest:
		return note(diag.Say("compare.mix-not-all-days", "the mix of treatments is proven to cost the least; of the dearer ones {dearer} were planned, and a quicker one may exist, by at most {days} calendar days", h.plans, fastest-h.leastDays))
	case !h.quick:
		return note(diag.Say("compare.mix-not-all-days", "the mix of treatments is proven to cost the least, and none is quicker than the quickest shown; of the others {plans} were planned, and one between them in money and days may exist", h.plans))
	}
	return nil
}
