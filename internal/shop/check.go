package shop

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/rule"
)

// CheckBody says what keeps the shop from working on the body: skills without
// a rate or a person, kinds of bay it does not have, another currency. The
// problems stand where the body asks for it. Missing equipment is a note: it
// can be hired, and the step that needs it will block until it is there.
func CheckBody(s *Shop, b *body.Body) (diag.Problems, []diag.Note) {
	c := &bodyCheck{shop: s, body: b}
	if s.Currency != b.Currency {
		c.fault("currency", fmt.Sprintf("the body's prices are in %s, the shop works in %s", b.Currency, s.Currency), "take a body whose prices are in the currency of the shop")
	}
	for i, p := range b.Parts {
		c.skill(fmt.Sprintf("parts[%d].skill", i), p.Skill)
	}
	for i, a := range b.Assemblies {
		c.skill(fmt.Sprintf("assemblies[%d].skill", i), a.Skill)
	}
	for i, j := range b.Joints {
		c.skill(fmt.Sprintf("joints[%d].skill", i), j.Skill)
		c.bay(fmt.Sprintf("joints[%d].bay", i), j.Bay)
		for k, step := range j.Before {
			c.step(fmt.Sprintf("joints[%d].before_closing[%d]", i, k), step)
		}
		for k, step := range j.After {
			c.step(fmt.Sprintf("joints[%d].after_closing[%d]", i, k), step)
		}
	}
	for i, t := range b.Treatments {
		for k, step := range t.Steps {
			c.step(fmt.Sprintf("treatments[%d].steps[%d]", i, k), step)
		}
	}
	for i, t := range b.Tasks {
		c.step(fmt.Sprintf("tasks[%d].step", i), t.Step)
	}
	for i, p := range b.Procedures {
		c.named(i, p)
	}
	c.problems.Sort()
	return c.problems, c.notes()
}

type bodyCheck struct {
	shop     *Shop
	body     *body.Body
	problems diag.Problems
	missing  []missing
}

// missing is a piece of equipment a step asks for and the shop does not have.
type missing struct{ equipment, step string }

func (c *bodyCheck) fault(path, msg, hint string) {
	c.problems = append(c.problems, c.body.Problem(path, msg, hint))
}

func (c *bodyCheck) step(path string, s body.Step) {
	c.skill(path+".skill", s.Skill)
	c.bay(path+".bay", s.Bay)
	for _, e := range s.Equipment {
		if !slices.Contains(c.shop.Equipment, e) {
			c.missing = append(c.missing, missing{e, s.Name})
		}
	}
}

// named: what the rows of a procedure say of equipment and qualifications is spelt as
// the shop spells it. Something that the shop does not have is no fault; something
// that it nearly has is a slip on either side.
func (c *bodyCheck) named(i int, p body.Procedure) {
	for k, r := range p.Rows {
		for fact, have := range map[string][]string{body.FactEquipment: c.shop.Equipment, body.FactQualified: c.shop.qualifications()} {
			cond, err := rule.ParseCond(fact, rule.Set, "", r.When[fact])
			if err != nil { // nothing is said of it, or what package body refuses
				continue
			}
			for _, w := range cond.Words {
				words := hyphened(have)
				if near, ok := doc.Nearest(w, words); ok && !slices.Contains(words, w) {
					c.fault(fmt.Sprintf("procedures[%d].rows[%d].when.%s", i, k, fact), fmt.Sprintf("the shop has no %q, but %q", w, near), "spell it in one way in the procedure and in the shop file")
				}
			}
		}
	}
}

// qualifications is every name of a qualification that somebody holds or held.
func (s *Shop) qualifications() []string {
	var out []string
	for _, p := range s.People {
		for _, q := range p.Qualified {
			out = append(out, q.For)
		}
	}
	return out
}

// hyphened writes names as conditions do: a condition names one word.
func hyphened(names []string) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = strings.Join(strings.Fields(n), "-")
	}
	return out
}

func (c *bodyCheck) skill(path string, skill body.SkillID) {
	if _, ok := c.shop.Sublet(skill); ok {
		return
	}
	if _, ok := c.shop.Rate(skill); !ok {
		c.fault(path, fmt.Sprintf("the shop has no rate for the skill %q", skill), doc.DidYouMean(string(skill), c.shop.skills()))
		return
	}
	for _, p := range c.shop.People {
		if slices.Contains(p.Skills, skill) {
			return
		}
	}
	c.fault(path, fmt.Sprintf("nobody in the shop has the skill %q", skill), "add it to a person, or have the work done elsewhere: 'sublets' in the shop file")
}

func (c *bodyCheck) bay(path string, kind body.BayKind) {
	var kinds []string
	for _, b := range c.shop.Bays {
		kinds = append(kinds, string(b.Kind))
	}
	if kind != "" && !slices.Contains(kinds, string(kind)) {
		c.fault(path, fmt.Sprintf("the shop has no bay of the kind %q", kind), doc.DidYouMean(string(kind), kinds))
	}
}

// notes has one note for each missing piece of equipment.
func (c *bodyCheck) notes() []diag.Note {
	sort.SliceStable(c.missing, func(i, j int) bool { return c.missing[i].equipment < c.missing[j].equipment })
	var out []diag.Note
	for i, m := range c.missing {
		if i > 0 && c.missing[i-1].equipment == m.equipment {
			continue
		}
		out = append(out, diag.Say("shop.equipment-missing", "The shop does not have {equipment:q}; the first step that needs it is {step:q}.", m.equipment, m.step).Note(diag.Note{Severity: diag.Caution, Where: m.equipment, Hint: "hire it, or add it to the shop's equipment"}))
	}
	return out
}
