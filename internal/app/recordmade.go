package app

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/release"
	"fettle/internal/unit"
)

// made is the record of a row of the list; an error is about the named column.
func (t *taken) made(w release.Wanted, e Entry) (record any, column string, err error) {
	column = "value"
	switch w.Entry {
	case release.WantChoice:
		return job.Choice{Route: e.Value, By: e.By, On: e.On, Reason: e.Text}, column, given(e.Value, "the route")
	case release.WantAcceptance:
		return job.Accepted{Finding: w.Finding, Kind: body.TreatmentKind(w.What), Line: body.LineID(w.About), By: e.By, On: e.On, Reason: e.Text}, column, nil
	case release.WantReview:
		return job.Review{By: e.By, On: e.On, Text: e.Text}, column, nil
	case release.WantLookup:
		return job.Check{Procedure: body.ProcedureID(w.About), Revision: e.Value, By: e.By, On: e.On}, column, given(e.Value, "the revision")
	case release.WantStep:
		x := job.Actual{ID: t.workID(), Step: w.About, Finding: w.Finding, Planned: w.Minutes, By: e.By, On: e.On, Began: e.From, Ended: e.To, Text: e.Text}
		if x.Minutes, err = quantity[unit.Minutes](e.Value, "min"); err == nil {
			x.Parts, err = t.used(e.Used)
			column = "used"
		}
		return x, column, err
	case release.WantFigure:
		x, err := t.figure(w, e)
		return x, column, err
	case release.WantInspection:
		return t.inspection(e)
	case release.WantHazard:
		return t.madeSafe(w, e)
	case release.WantSetup:
		return t.setup(e)
	case release.WantFaults:
		return t.faultsRead(w, e)
	case release.WantHarmless:
		return t.harmless(w, e)
	case release.WantHash:
		return t.noted(w, e)
	case release.WantEvidence:
		return t.evidence(e)
	case release.WantArea, release.WantDelivery, release.WantPromise:
		return t.supply(w, e)
	}
	return t.proof(w, e)
}

// proof is a row that becomes a proof of what was inspected or closed.
func (t *taken) proof(w release.Wanted, e Entry) (any, string, error) {
	x := job.Record{ID: t.recordID(), Finding: w.Finding, By: e.By, On: e.On, At: e.From, Device: e.Device, Calibrated: e.Calibrated, Text: e.Text}
	var err error
	switch w.Entry {
	case release.WantHold:
		x.Show, x.Step = body.ShowHold, w.About
		x.Met, err = yes(e.Value, "met", "not met")
	case release.WantSeen:
		x.Show, x.What = body.ShowVisual, w.What
		x.Met, err = yes(e.Value, "met", "not met")
	case release.WantTorque:
		x.Show, x.Joint = body.ShowTorque, body.JointID(w.About)
		x.Torque, err = quantity[unit.NewtonMetre](e.Value, "Nm")
	case release.WantBond:
		x.Show, x.Joint, x.Material, x.Batch, x.UseBefore = body.ShowAdhesive, body.JointID(w.About), body.MaterialID(w.What), e.Batch, e.UseBefore
		if w.Step != "" {
			x.Joint, x.Step = "", w.Step
		}
		x.At, x.Mixed, x.Closed = "", e.From, e.To
		var c unit.Celsius
		c, err = quantity[unit.Celsius](e.Value, "C")
		x.Temp = unit.Some(c)
	case release.WantPenetrant:
		x.Show, x.Look, x.What = body.ShowPenetrant, e.Inspection, w.What
		if e.Inspection == "" {
			return nil, "inspection", errors.New("the row does not say in which inspection it was; give its identity, the one of a row 'inspection' or of the job")
		}
		if x.None = e.Value == "none"; !x.None {
			err = fmt.Errorf("%q is not 'none'; enter what was indicated, with its size and ends, under 'indications' (%s)", e.Value, t.c.Job.Place("records"))
		}
	default:
		err = fmt.Errorf("an entry %q cannot be recorded from a list", w.Entry)
	}
	return x, "value", err
}

