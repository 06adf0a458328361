package release

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
)

// ActKind is what sort of act a job waits for.
type ActKind string

// Acts that a job waits for. A job whose vehicle may be handed back waits for that, and one that says it was for nothing.
const (
	ActUnknown    ActKind = "not-known"
	ActSafe       ActKind = "make-safe"
	ActCorrection ActKind = "correction" // what is on record blocks, or does not count
	ActLookup     ActKind = "lookup"     // the current revision of a procedure
	ActInspection ActKind = "inspection" // or measuring
	ActQuestion   ActKind = "question"   // to be sent to the manufacturer
	ActAnswer     ActKind = "answer"     // of the manufacturer
	ActChoice     ActKind = "choice"     // of a route
	ActAcceptance ActKind = "acceptance"
	ActReview     ActKind = "review"
	ActParts      ActKind = "parts"
	ActWork       ActKind = "work"
	ActHold       ActKind = "hold" // a hold point to be passed
	ActFigure     ActKind = "figure"
	ActProof      ActKind = "proof" // what the procedure asks to be shown
	ActHandBack   ActKind = "hand-back"
	ActHandedBack ActKind = "handed-back" // nothing: the vehicle was
	ActChanged    ActKind = "changed"     // the vehicle was handed back, and that does not stand
)

// ActKinds are all of them, as people come to them.
func ActKinds() []ActKind {
	return []ActKind{ActUnknown, ActSafe, ActCorrection, ActLookup, ActInspection, ActQuestion, ActAnswer, ActChoice, ActAcceptance, ActReview, ActParts, ActWork, ActHold, ActFigure, ActProof, ActHandBack, ActHandedBack, ActChanged}
}

// On whom a job waits, where that is no skill of the shop.
const (
	OnNobodyKnown = "not known"
	OnNobody      = "nobody"
	OnShop        = "shop"
	OnMaker       = "manufacturer"
	OnSupplier    = "supplier"
	OnSecond      = "second person"
	OnQualified   = "qualified person"
)

// Act is what a job waits for next, and on whom. About names records, parts and steps, and no person.
type Act struct {
	For   ActKind `json:"for"`
	About string  `json:"about,omitempty"`
	On    string  `json:"on"`
}

// Next is what the job waits for next: of all that is missing, what has to come first. Only where nothing is missing it waits
// for the vehicle to be handed back.
func (g Gate) Next() Act {
	if g.Ready() {
		return Act{ActHandBack, "", OnShop}
	}
	for _, group := range []Group{GroupSafe, GroupBlocks, GroupRoute, GroupDecided, GroupReviewed} {
		if i := slices.IndexFunc(g.Missing, func(m Missing) bool { return m.Group == group }); i >= 0 {
			return g.before(g.Missing[i])
		}
	}
	if act, ok := g.working(); ok {
		return act
	}
	switch m := g.Missing[0]; m.Group {
	case GroupWork:
		return Act{ActCorrection, m.Where, OnShop}
	case GroupFigures:
		return Act{ActFigure, m.Where, OnShop}
	case GroupShown:
		return Act{ActProof, m.Where, OnShop}
	}
	return Act{ActUnknown, g.Missing[0].Where, OnNobodyKnown}
}

// before is the act for what has to come before work.
func (g Gate) before(m Missing) Act {
	wants := func(k EntryKind) bool {
		return slices.ContainsFunc(m.Wants, func(w Wanted) bool { return w.Entry == k })
	}
	switch m.Group {
	case GroupSafe:
		return Act{ActSafe, m.Where, OnQualified}
	case GroupBlocks:
		return g.blocked(m)
	case GroupRoute:
		return g.routed(m)
	case GroupDecided:
		if wants(WantAcceptance) {
			return Act{ActAcceptance, m.Where, OnShop}
		}
		if act, ok := g.settled([]string{m.Where}, nil); ok {
			return act
		}
		return Act{ActCorrection, m.Where, OnShop}
	}
	if wants(WantReview) {
		return Act{ActReview, m.Where, OnSecond}
	}
	return Act{ActCorrection, m.Where, OnShop}
}

// blocked is the act that lifts what blocks: a procedure is looked up, what was not seen or measured well enough is inspected, what
// the manufacturer has to settle is asked. Of anything else, what is on record has to be corrected.
func (g Gate) blocked(m Missing) Act {
	if slices.ContainsFunc(m.Wants, func(w Wanted) bool { return w.Entry == WantLookup }) {
		return Act{ActLookup, m.Wants[0].About, OnShop}
	}
	for _, p := range g.of.Decide.Procedures {
		if string(p.Casting) == m.Where && (p.Expired || p.Unchecked || p.Procedure == "") {
			return Act{ActLookup, string(p.Procedure), OnShop}
		}
	}
	code := ""
	for _, n := range g.of.Notes {
		if n.Blocks() && n.Where == m.Where && n.Text == m.Text {
			code = n.Code
		}
	}
	stage, _, _ := strings.Cut(code, ".")
	switch act, ok := g.settled([]string{m.Where}, nil); {
	case ok:
		return act
	case stage == "inspect" || stage == "measure":
		return Act{ActInspection, m.Where, OnShop}
	}
	return Act{ActCorrection, m.Where, OnShop}
}

