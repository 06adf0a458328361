package decide

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/rule"
)

// Said is one thing that somebody says of a spot: the name of a fact and its value, as a
// procedure's tests have them, with an uncertainty for everything measured. Beside the facts
// of the vocabulary there is SaidMeasured; SaidDecision is the fact that is otherwise found from it.
type Said struct{ Name, Value string }

// Names of lengths that are said.
const (
	SaidMeasured = "length"          // of the crack along the surface, as it was measured from tip to tip
	SaidDecision = "decision_length" // what limits are held against, where it is known from elsewhere
)

// FromSaying is where a fact comes from that somebody said.
const FromSaying = "said"

// measuredIn is the units of facts that are measured, not counted or read: mm and °C.
var measuredIn = []string{"mm", "C"}

// whatIsSaid stands for the file of a fault in it.
const whatIsSaid = "what is said"

// saying gathers what is said into facts.
type saying struct {
	rs       *Ruleset
	facts    rule.Facts
	from     map[string]string
	order    []string   // of the facts
	measured rule.Value // the length as it was measured
	problems []diag.Problem
}

func (s *saying) fault(name, msg, hint string) {
	s.problems = append(s.problems, diag.Problem{File: whatIsSaid, Field: name, Msg: msg, Hint: hint})
}

func (s *saying) put(name string, v rule.Value, from string) {
	s.facts[name], s.from[name] = v, from
	s.order = append(s.order, name)
}

// list is the facts that are known, as they were said, and then what follows from them.
func (s *saying) list() []Fact {
	var out []Fact
	for _, name := range s.order {
		if v := s.facts[name]; v.Known {
			out = append(out, Fact{Name: name, Value: v.String(), Known: true, From: s.from[name]})
		}
	}
	return out
}

func (s *saying) read(said []Said) {
	seen := map[string]bool{}
	for _, x := range said {
		if seen[x.Name] {
			s.fault(x.Name, "is said twice", "say it once")
			continue
		}
		seen[x.Name] = true
		s.one(x)
	}
	if seen[SaidMeasured] && seen[SaidDecision] {
		s.fault(SaidDecision, "is said beside the length as measured, which it is found from", "say one of them")
	}
}

// one reads one fact.
func (s *saying) one(x Said) {
	name := x.Name
	if name == SaidDecision {
		name = body.FactLength
	}
	def := body.Fact(name)
	if !body.IsFact(name) {
		s.fault(x.Name, "there is no such fact", doc.DidYouMean(x.Name, factNames(SaidDecision)))
		return
	}
	v, err := rule.ParseValue(rule.Kind(def.Kind), def.Unit, x.Value)
	if err != nil {
		s.fault(x.Name, err.Error(), "")
		return
	}
	if msg, hint := s.impossible(def, v, x.Value); msg != "" {
		s.fault(x.Name, msg, hint)
		return
	}
	if x.Name == SaidMeasured {
		s.measured = v
		return
	}
	s.put(name, v, FromSaying)
}

// impossible is what is wrong with a value that can be read.
func (s *saying) impossible(def body.FactDef, v rule.Value, text string) (msg, hint string) {
	switch {
	case !v.Known:
	case def.Kind == body.FactText || def.Kind == body.FactSet:
		return s.strange(def, v.Words)
	case def.Kind != body.FactNumber:
	case v.Number < 0 && !def.Signed:
		return "lies below zero", ""
	case def.Unit == "" && (v.Number != math.Trunc(v.Number) || v.Std != 0):
		return "is no whole number", "count them"
	case slices.Contains(measuredIn, def.Unit) && !math.IsInf(v.Number, 1) && !strings.Contains(text, "±") && !strings.Contains(text, "+-"):
		return "is said without its uncertainty", fmt.Sprintf("say how well it was measured: %s=\"%s +- 1 %s\" (what follows +- is the expanded uncertainty, k = 2)", def.Name, strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), def.Unit)), def.Unit)
	}
	return "", ""
}