// figure is a figure in the unit that its step asks for.
func (t *taken) figure(w release.Wanted, e Entry) (job.Figure, error) {
	x := job.Figure{Step: w.About, Finding: w.Finding, Reading: w.What, Device: e.Device, Calibrated: e.Calibrated, UseBefore: e.UseBefore, By: e.By, On: e.On}
	if w.Unit == body.TextUnit {
		x.Text = e.Value
		if e.Batch != "" {
			x.Text = strings.TrimSpace(e.Batch + " " + e.Value)
		}
		return x, given(x.Text, "what it was")
	}
	var err error
	x.Value, err = quantity[unit.Amount](e.Value, w.Unit)
	return x, err
}

// inspection is a session with its conditions, given as "light_lx=850; dwell_min=20".
func (t *taken) inspection(e Entry) (any, string, error) {
	x := job.Inspection{ID: e.Inspection, Method: body.InspectionMethod(e.What), Device: e.Device, Calibrated: e.Calibrated, Product: e.Batch, By: e.By, On: e.On, Text: e.Text}
	if x.ID == "" {
		return nil, "inspection", errors.New("the inspection has no identity; give it a name that no other has")
	}
	for _, pair := range strings.Split(e.Value, ";") {
		key, value, ok := strings.Cut(pair, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		switch into := x.Measured(key); {
		case strings.TrimSpace(pair) == "":
		case !ok:
			return nil, "value", fmt.Errorf("%q is no condition; write name=value, separated by semicolons", strings.TrimSpace(pair))
		case key == "medium":
			x.Medium = value
		case into == nil:
			return nil, "value", fmt.Errorf("no condition is called %q; %s", key, cmp.Or(doc.DidYouMean(key, job.Conditions()), "known are "+strings.Join(job.Conditions(), ", ")))
		default:
			n, err := strconv.ParseFloat(value, 64)
			if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
				return nil, "value", fmt.Errorf("%s: %q is not a number", key, value)
			}
			*into = unit.Some(n)
		}
	}
	return x, "value", nil
}

// recordID is an identity that neither the job nor the list has.
func (t *taken) recordID() string {
	all := slices.Clone(t.c.Job.Records)
	for _, r := range t.records {
		if x, ok := r.(job.Record); ok {
			all = append(all, x)
		}
	}
	return freeID("R-", all, func(x job.Record) string { return x.ID })
}

// workID is an identity that no record of work of the job or the list has.
func (t *taken) workID() string {
	all := slices.Clone(t.c.Job.Actuals)
	for _, r := range t.records {
		if x, ok := r.(job.Actual); ok {
			all = append(all, x)
		}
	}
	return freeID("W-", all, func(x job.Actual) string { return x.ID })
}

// given says that a column is blank which must not be.
func given(s, what string) error {
	if strings.TrimSpace(s) == "" {
		return errors.New("the row does not say " + what)
	}
	return nil
}

// yes reads one of two words.
func yes(s, good, bad string) (bool, error) {
	switch s {
	case good:
		return true, nil
	case bad:
		return false, nil
	}
	return false, fmt.Errorf("%q is neither '%s' nor '%s'", s, good, bad)
}

var numberAlone = regexp.MustCompile(`^[-+]?[0-9]+(\.[0-9]+)?$`)

// quantity reads a value; a number alone is in the unit that was asked for.
func quantity[T any, P interface {
	*T
	UnmarshalText([]byte) error
}](s, unitName string) (T, error) {
	var x T
	s = strings.TrimSpace(s)
	if s == "" {
		return x, errors.New("the row does not say what it was")
	}
	if numberAlone.MatchString(s) {
		s += " " + unitName
	}
	return x, P(&x).UnmarshalText([]byte(s))
}
