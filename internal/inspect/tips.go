package inspect

import (
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// visualTips says which ends of a trace were found by eye only, and how many
// such tips there are in all. The first word of the list is for the first
// point of the trace, the second for the last; a missing word and any word but
// penetrant, stop-hole and that for the fork of a branch count as by eye.
func visualTips(words []body.TipMethod) (ends [2]bool, n int) {
	sure := func(w body.TipMethod) bool {
		return w == body.TipPenetrant || w == body.TipStopHole || w == body.TipFork
	}
	for k := range max(2, len(words)) {
		if k < len(words) && sure(words[k]) {
			continue
		}
		n++
		if k < 2 {
			ends[k] = true
		}
	}
	return ends, n
}

// allowance is what the procedure adds for a tip found by eye only [mm].
func (p *place) allowance() float64 {
	if p.rule == nil {
		return 0
	}
	return max(0, float64(p.rule.TipVisual))
}

// tipCount is the number of tips of a finding found by eye only.
func (t *trace) tipCount() int {
	if !isCrack(t.in.Kind) {
		return 0
	}
	_, n := visualTips(t.tips)
	return n
}

// countTips says how each tip was found, as far as that counts. A tip is one
// found with penetrant only when the inspection that found it counts.
func (r *run) countTips(f *Finding, t *trace) {
	words := slices.Clone(t.in.Tips)
	if slices.Contains(words, body.TipPenetrant) {
		j, why := r.counts(t.in.Look, t.at, body.Penetrant)
		if why == "" && j.On.Before(t.in.On) {
			why = "inspection " + t.in.Look + " was on " + j.On.String() + ", before the finding was seen on " + t.in.On.String()
		}
		if why != "" {
			for k, w := range words {
				if w == body.TipPenetrant {
					words[k] = body.TipVisual
				}
			}
			r.note(diag.Say("inspect.tip-not-shown", "the tips are said to be found with penetrant, but that does not count: {why}", why).Note(diag.Note{Severity: diag.Caution, Where: string(f.ID), Hint: "penetrant inspection at both tips, with its conditions on record ('inspections' in the job)"}))
			f.Unknown = append(f.Unknown, "where the tips really are: they count as seen by eye only, because "+why)
		}
	}
	f.Tips = words
	if t.in.BranchOf != "" && len(words) == 1 {
		words = []body.TipMethod{body.TipVisual, words[0]} // until the fork is found where it is said to be
	}
	t.tips = words
}

// askAboutTips sets what lies ahead of the ends and says what is not known
// about the tips and the depth.
func (r *run) askAboutTips(f *Finding, t *trace) {
	if !isCrack(f.Kind) {
		return
	}
	f.because("%s", t.tipsText())
	ends, n := visualTips(t.tips)
	for k, visual := range ends {
		if visual {
			t.curve.ahead[k] = t.at.allowance()
		}
	}
	if n > 0 {
		r.note(diag.Say("inspect.tip-visual", "{tips} found by eye only: the {kind} may run on under the surface of what was seen", diag.Counted(n, "tip"), f.Kind).Note(diag.Note{Severity: diag.Caution, Where: string(f.ID), Hint: "penetrant inspection at both tips"}))
	}
	if f.Through == body.Unknown {
		r.note(diag.Say("inspect.through-unknown", "nobody has said whether the {kind} goes through the wall", f.Kind).Note(diag.Note{Severity: diag.Caution, Where: string(f.ID), Hint: "look at the other face, with penetrant"}))
		f.Unknown = append(f.Unknown, "look at the other face, with penetrant, to see whether it goes through")
	}
	if t.at.rule == nil {
		r.note(diag.Say("inspect.no-procedure", "no procedure for casting {casting} was in force on {on}", f.Casting, r.in.today().String()).Note(diag.Note{Severity: diag.Blocking, Where: string(f.ID), Hint: "add the manufacturer's procedure to the body"}))
		f.Unknown = append(f.Unknown, "decision length: without a procedure neither the tip allowance nor the grouping distance is known")
	}
}

// withTips is a length with the allowance for n tips found by eye only.
func (p *place) withTips(l Length, n int) (out Length, addMM float64) {
	a := p.allowance()
	addMM = float64(float64(n) * a)
	hidden := hiddenStd(a)
	out.MM = l.MM + addMM
	out.Std = math.Sqrt(float64(l.Std*l.Std) + float64(float64(n)*hidden*hidden))
	return out, addMM
}
