package inspect

import (
	"math"

	"fettle/internal/diag"
)

// visualTips says which ends of a trace were found by eye only, and how many
// such tips there are in all. The first word of the list is for the first
// point of the trace, the second for the last; a missing word and any word but
// penetrant and stop-hole count as by eye. Further words are tips of branches.
func visualTips(words []string) (ends [2]bool, n int) {
	byEye := func(w string) bool { return w != "penetrant" && w != "stop-hole" }
	for k := range max(2, len(words)) {
		if k < len(words) && !byEye(words[k]) {
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
	if !hasTips(t.in.Kind) {
		return 0
	}
	_, n := visualTips(t.in.Tips)
	return n
}

// askAboutTips sets what lies ahead of the ends and says what is not known
// about the tips and the depth.
func (r *run) askAboutTips(f *Finding, t *trace) {
	if !hasTips(f.Kind) {
		return
	}
	ends, n := visualTips(t.in.Tips)
	for k, visual := range ends {
		if visual {
			t.curve.ahead[k] = t.at.allowance()
		}
	}
	if n > 0 {
		r.note(diag.Note{Code: "inspect.tip-visual", Severity: diag.Caution, Where: string(f.ID),
			Text: count(n, "tip") + " found by eye only: the " + f.Kind + " may run on under the surface of what was seen",
			Hint: "penetrant inspection at both tips"})
	}
	if f.Through == "unknown" {
		r.note(diag.Note{Code: "inspect.through-unknown", Severity: diag.Caution, Where: string(f.ID),
			Text: "nobody has said whether the " + f.Kind + " goes through the wall",
			Hint: "look at the other face, with penetrant"})
		f.Unknown = append(f.Unknown, "look at the other face, with penetrant, to see whether it goes through")
	}
	if t.at.rule == nil {
		r.note(diag.Note{Code: "inspect.no-procedure", Severity: diag.Blocking, Where: string(f.ID),
			Text: "no procedure for casting " + string(f.Casting) + " was in force on " + r.in.today().String(),
			Hint: "add the manufacturer's procedure to the body"})
		f.Unknown = append(f.Unknown, "decision length: without a procedure neither the tip allowance nor the grouping distance is known")
	}
}

// withTips is a length with the allowance for n tips found by eye only.
func (p *place) withTips(l Length, n int) (out Length, addMM float64) {
	a := p.allowance()
	addMM = float64(n) * a
	hidden := hiddenStd(a)
	out.MM = l.MM + addMM
	out.Std = math.Sqrt(float64(l.Std*l.Std) + float64(float64(n)*hidden*hidden))
	return out, addMM
}
