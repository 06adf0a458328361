package decide

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
)

// An answer is for the facts that the manufacturer was told. It allows nothing any
// more once the finding, or another that touches it, is worse or is another one.

// Told is what the manufacturer is told of a finding when it is asked about today.
func Told(in Input, id job.FindingID) *job.Told { return newScene(in).told(id) }

// told is what there is to tell of a finding today: as it was entered, as far as
// that counts.
func (s *scene) told(id job.FindingID) *job.Told {
	out := s.in.Job.AsTold(id)
	if out == nil {
		return nil
	}
	for i := range out.Findings {
		f := &out.Findings[i]
		sub := s.named(f.ID)
		f.Through, f.Depth, f.DepthStd = sub.f.Through, sub.f.Depth, sub.f.DepthStd
		tips := sub.f.Tips
		if len(sub.g.Tips) > 0 {
			tips = sub.g.Tips
		}
		f.Tips = append([]body.TipMethod(nil), tips...)
	}
	return out
}

// named is the finding of that identity; nil when there is none.
func (s *scene) named(id job.FindingID) *subject {
	for _, sub := range s.subjects {
		if sub.f.ID == id {
			return sub
		}
	}
	return nil
}

// outgrown says why an answer is not for the facts as they are now; empty when it is.
func (s *scene) outgrown(a job.Answer) string { return s.worse(s.in.Job.ToldFor(a), a.Finding) }

// worse says what of a finding is worse now than was told; empty when nothing is.
func (s *scene) worse(was *job.Told, id job.FindingID) string {
	return was.Worse(id, s.told(id), func(other job.FindingID) job.Touch { return s.touch(id, other) })
}

// touch is how another finding has a say in what may be done about one: it counts
// as one with it, or lies or may lie in a zone with it, or is the nearest. One whose
// place is not known may be anywhere.
func (s *scene) touch(id, other job.FindingID) job.Touch {
	a, b := s.named(id), s.named(other)
	switch {
	case a == nil || b == nil || !sameCasting(a, b):
		return job.Away
	case !a.g.Located || !b.g.Located || s.root[a.place] == s.root[b.place]:
		return job.AsOne
	case a.g.Spacing != nil && a.g.Spacing.To == string(other):
		return job.Beside
	}
	if slices.ContainsFunc(a.g.Zones, func(z inspect.ZoneShare) bool {
		return slices.ContainsFunc(b.g.Zones, func(o inspect.ZoneShare) bool { return o.Zone == z.Zone })
	}) {
		return job.Beside
	}
	return job.Away
}
