package revise

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
)

// Turned is a finding that two revisions decide differently.
type Turned struct {
	Finding job.FindingID         `json:"finding"`
	Way     Direction             `json:"way"`
	Text    string                `json:"text"` // in words
	Old     decide.FindingVerdict `json:"old"`
	New     decide.FindingVerdict `json:"new"`
}

// Under is the body with one revision as the only procedure of its casting, to
// see what that revision alone would decide.
func Under(b *body.Body, p body.Procedure) *body.Body {
	out := *b
	out.Procedures = []body.Procedure{p}
	for _, q := range b.Procedures {
		if q.Casting != p.Casting {
			out.Procedures = append(out.Procedures, q)
		}
	}
	return &out
}

// TurnedBy is the findings that are decided differently, in the order of the
// newer decisions. Both have to be of the same job.
func TurnedBy(old, fresh []decide.FindingVerdict) []Turned {
	was := map[job.FindingID]decide.FindingVerdict{}
	for _, f := range old {
		was[f.ID] = f
	}
	var out []Turned
	for _, f := range fresh {
		o := was[f.ID]
		texts := optionChanges(o.Options, f.Options)
		if len(texts) == 0 && o.Verdict == f.Verdict {
			continue
		}
		out = append(out, Turned{Finding: f.ID, Way: way(o, f), Old: o, New: f, Text: turnedText(o, f, texts)})
	}
	return out
}

// turnedText begins with what matters most: what is the mildest that may be
// done now, and before.
func turnedText(old, fresh decide.FindingVerdict, texts []string) string {
	a, b := mildestText(old), mildestText(fresh)
	if a == b {
		return "the mildest treatment allowed stays " + b + "; " + strings.Join(texts, "; ")
	}
	return "the mildest treatment allowed is now " + b + " in place of " + a + "; " + strings.Join(texts, "; ")
}

func mildestText(f decide.FindingVerdict) string {
	if o, ok := f.Mildest(); ok {
		return decide.OptionName(o.Kind, o.Line)
	}
	return "none (" + f.Verdict.String() + ")"
}

// optionChanges is every treatment whose verdict changed; one that neither
// table speaks of is ask.
func optionChanges(old, fresh []decide.OptionVerdict) []string {
	var out []string
	say := func(k body.TreatmentKind, l body.LineID, was, is decide.Verdict) {
		if was != is {
			out = append(out, decide.OptionName(k, l)+" was "+was.String()+", is "+is.String())
		}
	}
	for _, o := range fresh {
		say(o.Kind, o.Line, verdictOn(old, o.Kind, o.Line), o.Verdict)
	}
	for _, o := range old {
		if !slices.ContainsFunc(fresh, func(n decide.OptionVerdict) bool { return n.Kind == o.Kind && n.Line == o.Line }) {
			say(o.Kind, o.Line, o.Verdict, verdictOn(fresh, o.Kind, o.Line))
		}
	}
	return out
}

// verdictOn is what was decided on a treatment. A section that is not decided
// line by line has one verdict for all of them; what is not spoken of is ask.
func verdictOn(options []decide.OptionVerdict, k body.TreatmentKind, l body.LineID) decide.Verdict {
	for _, o := range options {
		if o.Kind == k && o.Line == l {
			return o.Verdict
		}
	}
	for _, o := range options {
		if o.Kind == k && o.Line == "" {
			return o.Verdict
		}
	}
	return decide.Ask
}

// way compares what is allowed: all that was and more is milder, less is
// stricter. When each allows something that the other does not, the mildest
// treatment allowed decides.
func way(old, fresh decide.FindingVerdict) Direction {
	a, b := allowedOf(old), allowedOf(fresh)
	lost, won := decide.MissingFrom(a, b), decide.MissingFrom(b, a)
	switch {
	case len(won) > 0 && len(lost) == 0:
		return Milder
	case len(lost) > 0 && len(won) == 0:
		return Stricter
	case len(lost) == 0:
		return Unclear
	}
	x, _ := old.Mildest()
	y, _ := fresh.Mildest()
	switch {
	case decide.Milder(y.Kind, x.Kind):
		return Milder
	case decide.Milder(x.Kind, y.Kind):
		return Stricter
	}
	return Unclear
}

// allowedOf is the treatments allowed, by name.
func allowedOf(f decide.FindingVerdict) []string {
	var out []string
	for _, o := range f.Options {
		if o.Verdict == decide.Allowed {
			out = append(out, decide.OptionName(o.Kind, o.Line))
		}
	}
	return out
}
