package plan

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// A choice is made elsewhere, and may name what the body and the job do not have: of that
// nothing is planned and nothing bought, so that the plan would be short of it. Everything of
// the kind blocks.

// checkChoice blocks what cannot be meant by any item.
func (b *builder) checkChoice() {
	for _, it := range b.items {
		b.checkFindings(it)
		if !slices.Contains(body.TreatmentKinds(), it.Kind) {
			b.block(findingsText(it.Findings), diag.Say("plan.unknown-kind", "{kind:q} is no kind of treatment", it.Kind), "choose one of those in the glossary")
			continue
		}
		if t := b.treatment(it); t.Kind != "" && t.Kind != it.Kind {
			b.block(string(it.Treatment), diag.Say("plan.treatment-kind", "treatment {treatment} is of the kind {kind:q}, and was chosen as {chosen:q}", it.Treatment, t.Kind, it.Kind), "choose a treatment of that kind")
		}
		b.checkLine(it)
		b.checkParts(it)
	}
}

// checkFindings blocks an item that treats nothing, or what the job does not have.
func (b *builder) checkFindings(it Item) {
	if len(it.Findings) == 0 {
		b.block(string(it.Kind), diag.Say("plan.no-finding", "{kind:q} was chosen for no finding", it.Kind), "say what it is to put right")
	}
	for _, f := range it.Findings {
		if _, ok := b.findings[f]; !ok {
			b.block(string(f), diag.Say("plan.unknown-finding", "the job has no finding {finding}", f), "choose a treatment for what the job has")
		}
	}
}

// checkLine blocks a section that is not along a line of the body, by the treatment and with
// the piece of that line, and a line of anything else.
func (b *builder) checkLine(it Item) {
	where := findingsText(it.Findings)
	line, ok := b.in.Body.Line(it.Line)
	switch {
	case it.Kind != body.SectionOff:
		if it.Line != "" {
			b.block(where, diag.Say("plan.line-unused", "{kind:q} is chosen along {line}, and only a section is along a line", it.Kind, it.Line), "choose the section, or no line")
		}
	case !ok:
		b.block(where, diag.Say("plan.unknown-line", "section line {line:q} is not in the body's data, so nobody knows what is cut off and which piece replaces it", it.Line), "choose a line of the body")
	case it.Treatment != line.Treatment:
		b.block(where, diag.Say("plan.line-treatment", "the section along {line} is done by treatment {treatment}, not {chosen}", it.Line, line.Treatment, it.Treatment), "choose the treatment of the line")
	case it.Part != "" && it.Part != line.Piece:
		b.block(where, diag.Say("plan.line-piece", "the piece of {line} is {piece}, not {part}", it.Line, line.Piece, it.Part), "choose the piece of the line")
	}
}

// checkParts blocks an item whose new part nobody knows or prices, and a casting that is
// changed as if it were none, or the other way round.
func (b *builder) checkParts(it Item) {
	where := findingsText(it.Findings)
	bought := b.boughtBy(it)
	if len(bought) == 0 && it.Kind.NewPart() {
		b.block(where, diag.Say("plan.no-part", "{kind:q} is chosen for {for}, and no part is named", it.Kind, where), "say which part is changed")
	}
	for _, id := range bought {
		casting := slices.ContainsFunc(b.in.Body.Castings, func(c body.Casting) bool { return c.Part == id })
		if it.Kind != body.SectionOff && casting != (it.Kind == body.ReplaceCasting) {
			b.block(where, diag.Say("plan.part-kind", "{kind:q} is chosen for part {part:q}, which is not of that kind", it.Kind, id), "a casting is replaced as a casting, and nothing else is")
		}
		p := b.part(id)
		if _, known := b.parts[id]; known && p.Price == (unit.Money{}) {
			b.block(string(id), diag.Say("plan.no-price", "nobody says what a new {part} costs", p.Name), "give its price in parts.csv")
		}
	}
}
