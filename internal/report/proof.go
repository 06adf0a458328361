package report

import (
	"fmt"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// signPart is section 7: what is still to be shown, with fields to fill in by
// hand.
type signPart struct {
	NoWork bool // nothing is repaired: only signatures are asked for
	Holds  []signRow
	Points []string   // points that are to be measured again yet
	Checks []checkRow // inspections asked for afterwards
	More   []entryRow // what else is on record of the work
	Again  []pointRow
}

// signRow is a hold point, with its last record where there is one: as it was entered. Whether
// it counts, the gate of the hand-back says.
type signRow struct{ ID, What, Result, By, On string }

func buildSign(in Input, p pick) signPart {
	out := signPart{NoWork: noWork(p) && in.After == nil}
	checks, shown := checkRows(in, p.Route)
	out.Checks = checks
	passed := holdRecords(in.Job, p.Route.Plan)
	for _, s := range holdPoints(p.Route.Plan) {
		row := signRow{ID: s.ID, What: sentence(s.Hold)}
		if x, ok := passed[s.ID]; ok {
			shown[x.ID] = true
			row.Result, row.By, row.On = resultOf(x)+" ("+x.ID+")", byWords(in, x), day(x.On)
		}
		out.Holds = append(out.Holds, row)
	}
	out.More = furtherRows(in, p.Route.Plan, shown)
	var h measure.Hypothesis // of no point, until it is measured
	if in.After != nil {
		h, _ = in.After.Best()
	}
	for _, pt := range in.Body.Points {
		if _, measured := h.Point(pt.ID); !measured {
			out.Points = append(out.Points, string(pt.ID))
		}
	}
	if in.After != nil {
		axes := wordsOf(in.Body.Axes)
		for _, pt := range in.Body.Points {
			out.Again = append(out.Again, pointRowOf(pt, h, axes, in.Measure.Confidence))
		}
	}
	return out
}

// holdRecords is the last record about the hold point of each step. One that may mean several
// steps is of none.
func holdRecords(j *job.State, p plan.Plan) map[string]job.Record {
	out := map[string]job.Record{}
	steps := p.WorkSteps()
	for _, x := range j.Records {
		about := job.About(steps, job.Actual{Step: x.Step, Finding: x.Finding})
		if x.Show != body.ShowHold || len(about) != 1 {
			continue
		}
		id := p.Steps[about[0]].ID
		if was, ok := out[id]; !ok || !x.On.Before(was.On) {
			out[id] = x
		}
	}
	return out
}

// proofPart is section 8: notes, evidence and what the document was made of.
type proofPart struct {
	Notes    []noteRow
	Evidence []evidenceRow
	Choices  []string
	Checks   []string
	Faults   []faultsRow
	Hashes   []hashRow
	Methods  []methodRow
	Sources  []string
	Annex    []annexRow
}

type noteRow struct {
	Word                            word
	Where, Text, Hint, Source, Code string
}

type evidenceRow struct{ ID, Text, File, Hash, Who string }

// faultsRow is one reading of the fault memories.
type faultsRow struct {
	ID, When, Systems, Who string
	Codes                  []string
}

// faultsOf is what stood in the fault memories, with what is said of a code that stands.
func faultsOf(in Input) []faultsRow {
	var out []faultsRow
	for _, x := range in.Job.Faulty {
		r := faultsRow{ID: x.ID, When: string(x.Stage) + " the repair", Systems: list(x.Systems, 40), Who: x.By + ", " + day(x.On)}
		if x.At != "" {
			r.Who += " " + x.At
		}
		if x.Device != "" {
			r.Who += ", with " + x.Device
		}
		if len(x.Photos) > 0 {
			r.Who += "; evidence " + list(x.Photos, 12)
		}
		for _, c := range x.Codes {
			text := c.Words()
			if c.Harmless != "" {
				text += "; harmless, says " + c.HarmlessBy + " on " + day(c.HarmlessOn) + ": " + c.Harmless
			}
			r.Codes = append(r.Codes, text)
		}
		out = append(out, r)
	}
	return out
}

type hashRow struct{ What, Which, Hash string }

type methodRow struct{ Name, Text string }

func buildProof(in Input) proofPart {
	var out proofPart
	if in.Full {
		out.Annex = annexRows(in)
	}
	for _, n := range in.Notes {
		out.Notes = append(out.Notes, noteRow{severityWord(n.Severity), n.Where, sentence(n.Text), sentence(n.Hint), n.Source, n.Code})
	}
	for _, e := range in.Job.Evidence {
		out.Evidence = append(out.Evidence, evidenceRow{e.ID, e.Text, e.File, evidenceHash(in, e), or(e.By, "nobody named") + ", " + day(e.On)})
	}
	for _, c := range in.Job.Choices {
		out.Choices = append(out.Choices, fmt.Sprintf("%s chose %s on %s: %s", c.By, c.Route, day(c.On), sentence(c.Reason)))
	}
	for _, c := range in.Job.Checks {
		out.Checks = append(out.Checks, fmt.Sprintf("%s looked up %s on %s and found revision %s.", c.By, c.Procedure, day(c.On), c.Revision))
	}
	out.Faults = faultsOf(in)
	out.Hashes = []hashRow{
		{"Body data", in.Body.ID + ", revision " + in.Body.Revision, or(in.Meta.BodyHash, "none given")},
		{"Shop settings", in.Shop.Name, or(in.Meta.ShopHash, "none given")},
		{"Job as it stands", in.Job.ID, or(in.Meta.JobHash, "none given")},
		{"History of the job", or(in.Meta.History, "not told"), or(in.Meta.HeadHash, "none")},
		{"Evidence as read", unit.Count(len(in.Job.Evidence), "piece"), or(in.Meta.EvidenceHash, "none given")},
	}
	out.Sources = []string{"Body data: " + sentence(in.Body.Source)}
	for _, p := range in.Body.Procedures {
		out.Sources = append(out.Sources, fmt.Sprintf("Procedure %s, revision %s: %s", p.ID, p.Revision, sentence(p.Source)))
	}
	out.Methods = methods
	return out
}

// evidenceHash is the hash of a piece of evidence and, where the job does not
// note one, that it is only the one of the file as it was read.
func evidenceHash(in Input, e job.Evidence) string {
	switch read := in.Evidence[e.ID]; {
	case e.SHA256 != "":
		return e.SHA256
	case read != "":
		return read + " (as read; the job notes none)"
	}
	return "no hash"
}

func severityWord(s diag.Severity) word {
	switch s {
	case diag.Info:
		return word{s.String(), toneFlat}
	case diag.Caution:
		return word{s.String(), toneOpen}
	}
	return word{s.String(), toneBad}
}

// methods names how the figures came about. The documents of the program hold
// the formulas with their sources.
var methods = []methodRow{
	{"Shift of a point", "Readings of every set-up are fitted to the body data by a motion without scale or mirror image (least squares with full covariances). Which points stood still comes from the largest set that fits together and from named evidence, never from the average of all."},
	{"Has moved", "The shift is compared with its own covariance: T² = shift' · covariance⁻¹ · shift, with three degrees of freedom."},
	{"Verdict on a limit", "Met when the probability that the true value meets the limit is at least the stated confidence, not met when it is at most one minus that, else undecided (conformance probability, JCGM 106; ISO 14253-1). Undecided never permits."},
	{"Expanded uncertainty", "Figures after ± are two standard uncertainties (k = 2)."},
	{"Length of a crack", "Along the surface of the casting's mesh through the points of the trace; the straight distance is given as lower bound. The decision length is that of the group of cracks that count as one, with the procedure's allowance for tips seen by eye only."},
	{"Decision", "Every row of the procedure's table is evaluated. A forbidding row beats an allowing one; without a row, or with a fact not known, the manufacturer has to be asked."},
	{"Opening", "The parts that must be off for access, followed until nothing more is asked for; a part is lost when opening one of its joints destroys it or it may be used only once."},
	{"Dates", "Steps, people, bays and waits against the shop's calendar; the bound is the larger of the longest chain of steps and the busiest skill."},
	{"Money", "Whole minor units; each line is rounded once, half away from zero; totals are the sums of the lines as printed. Total-loss rules are compared exactly, before rounding."},
}
