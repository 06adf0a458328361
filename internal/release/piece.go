package release

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
)

// A piece of work is what is done once, however many findings it serves: a plate over two
// cracks, a section, a new casting. What has to be shown of it is asked for once, and a
// record about one of its findings serves them all. Two plates are two pieces.

// alike is the findings of a piece of work, the one asked about first: those of one item of
// the route for which the plan has the very same steps. Where the plan has no step for a
// finding nothing tells that it was treated together with another.
func (r *gate) alike(c Chosen) []job.FindingID {
	out := []job.FindingID{c.Finding}
	steps := r.treating(c.Finding)
	for _, o := range r.in.Chosen {
		if o.Finding != c.Finding && o.Kind == c.Kind && o.Line == c.Line && o.Item == c.Item && c.Kind != body.Leave &&
			len(steps) > 0 && slices.Equal(steps, r.treating(o.Finding)) {
			out = append(out, o.Finding)
		}
	}
	return out
}

// treating is the places of the steps that treat a finding.
func (r *gate) treating(id job.FindingID) []int {
	var out []int
	for i, s := range r.in.Steps {
		if s.Treats && slices.Contains(s.For, id) {
			out = append(out, i)
		}
	}
	return out
}

// piece names a piece of work by its first finding on the route.
func (r *gate) piece(c Chosen) job.FindingID {
	ids := r.alike(c)
	for _, o := range r.in.Chosen {
		if slices.Contains(ids, o.Finding) {
			return o.Finding
		}
	}
	return c.Finding
}

// onceOf is true the first time that something is asked of a piece of work.
func (r *gate) onceOf(c Chosen, what ...string) bool {
	return r.first(append([]string{"piece", string(r.piece(c))}, what...)...)
}

// first is true the first time that something is asked or told.
func (r *gate) first(words ...string) bool {
	key := strings.Join(words, "\x00")
	first := !r.asked[key]
	r.asked[key] = true
	return first
}

// serves says which findings a record serves, where they are several.
func (r *gate) serves(c Chosen) string {
	ids := r.alike(c)
	if len(ids) < 2 {
		return ""
	}
	return "; one record for " + decide.JoinWords(ids) + ", treated together"
}

// ofPiece is the records of a piece of work: the last about each of its findings, so that
// no good one hides a bad one about another of them. Those from before its step was done
// are of earlier work, and are left out where there are later ones.
func (r *gate) ofPiece(c Chosen, s *PlannedStep, fits func(job.Record) bool) []job.Record {
	var out []job.Record
	for _, id := range r.alike(c) {
		if x, ok := r.last(func(x job.Record) bool { return x.Finding == id && fits(x) }); ok {
			out = append(out, x)
		}
	}
	if s == nil {
		return out
	}
	done := r.done[s.ID].On
	earlier := func(x job.Record) bool { return x.On.Before(done) }
	if slices.ContainsFunc(out, func(x job.Record) bool { return !earlier(x) }) {
		out = slices.DeleteFunc(out, earlier)
	}
	return out
}

// shownOf is the records of a sort about a piece of work: in the procedure's own words for
// it, or about something that is to be looked for.
func (r *gate) shownOf(c Chosen, show body.ProofKind, what string) []job.Record {
	return r.ofPiece(c, r.lastStep(c.Finding), func(x job.Record) bool { return x.Show == show && x.What == what })
}

// recorded holds the records of a sort about a piece of work against the rule, once;
// false when there is none.
func (r *gate) recorded(c Chosen, show body.ProofKind) bool {
	xs := r.shownOf(c, show, "")
	for _, x := range xs {
		r.heldOnce(c, x)
	}
	return len(xs) > 0
}

// lookedFor says that the records of what was looked for say it is met, and holds them
// against the rule.
func (r *gate) lookedFor(c Chosen, what string) bool {
	xs := r.shownOf(c, body.ShowVisual, what)
	for _, x := range xs {
		r.heldOnce(c, x)
	}
	return len(xs) > 0 && !slices.ContainsFunc(xs, func(x job.Record) bool { return !x.Met })
}

// heldOnce holds a record against the rule, once for all findings of a piece of
// work.
func (r *gate) heldOnce(c Chosen, x job.Record) {
	if key := "record " + x.ID; !r.asked[key] {
		r.asked[key] = true
		r.afterTreating(c, x)
	}
}
