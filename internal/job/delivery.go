package job

import (
	"cmp"
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Arrival is what was delivered of something that was ordered, all of it or a part.
type Arrival struct {
	ID    string    `doc:"id,required" help:"identity of the record: recording another one under it takes its place"`
	Item  string    `doc:"item,required" help:"the part or material, as the order list has it"`
	Count int       `doc:"count,required" help:"how many came: pieces of a part, packs of a material"`
	On    unit.Date `doc:"on,required"`
	At    string    `doc:"at" help:"hh:mm when it came; the end of the working day unless given"`
	By    string    `doc:"by,required" personal:"yes" help:"a person of the shop file"`
	Text  string    `doc:"text" personal:"yes"`

	Batch     string    `doc:"batch" help:"number of the batch"`
	UseBefore unit.Date `doc:"use_before" help:"last day it may be used; without it nothing is known of one"`
}

// Keeps says that what came may be used on a day; on no day in particular it does.
func (a Arrival) Keeps(on unit.Date) bool {
	return on.IsZero() || a.UseBefore.IsZero() || !a.UseBefore.Before(on)
}

// Promised is a day that was named for something that was ordered.
type Promised struct {
	ID       string    `doc:"id,required" help:"identity of the record: recording another one under it takes its place"`
	Item     string    `doc:"item,required" help:"the part or material, as the order list has it"`
	Count    int       `doc:"count" help:"how many of it; left out: all that is missing, and then it takes the place of every promise made before"`
	Expected unit.Date `doc:"expected,required" help:"the day it is promised for"`
	On       unit.Date `doc:"on,required" help:"the day it was promised"`
	By       string    `doc:"by,required" personal:"yes" help:"a person of the shop file"`
	Text     string    `doc:"text" personal:"yes" help:"who promised it, and why it is late"`
}

// Supply is what is on record about so many of something.
type Supply struct {
	Need     int       // so many are needed
	Arrived  int       // so many of them came
	On       unit.Date // the day the last of them came; zero: not all came
	At       string    // hh:mm, where that is on record
	Promised bool      // somebody named a day for what is missing
	Expected unit.Date // the last day named for what is missing; zero: none, or not for all of it
	Unnamed  int       // so many of what is missing have no day, though others were promised
	Spent    int       // so many came that may not be used any more on the day that was asked about
	By       string    // identity of the record that decides it
	Until    unit.Date // the first last day of use among what counts; zero: none is on record
}

// SupplyOf is what deliveries and promises say of so many of something. They are taken in the
// order of their days. What came was promised before, the first day first.
func (s *State) SupplyOf(item string, need int) Supply { return s.SupplyOn(item, need, unit.Date{}) }

// Tracks says that a delivery or a promise of something is on record.
func (s *State) Tracks(item string) bool {
	return slices.ContainsFunc(s.Deliveries, func(a Arrival) bool { return a.Item == item }) ||
		slices.ContainsFunc(s.Promises, func(p Promised) bool { return p.Item == item })
}

// SupplyOn is SupplyOf for what is used on a day: what came and may not be used any more by
// then is not there. It is no more promised than before: whoever promised what was missing
// did not promise that what has come will be replaced.
func (s *State) SupplyOn(item string, need int, on unit.Date) Supply {
	out := Supply{Need: need}
	came := 0
	var open []promise
	for _, x := range s.supplies(item) {
		if x.promise != nil {
			if x.promise.Count == 0 {
				open = nil
			}
			open = append(open, promise{Promised: *x.promise})
			slices.SortStableFunc(open, func(a, b promise) int {
				return cmp.Or(last(a.Count == 0)-last(b.Count == 0), a.Expected.Time().Compare(b.Expected.Time()))
			})
			continue
		}
		open = fulfilled(open, x.arrival.Count)
		if !x.arrival.Keeps(on) {
			out.Spent += x.arrival.Count
			for i := range open {
				open[i].spent += x.arrival.Count
			}
			continue
		}
		if came < need && came+x.arrival.Count >= need {
			out.On, out.At, out.By = x.arrival.On, x.arrival.At, x.arrival.ID
		}
		came += x.arrival.Count
		if d := x.arrival.UseBefore; !d.IsZero() && (out.Until.IsZero() || d.Before(out.Until)) {
			out.Until = d
		}
	}
	out.Arrived = min(came, need)
	out.name(open)
	return out
}

// promise is one that is open, and how much came after it that is spent.
type promise struct {
	Promised
	spent int
}

func last(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// name says by when what is missing is promised.
func (s *Supply) name(open []promise) {
	missing := s.Need - s.Arrived
	if missing == 0 || len(open) == 0 {
		return
	}
	s.Promised = true
	for _, p := range open {
		if missing == 0 {
			break
		}
		if s.Expected.Before(p.Expected) {
			s.Expected, s.By = p.Expected, p.ID
		}
		if p.Count == 0 {
			missing = min(missing, p.spent)
		}
		missing -= min(missing, p.Count)
	}
	if s.Unnamed = missing; missing > 0 {
		s.Expected, s.By = unit.Date{}, ""
	}
}

// fulfilled takes what came from what was promised.
func fulfilled(open []promise, count int) []promise {
	var out []promise
	for _, p := range open {
		if p.Count == 0 {
			out = append(out, p)
			continue
		}
		took := min(count, p.Count)
		p.Count, count = p.Count-took, count-took
		if p.Count > 0 {
			out = append(out, p)
		}
	}
	return out
}

// supply is a delivery or a promise.
type supply struct {
	on      unit.Date
	rank    int
	at      string
	arrival *Arrival
	promise *Promised
}

// supplies are the deliveries and promises of something in order of their days; on one day what
// was promised for that day, what came, and what was promised then for later.
func (s *State) supplies(item string) []supply {
	var out []supply
	for i := range s.Promises {
		if p := &s.Promises[i]; p.Item == item {
			rank := 2
			if !p.On.Before(p.Expected) {
				rank = 0
			}
			out = append(out, supply{on: p.On, rank: rank, promise: p})
		}
	}
	for i := range s.Deliveries {
		if a := &s.Deliveries[i]; a.Item == item {
			out = append(out, supply{on: a.On, rank: 1, at: cmp.Or(a.At, "24:00"), arrival: a})
		}
	}
	slices.SortStableFunc(out, func(a, b supply) int {
		return cmp.Or(a.on.Time().Compare(b.on.Time()), a.rank-b.rank, cmp.Compare(a.at, b.at))
	})
	return out
}

// supplied checks deliveries and promises by themselves.
func (c *checker) supplied() {
	unique(c, "deliveries", "id", c.s.Deliveries, func(a Arrival) string { return a.ID })
	for i, a := range c.s.Deliveries {
		at := fmt.Sprintf("deliveries[%d]", i)
		if a.Count <= 0 {
			c.fault(at+".count", fmt.Sprintf("%d is no number of pieces that came", a.Count), "more than zero; a record that was wrong is taken out")
		}
		c.counted(at+".count", a.Count)
		c.notBefore(at+".on", a.On, "the day the job was opened", c.s.Opened)
		c.clock(at+".at", a.At)
	}
	unique(c, "promises", "id", c.s.Promises, func(p Promised) string { return p.ID })
	for i, p := range c.s.Promises {
		at := fmt.Sprintf("promises[%d]", i)
		if p.Count < 0 {
			c.fault(at+".count", fmt.Sprintf("%d is no number of pieces", p.Count), "leave it out for all that is missing")
		}
		c.counted(at+".count", p.Count)
		c.notBefore(at+".on", p.On, "the day the job was opened", c.s.Opened)
		c.notBefore(at+".expected", p.Expected, "the day it was promised", p.On)
	}
}

// mostPieces is the most pieces or packs that one entry is about.
const mostPieces = 1_000_000

// counted refuses a number of pieces that nobody handles.
func (c *checker) counted(at string, n int) {
	if n > mostPieces {
		c.fault(at, fmt.Sprintf("%d is out of range", n), fmt.Sprintf("at most %d pieces or packs are taken; see whether a digit is wrong", mostPieces))
	}
}

// suppliedAgainst holds them against the body and the shop.
func (c *checker) suppliedAgainst(b *body.Body, sh *shop.Shop) {
	list := make([]string, 0, len(b.Parts)+len(b.Materials))
	for _, p := range b.Parts {
		list = append(list, string(p.ID))
	}
	for _, m := range b.Materials {
		list = append(list, string(m.ID))
	}
	items := knownOf(list)
	for i, a := range c.s.Deliveries {
		c.ref(fmt.Sprintf("deliveries[%d].item", i), "part or material", a.Item, items)
		c.someone(fmt.Sprintf("deliveries[%d].by", i), a.By, sh)
	}
	for i, p := range c.s.Promises {
		c.ref(fmt.Sprintf("promises[%d].item", i), "part or material", p.Item, items)
		c.someone(fmt.Sprintf("promises[%d].by", i), p.By, sh)
	}
}