// strange names a word that can be no value: of a list that the program has, or one that no
// row of the procedure names. Such a word meets every condition of the sort "none of", so a
// slip of the pen would permit.
func (s *saying) strange(def body.FactDef, words []string) (msg, hint string) {
	known, what := s.rs.wordsNamed(def.Name), "no row of the procedure names %q"
	list, _ := def.Words(&body.Body{}, "")
	switch {
	case def.Kind == body.FactText && len(list) > 0:
		known, what = list, "there is no %q"
	case def.Open || len(known) == 0:
		return "", ""
	}
	for _, w := range words {
		if !slices.Contains(known, w) {
			hint = doc.DidYouMean(w, known)
			if hint == "" {
				hint = "it has: " + strings.Join(known, ", ")
			}
			return fmt.Sprintf(what, w), hint
		}
	}
	return "", ""
}

// rightful refuses facts that contradict one another.
func (s *saying) rightful() {
	here, all := s.facts[body.FactInZone], s.facts[body.FactCount]
	if here.Known && all.Known && here.Number > all.Number {
		s.fault(body.FactInZone, "is more than count_on_casting", "count the cracks of the zone among those of the casting")
	}
	on, zones := s.facts[body.FactOnCasting], s.facts[body.FactZones]
	if on.Known && !on.Yes && zones.Known && len(zones.Words) > 0 {
		s.fault(body.FactZones, "a zone is said of what is on no casting", "leave zones out, or say on_casting=yes")
	}
	if lines := s.facts[body.FactOutboard]; len(lines.Words) > 1 && s.facts[body.FactMargin].Known {
		s.fault(body.FactMargin, "it is not said of which line", "ask about one section line at a time")
	}
}

// decisionLength finds the decision length from the length as it was measured, and is the
// allowance for tips in it [mm]. Tips that nobody spoke of were seen by eye. Where a crack
// may be near enough to count as one with this one the length is known from below only.
func (s *saying) decisionLength() float64 {
	if !s.measured.Known {
		return 0
	}
	v, from, add := s.measured, "as measured", 0.0
	kind, tips := s.facts[body.FactKind], s.facts[body.FactTips]
	crack := !kind.Known || slices.Contains([]body.FindingKind{body.Crack, body.Break}, body.FindingKind(kind.Words[0]))
	if byEye := !tips.Known || tips.Words[0] == string(body.TipVisual); crack && byEye {
		if tip := float64(s.rs.Proc.TipVisual); tip > 0 {
			add = 2 * tip
			from = v.String() + " as measured, and 2 × " + mm(tip) + " for tips seen by eye"
			v = v.At(v.Number + add)
		}
	}
	if why := s.mayBeLonger(crack); why != "" {
		v, from = rule.OrMore(v), from+"; "+why
	}
	s.put(body.FactLength, v, from)
	return add
}

// mayBeLonger is why something near may count as one with the crack; empty when nothing can.
func (s *saying) mayBeLonger(crack bool) string {
	p, next := &s.rs.Proc, s.facts[body.FactSpacing]
	if !crack || p.GroupGap <= 0 && p.Grouping == nil {
		return ""
	}
	if next.Known && math.IsInf(next.Number, 1) {
		return ""
	}
	if p.Grouping != nil {
		return "cracks count as one by " + p.Grouping.Name + ": say spacing=\"none near\" if there is no other, or " + SaidDecision + "=..."
	}
	c, err := rule.ParseCond(body.FactSpacing, rule.Number, "mm", fmt.Sprintf("> %g mm", float64(p.GroupGap)))
	if err != nil { // a gap that cannot be written settles nothing
		return err.Error()
	}
	if c.Eval(next, s.rs.Confidence).State == rule.Met {
		return ""
	}
	return "cracks nearer than " + mm(float64(p.GroupGap)) + " count as one: say spacing=..., or with such a neighbour " + SaidDecision + "=..."
}

// factNames is the names of all facts, and others.
func factNames(more ...string) []string {
	for _, d := range body.FactDefs() {
		more = append(more, d.Name)
	}
	return more
}
