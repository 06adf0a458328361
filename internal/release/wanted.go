package release

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// EntryKind is what sort of entry is open.
type EntryKind string

// Sorts of entries that a person adds to a job.
const (
	WantChoice     EntryKind = "choice"
	WantAcceptance EntryKind = "acceptance"
	WantReview     EntryKind = "review"
	WantLookup     EntryKind = "lookup"
	WantStep       EntryKind = "step"
	WantHold       EntryKind = "hold"
	WantFigure     EntryKind = "figure"
	WantTorque     EntryKind = "torque"
	WantBond       EntryKind = "bond"
	WantSeen       EntryKind = "seen"
	WantInspection EntryKind = "inspection"
	WantPenetrant  EntryKind = "penetrant"
	WantArea       EntryKind = "area"
	WantDelivery   EntryKind = "delivery"
	WantPromise    EntryKind = "promise"
	WantHazard     EntryKind = "hazard"
	WantSetup      EntryKind = "setup"
	WantReading    EntryKind = "reading"
	WantHash       EntryKind = "hash"
	WantFaults     EntryKind = "faults"
	WantHarmless   EntryKind = "harmless"
	WantEvidence   EntryKind = "evidence" // is asked for by no list, and taken whenever there is some
)

// Wanted is an entry of the job that would show something that is missing, as far as it is
// known before anybody has done it: what it is about and what it has to be, and nothing
// that a person has to see, read or sign.
type Wanted struct {
	Entry   EntryKind     `json:"entry"`
	About   string        `json:"about,omitempty"` // a step, a joint, a section line, a procedure
	Finding job.FindingID `json:"finding,omitempty"`
	What    string        `json:"what,omitempty"` // the figure, the treatment, the adhesive, what is looked for, the method
	Must    string        `json:"mustBe,omitempty"`
	Unit    string        `json:"unit,omitempty"` // of a figure
	Step    string        `json:"step,omitempty"` // of a bond: the step that its record has to name
	Minutes unit.Minutes  `json:"plannedMinutes,omitempty"`

	Serves []job.FindingID `json:"serves,omitempty"` // findings treated together, where it is about one of several
}

// Same says that one entry would serve both.
func (w Wanted) Same(o Wanted) bool {
	return w.Entry == o.Entry && w.About == o.About && w.Finding == o.Finding && w.What == o.What
}

// Takes says that an entry about a finding serves: about the one that is named, or about any
// that is treated together with it.
func (w Wanted) Takes(o Wanted) bool {
	if slices.Contains(w.Serves, o.Finding) {
		o.Finding = w.Finding
	}
	return w.Same(o)
}

// saidElsewhere says that an entry which is wanted too says a figure: the torque of a joint,
// the batch and open time of a bond.
func saidElsewhere(f Wanted, steps []PlannedStep, all []Wanted) bool {
	i := slices.IndexFunc(steps, func(s PlannedStep) bool { return called(steps, s) == f.About && first(s.For) == string(f.Finding) })
	if i < 0 {
		return false
	}
	return slices.ContainsFunc(all, func(w Wanted) bool {
		of := slices.Contains(steps[i].Joints, body.JointID(w.About)) || w.About == "" && slices.Contains(steps[i].For, w.Finding)
		if w.Step != "" {
			of = w.Step == called(steps, steps[i])
		}
		material := body.MaterialID(w.What)
		return w.Entry == WantTorque && f.What == body.TorqueReading(body.JointID(w.About)) ||
			w.Entry == WantBond && of && (f.What == body.BatchReading(material) || f.What == body.OpenReading(material))
	})
}

// wanting is missing with the entries that would show it.
func (r *gate) wanting(m Missing, wants ...Wanted) {
	m.Group, m.Wants = r.group, wants
	r.out = append(r.out, m)
}

func stepWanted(steps []PlannedStep, s PlannedStep) Wanted {
	return Wanted{Entry: WantStep, About: called(steps, s), Finding: job.FindingID(first(s.For)), Serves: s.For, Minutes: s.Minutes, Must: fmt.Sprintf("minutes; planned %s", s.Minutes.Words())}
}

// figureWanted is the figure that would close a gap; none where what is on record breaks
// the limits, which no other figure mends.
func figureWanted(g job.FigureGap) []Wanted {
	if g.Breaks {
		return nil
	}
	must := g.Reading.Name
	if l := g.Reading.Limits(); l != "" {
		must += ": " + l
	}
	return []Wanted{{Entry: WantFigure, About: g.Called(), Finding: job.FindingID(first(g.For)), Serves: g.For, What: g.Reading.ID, Unit: g.Reading.Unit, Must: must}}
}

// bondWanted is the record of a bond: of a joint, of a finding's own plate or section, or of
// a step that the record has to name.
func bondWanted(w Wanted, name string, m body.MaterialID) Wanted {
	w.Entry, w.What, w.Must = WantBond, string(m), name+": temperature of the parts; mixed from, closed to; batch and last day"
	if w.Step != "" {
		w.About = w.Step
	}
	return w
}

// penetrantWanted is an inspection and what it showed, and at which point of the work where
// it is asked for at several.
func penetrantWanted(id job.FindingID, serves []job.FindingID, when, must string) []Wanted {
	return []Wanted{
		{Entry: WantInspection, What: string(body.Penetrant), Must: "its conditions, as 'medium=colour contrast; light_lx=850; temperature_c=19; dwell_min=20; development_min=15'"},
		{Entry: WantPenetrant, Finding: id, Serves: serves, What: when, Must: must},
	}
}

// measuredWanted is a set-up of the stage after the repair and the control points that it has
// to reach.
func measuredWanted(points []body.PointID) []Wanted {
	if len(points) == 0 {
		return nil
	}
	out := []Wanted{{Entry: WantSetup, What: string(job.StageAfter), Must: "what it was measured with; value, as 'std=0.3 mm; temperature=19 C; temperature_std=0.6 K'; setup: its identity"}}
	for _, id := range points {
		out = append(out, Wanted{Entry: WantReading, About: string(id), What: "xyz", Must: "setup: which, of the stage 'after'; value in mm, as 'x; y; z'"})
	}
	return out
}

// reviewWanted is a second person's look at everything that is decided.
var reviewWanted = Wanted{Entry: WantReview, Must: "by somebody who neither entered nor accepted"}

func acceptanceWanted(c Chosen) Wanted {
	return Wanted{Entry: WantAcceptance, About: string(c.Line), Finding: c.Finding, What: string(c.Kind), Must: "by somebody who may accept it; a reason where it rests on an answer or a milder one is allowed"}
}