// routed is the act that leads to a route that may be taken.
func (g Gate) routed(m Missing) Act {
	if g.in.NoRoute == "" {
		var ask, measure []string
		for _, w := range g.in.Waits {
			if w.Ask {
				ask = append(ask, w.What)
			} else {
				measure = append(measure, w.What)
			}
		}
		if act, ok := g.settled(ask, measure); ok {
			return act
		}
		if len(ask) > 0 {
			return Act{ActQuestion, ask[0], OnShop} // no question that is known is about it
		}
		return Act{ActChoice, m.Where, OnShop}
	}
	if open := g.areas(); len(open) > 0 {
		return Act{ActInspection, open[0].About, OnShop}
	}
	if i := slices.IndexFunc(g.of.Compare.Routes, func(r compare.Route) bool { return r.ID == g.of.Compare.Best && r.ID != "" }); i >= 0 {
		if best := g.of.Compare.Routes[i]; len(best.Ask)+len(best.Measure) > 0 {
			if act, ok := g.settled(best.Ask, best.Measure); ok {
				return act
			}
		}
		return Act{ActChoice, "", OnShop}
	}
	var all []string
	for _, q := range g.of.Decide.Questions {
		all = append(all, string(q.Finding)+string(q.Point))
	}
	if act, ok := g.settled(all, nil); ok {
		return act
	}
	return Act{ActUnknown, "", OnNobodyKnown}
}

// settled is the act that settles one of several open points: what the shop can do itself comes first.
func (g Gate) settled(ask, measure []string) (Act, bool) {
	var waits Act
	for _, about := range ask {
		i := slices.IndexFunc(g.of.Decide.Questions, func(q decide.Question) bool {
			return q.Open && about != "" && (string(q.Finding) == about || string(q.Point) == about)
		})
		if i < 0 {
			continue
		}
		q := g.of.Decide.Questions[i]
		if q.State != decide.Waiting {
			return Act{ActQuestion, q.ID, OnShop}, true
		}
		if waits.For == "" {
			waits = Act{ActAnswer, q.ID, OnMaker}
		}
	}
	if len(measure) > 0 {
		return Act{ActInspection, measure[0], OnShop}, true
	}
	return waits, waits.For != ""
}

// working is the next act of the work: a hold point whose step is done, else the first step that can be begun, else the part
// that the first of them waits for.
func (g Gate) working() (Act, bool) {
	steps := g.in.Steps
	work := g.in.Job.Work(workSteps(steps), g.in.Shop, g.in.Today)
	done, last := map[string]bool{}, -1
	for i, s := range steps {
		if done[s.ID] = work.Steps[i].Done(); done[s.ID] {
			last = i
		}
	}
	for _, m := range g.Missing {
		for _, w := range m.Wants {
			i := slices.IndexFunc(steps, func(s PlannedStep) bool {
				return s.Hold != "" && called(steps, s) == w.About && first(s.For) == string(w.Finding)
			})
			if w.Entry == WantHold && i >= 0 && done[steps[i].ID] {
				return Act{ActHold, steps[i].Name, onHold(steps[i])}, true
			}
		}
	}
	open := func(i int) bool { return !done[steps[i].ID] && (steps[i].Asked || i > last) }
	byID := map[string]int{}
	for i, s := range steps {
		byID[s.ID] = i
	}
	var lacks Act
	for i, s := range steps {
		waits := slices.ContainsFunc(s.After, func(id string) bool { k, ok := byID[id]; return ok && open(k) })
		if !open(i) || waits {
			continue
		}
		if item := g.notCome(s); item != "" {
			if lacks.For == "" {
				lacks = Act{ActParts, item, OnSupplier}
			}
			continue
		}
		return Act{ActWork, strings.TrimSpace(s.Name), onSkill(s.Skill)}, true
	}
	return lacks, lacks.For != ""
}

func onHold(s PlannedStep) string {
	if s.Second {
		return OnSecond
	}
	return OnShop
}

func onSkill(k body.SkillID) string {
	if k == "" {
		return OnShop
	}
	return string(k)
}

// notCome is a part or material of a step that has not come, by the record.
func (g Gate) notCome(s PlannedStep) string {
	for _, w := range g.supplies() {
		if w.Entry == WantDelivery && slices.Contains(s.Uses, w.About) {
			return w.About
		}
	}
	return ""
}

// Unknown is the act of a job of which nobody can say what it waits for.
func Unknown(why string) Act { return Act{ActUnknown, why, OnNobodyKnown} }
