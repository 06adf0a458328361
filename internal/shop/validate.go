package shop

import (
	"fmt"
	"regexp"
	"slices"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/unit"
)

var (
	idForm       = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]*$`)
	currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)
)

// maxPeople is how many people a shop has at most: whoever signed is looked for among
// all of them.
const maxPeople = 1000

// validate judges what the reader cannot see.
func (s *Shop) validate() diag.Problems {
	c := &checker{shop: s}
	if !currencyForm.MatchString(s.Currency) {
		c.fault("currency", fmt.Sprintf("%q is not a currency", s.Currency), "write three capital letters")
	}
	if s.Temp < -30 || s.Temp > 60 {
		c.fault("temperature", fmt.Sprintf("%s is no temperature people work at", s.Temp), "write degrees Celsius, for example 19 C")
	}
	if s.Humidity < 0 || s.Humidity > 1 {
		c.fault("humidity", fmt.Sprintf("%s is no relative humidity", s.Humidity), "write for example 55 %")
	}
	if s.LiftLimit < 0 || s.LiftLimit > maxLift {
		c.fault("lift_limit", fmt.Sprintf("%s is nothing one person lifts", s.LiftLimit), fmt.Sprintf("at most %d kg", maxLift))
	}
	c.changes(s.Changes)
	c.rates()
	c.people()
	c.bays()
	c.gauges()
	c.inspecting()
	c.moving()
	once(c, "equipment", s.Equipment)
	c.ready()
	c.calendar(s.Calendar)
	c.absences()
	c.zone()
	c.taxes()
	if s.Storage != (unit.Money{}) {
		c.money("storage_per_day", s.Storage)
	}
	c.lossRules()
	c.spreads()
	c.sublets()
	if s.AnswerTime <= 0 {
		c.fault("answer_time", fmt.Sprintf("%s is given; more than zero is needed", s.AnswerTime), "write for example 3 d")
	}
	switch low, high := s.AnswerLow, s.AnswerHigh; {
	case low == 0 && high == 0:
	case low == 0 || high < 0:
		c.fault("answer_high", "the spread of the answer has two ends", "give both answer_low and answer_high, or neither")
	case low < 0 || high == 0:
		c.fault("answer_low", "the spread of the answer has two ends", "give both answer_low and answer_high, or neither")
	case low > s.AnswerTime || s.AnswerTime > high:
		c.fault("answer_time", fmt.Sprintf("%s does not lie between %s and %s", s.AnswerTime.Words(), low.Words(), high.Words()), "shortest, likely and longest wait, in this order")
	}
	return c.problems
}

// changes: none is negative, and one of them takes time.
func (c *checker) changes(x *Changes) {
	if x == nil {
		return
	}
	for _, m := range []struct {
		field string
		time  unit.Minutes
	}{{"tool", x.Tool}, {"side", x.Side}, {"lift", x.Lift}} {
		if m.time < 0 {
			c.fault("changes."+m.field, fmt.Sprintf("%s is negative", m.time), "write it without the sign, or leave it out")
		}
	}
	if max(x.Tool, x.Side, x.Lift) == 0 {
		c.fault("changes", "no change takes time", "leave 'changes' out to count every change alike")
	}
}

// maxLift keeps a slip of the keyboard out: nobody lifts more by hand at work.
const maxLift = 60

// checker collects the faults of one shop.
type checker struct {
	shop     *Shop
	problems diag.Problems
}

func (c *checker) fault(path, msg, hint string) {
	c.problems = append(c.problems, c.shop.at.Problem(path, msg, hint))
}

// unique checks the form of identities and finds repeats.
func unique[T any](c *checker, list, field string, items []T, id func(T) string) {
	if len(items) == 0 {
		c.fault(list, "at least one is needed", "write one, and more where there are more")
	}
	var seen []string
	for i, item := range items {
		v, path := id(item), fmt.Sprintf("%s[%d].%s", list, i, field)
		switch {
		case !idForm.MatchString(v):
			c.fault(path, fmt.Sprintf("%q is not an identity", v), "use letters, digits, '-', '_' and '.', beginning with a letter or digit")
		case slices.Contains(seen, v):
			c.fault(path, fmt.Sprintf("%q is there twice", v), "give each its own")
		}
		seen = append(seen, v)
	}
}

func once[W ~string](c *checker, path string, words []W) {
	for i, w := range words {
		if slices.Contains(words[:i], w) {
			c.fault(fmt.Sprintf("%s[%d]", path, i), fmt.Sprintf("%q is named twice", w), "name it once")
		}
	}
}

func (c *checker) money(path string, m unit.Money) {
	if m.Minor < 0 {
		c.fault(path, fmt.Sprintf("%s is negative", m), "write it without the sign")
	}
	if m.Currency != c.shop.Currency {
		c.fault(path, fmt.Sprintf("the amount is in %s, the shop in %s", m.Currency, c.shop.Currency), "all amounts of a shop are in one currency")
	}
}

func (c *checker) rates() {
	unique(c, "rates", "skill", c.shop.Rates, func(r Rate) string { return string(r.Skill) })
	for i, r := range c.shop.Rates {
		path := fmt.Sprintf("rates[%d].per_hour", i)
		c.money(path, r.Hour)
		if r.Hour.Minor == 0 {
			c.fault(path, "an hour of work is not free", "write what an hour costs")
		}
	}
}

func (c *checker) people() {
	unique(c, "people", "id", c.shop.People, func(p Person) string { return p.ID })
	if n := len(c.shop.People); n > maxPeople {
		c.fault("people", fmt.Sprintf("there are %d people; a shop has at most %d", n, maxPeople), "leave out who does no work on these jobs")
	}
	for i, p := range c.shop.People {
		path := fmt.Sprintf("people[%d].skills", i)
		if len(p.Skills)+len(p.Accepts)+len(p.May) == 0 {
			c.fault(path, "the person neither works nor signs for anything", "give 'skills', 'accepts' or 'may'")
		}
		once(c, path, p.Skills)
		once(c, fmt.Sprintf("people[%d].accepts", i), p.Accepts)
		once(c, fmt.Sprintf("people[%d].may", i), p.May)
		for j, skill := range p.Skills {
			if _, ok := c.shop.Rate(skill); !ok {
				c.fault(fmt.Sprintf("%s[%d]", path, j), fmt.Sprintf("skill %q has no rate", skill), doc.DidYouMean(string(skill), c.shop.skills()))
			}
		}
	}
}

// skills are the skills that have a rate.
func (s *Shop) skills() []string {
	out := make([]string, len(s.Rates))
	for i, r := range s.Rates {
		out[i] = string(r.Skill)
	}
	return out
}

// Rate is the rate of a skill.
func (s *Shop) Rate(skill body.SkillID) (Rate, bool) {
	for _, r := range s.Rates {
		if r.Skill == skill {
			return r, true
		}
	}
	return Rate{}, false
}

func (c *checker) bays() {
	unique(c, "bays", "id", c.shop.Bays, func(b Bay) string { return b.ID })
	for i, b := range c.shop.Bays {
		if !idForm.MatchString(string(b.Kind)) {
			c.fault(fmt.Sprintf("bays[%d].kind", i), fmt.Sprintf("%q is not a kind of bay", b.Kind), "write one word")
		}
		if b.RollOut < 0 {
			c.fault(fmt.Sprintf("bays[%d].roll_out", i), fmt.Sprintf("%s is given; more than zero is needed", b.RollOut), "leave it out where vehicles stay")
		}
		for _, m := range []struct {
			field string
			min   unit.Minutes
		}{{"in", b.In}, {"out", b.Out}} {
			path := fmt.Sprintf("bays[%d].%s", i, m.field)
			switch given := c.shop.at.Has(path); {
			case given && c.shop.Moving == nil:
				c.fault(path, "nobody is said to move vehicles", "give 'moving' with the skill of who does")
			case m.min <= 0 && (given || c.shop.Moving != nil):
				c.fault(path, fmt.Sprintf("%s is given; more than zero is needed: no vehicle moves by itself", m.min), fmt.Sprintf("write for example '%s: 8 min'", m.field))
			}
		}
	}
}

// moving: somebody does it, and what a vehicle is carried with is there.
func (c *checker) moving() {
	m := c.shop.Moving
	if m == nil {
		return
	}
	if !slices.ContainsFunc(c.shop.People, func(p Person) bool { return slices.Contains(p.Skills, m.Skill) }) {
		c.fault("moving.skill", fmt.Sprintf("nobody in the shop has the skill %q", m.Skill), doc.DidYouMean(string(m.Skill), c.shop.skills()))
	}
	if m.Carry == nil {
		return
	}
	if m.Carry.More <= 0 {
		c.fault("moving.carry.more", fmt.Sprintf("%s is given; more than zero is needed", m.Carry.More), "write for example 20 min")
	}
	if len(m.Carry.Equipment) == 0 {
		c.fault("moving.carry.equipment", "it does not say what it takes", "write for example [vehicle dollies]")
	}
	once(c, "moving.carry.equipment", m.Carry.Equipment)
	for i, e := range m.Carry.Equipment {
		if !slices.Contains(c.shop.Equipment, e) {
			c.fault(fmt.Sprintf("moving.carry.equipment[%d]", i), fmt.Sprintf("the shop has no %q", e), doc.DidYouMean(e, c.shop.Equipment))
		}
	}
}

// clock reads "07:30" as minutes after midnight.
func clock(text string) (unit.Minutes, bool) {
	t, err := time.Parse("15:04", text)
	return unit.Minutes(60*t.Hour() + t.Minute()), err == nil && len(text) == len("07:30")
}

func (c *checker) clock(path, text string) (unit.Minutes, bool) {
	m, ok := clock(text)
	if !ok {
		c.fault(path, fmt.Sprintf("%q is not a time of day", text), `write for example "07:30"`)
	}
	return m, ok
}

func (c *checker) calendar(k Calendar) {
	if len(k.Days) == 0 {
		c.fault("calendar.days", "at least one day is needed", "write for example [mon, tue, wed, thu, fri]")
	}
	once(c, "calendar.days", k.Days)
	start, okStart := c.clock("calendar.start", k.Start)
	end, okEnd := c.clock("calendar.end", k.End)
	if okStart && okEnd && start >= end {
		c.fault("calendar.end", fmt.Sprintf("work ends at %s, before it starts at %s", k.End, k.Start), "are the two swapped?")
		okEnd = false
	}
	if k.Break != nil {
		c.pause(k, start, end, okStart && okEnd)
	}
	if k.LastStart < 0 || okStart && okEnd && k.LastStart >= end-start {
		c.fault("calendar.last_start", fmt.Sprintf("%s is no part of a day of work", k.LastStart.Words()), "write for example 'last_start: 15 min'")
	}
	for i, d := range k.Holidays {
		if slices.Contains(k.Holidays[:i], d) {
			c.fault(fmt.Sprintf("calendar.holidays[%d]", i), fmt.Sprintf("%s is there twice", d), "name each day once")
		}
	}
}

// zone: the zone database has it. "Local" would be another one on each machine.
func (c *checker) zone() {
	name := c.shop.Zone
	if name == "" {
		return
	}
	loc, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		c.fault("zone", fmt.Sprintf("%q is no time zone", name), "write its name in the zone database, for example Europe/Berlin, or leave it out")
		return
	}
	c.shop.zone = loc
}

// pause: the break lies inside the working day and leaves time to work.
func (c *checker) pause(k Calendar, start, end unit.Minutes, day bool) {
	if len(k.Break) != 2 {
		c.fault("calendar.break", "a break has a start and an end", `write for example ["12:00", "12:30"], or leave it out`)
		return
	}
	from, okFrom := c.clock("calendar.break[0]", k.Break[0])
	to, okTo := c.clock("calendar.break[1]", k.Break[1])
	switch {
	case !okFrom || !okTo:
	case from >= to:
		c.fault("calendar.break", fmt.Sprintf("the break ends at %s, before it starts at %s", k.Break[1], k.Break[0]), "are the two swapped?")
	case day && (from <= start || to >= end):
		c.fault("calendar.break", fmt.Sprintf("the break does not lie between %s and %s", k.Start, k.End), "a break lies within the day of work")
	}
}

func (c *checker) taxes() {
	if len(c.shop.Taxes) > 0 {
		unique(c, "taxes", "id", c.shop.Taxes, func(t Tax) string { return t.ID })
	}
	for i, t := range c.shop.Taxes {
		if t.Rate < 0 || t.Rate > 1 {
			c.fault(fmt.Sprintf("taxes[%d].rate", i), fmt.Sprintf("%s is not from 0 %% to 100 %%", t.Rate), "write for example 19 %")
		}
		on := fmt.Sprintf("taxes[%d].on", i)
		if len(t.On) == 0 {
			c.fault(on, "the tax is on nothing", "write for example [labour, parts]")
		}
		once(c, on, t.On)
	}
}

func (c *checker) lossRules() {
	unique(c, "total_loss", "id", c.shop.TotalLoss, func(r LossRule) string { return r.ID })
	binding := 0
	for i, r := range c.shop.TotalLoss {
		path := fmt.Sprintf("total_loss[%d]", i)
		given := c.shop.at.Has(path + ".percent")
		switch {
		case r.Kind == LossPercentage && r.Percent <= 0:
			c.fault(path+".percent", "a percentage rule needs its threshold", "write for example 'percent: 70 %'")
		case r.Kind == LossFormula && (given || r.Percent != 0):
			c.fault(path+".percent", "a formula rule has no threshold", "take it out, or make it a percentage rule")
		}
		if r.Applies {
			binding++
		}
	}
	if binding != 1 && len(c.shop.TotalLoss) > 0 {
		c.fault("total_loss", fmt.Sprintf("%d rules bind in this shop; exactly one is needed", binding), "write 'applies: yes' in the rule law or the insurer prescribes")
	}
}

// sublets: priced, one for each skill, and of skills that nobody here has.
func (c *checker) sublets() {
	if len(c.shop.Sublets) > 0 {
		unique(c, "sublets", "id", c.shop.Sublets, func(s Sublet) string { return s.ID })
	}
	for i, s := range c.shop.Sublets {
		path := fmt.Sprintf("sublets[%d]", i)
		for _, m := range []struct {
			field string
			money unit.Money
		}{{".visit", s.Visit}, {".per_hour", s.Hour}} {
			if m.money != (unit.Money{}) {
				c.money(path+m.field, m.money)
			}
		}
		if s.Visit.Minor+s.Hour.Minor <= 0 {
			c.fault(path, "sublet work is not free", "give 'visit', 'per_hour' or both")
		}
		for _, p := range c.shop.People {
			if slices.Contains(p.Skills, s.Skill) && !c.shop.leaves(p.ID) {
				c.fault(path+".skill", fmt.Sprintf("%s has the skill %q: it is not sublet", p.ID, s.Skill), "take it from the person, or take the sublet out")
			}
		}
		for _, o := range c.shop.Sublets[:i] {
			if o.Skill == s.Skill {
				c.fault(path+".skill", fmt.Sprintf("the skill %q is sublet twice", s.Skill), "keep one of them")
			}
		}
	}
}

// spreads: low, the plan's figure and high are in order, and nothing is said of a
// correlation without a factor.
func (c *checker) spreads() {
	if len(c.shop.Spreads) > 0 {
		unique(c, "spreads", "id", c.shop.Spreads, func(s Spread) string { return s.ID })
	}
	for i, s := range c.shop.Spreads {
		path := fmt.Sprintf("spreads[%d]", i)
		switch {
		case s.Low <= 0 || s.Low > 1:
			c.fault(path+".low", fmt.Sprintf("%s to %s does not hold the plan's figure, 100 %%", s.Low, s.High), "write for example 'low: 90 %' and 'high: 140 %'")
		case s.High < 1:
			c.fault(path+".high", fmt.Sprintf("%s to %s does not hold the plan's figure, 100 %%", s.Low, s.High), "write for example 'low: 90 %' and 'high: 140 %'")
		}
		if s.Together < 0 || s.Together > 1 {
			c.fault(path+".together", fmt.Sprintf("%s is not from 0 %% to 100 %%", s.Together), "write for example 40 %")
		}
		if (s.Together != 0) != (s.Factor != "") {
			c.fault(path, "a factor and how far its figures go together belong to one another", "give both 'factor' and 'together', or neither")
		}
		switch _, ok := c.shop.Rate(s.Skill); {
		case s.Skill == "":
		case s.On != OnLabour:
			c.fault(path+".skill", "only a spread on labour is of one skill", "take 'skill' out")
		case !ok:
			c.fault(path+".skill", fmt.Sprintf("skill %q has no rate", s.Skill), doc.DidYouMean(string(s.Skill), c.shop.skills()))
		}
	}
}
