package app

import (
	"path"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/cost"
	"fettle/internal/demo"
	"fettle/internal/unit"
)

// A part to order is told with the day it is needed by, where a step has one, and its price,
// where there is one.
func TestOrderSaysByWhen(t *testing.T) {
	row := func(change func(*cost.OrderRow)) string {
		o := cost.OrderRow{ID: "P-1", Name: "Left wing", Count: 2, Holds: "1 piece"}
		change(&o)
		v := PlanView{Order: []cost.OrderRow{o}}
		v.Route.Bill.Currency = "EUR"
		var b strings.Builder
		v.order(&b, Column{})
		return b.String()
	}
	dated := row(func(o *cost.OrderRow) { o.NeededBy = unit.Date{Year: 2026, Month: 3, Day: 4} })
	if !strings.Contains(dated, " by 2026-03-04  Left wing") || !strings.Contains(dated, "no price") {
		t.Errorf("%q", dated)
	}
	if plain := row(func(o *cost.OrderRow) { o.Priced, o.Sum = true, 123456 }); strings.Contains(plain, " by ") || !strings.Contains(plain, "1,234.56 EUR  Left wing") {
		t.Errorf("%q", plain)
	}
	if v := (PlanView{}); true {
		var b strings.Builder
		if v.order(&b, Column{}); b.Len() > 0 {
			t.Errorf("nothing to order: %q", b.String())
		}
	}
}

// Points and readings that are not there are named, each for itself; from both something is
// measured.
func TestMeasureFilesNeedsBothFiles(t *testing.T) {
	a := New(files(), "test")
	const points, readings = "body/points.csv", "job/readings.csv"
	for _, c := range [][3]string{{"none.csv", readings, "none.csv"}, {points, "none.csv", "none.csv"}} {
		if got, err := a.MeasureFiles(t.Context(), c[0], c[1], MeasureOptions{StdMM: 0.5}); err == nil || !strings.Contains(err.Error(), c[2]) || len(got.Result.Hypotheses) > 0 {
			t.Errorf("%v: %v", c, err)
		}
	}
	if got, err := a.MeasureFiles(t.Context(), points, readings, MeasureOptions{StdMM: 0.5}); err != nil || len(got.Result.Hypotheses) == 0 {
		t.Errorf("%v", err)
	}
}

// Earlier jobs add their times, and every file of theirs to the inputs, named from the folder of
// this job; without any the assessment is what it was. What was given is not changed.
func TestWithEarlierNamesEveryFile(t *testing.T) {
	a := New(coarse(t), "test").WithBodies(&bodies)
	r := Assessment{Inputs: make([]Input, 1, 50)}
	r.Inputs[0] = Input{Role: roleJob, File: "job.yaml", Bytes: 7, SHA256: "aa"}
	same, err := a.WithEarlier(t.Context(), r, nil, nil)
	if err != nil || !reflect.DeepEqual(same, r) {
		t.Errorf("without earlier jobs: %v, %+v", err, same)
	}
	got, err := a.WithEarlier(t.Context(), r, []string{demo.SoundJob}, []string{"../sound"})
	if err != nil {
		t.Fatal(err)
	}
	c, err := a.Open(t.Context(), demo.SoundJob)
	if err != nil {
		t.Fatal(err)
	}
	want := slices.Clone(r.Inputs)
	for _, x := range c.inputs() {
		want = append(want, Input{roleEarlier, path.Join("../sound", x.File), x.Bytes, x.SHA256})
	}
	if !slices.Equal(got.Inputs, want) || len(want) < 10 || !slices.Equal(got.EarlierJobs, []string{"../sound"}) {
		t.Errorf("%+v, want the inputs %+v", got, want)
	}
	if len(r.Inputs) != 1 || r.Inputs[:2][1] != (Input{}) {
		t.Error("the inputs that were given were written over")
	}
	if _, err := a.WithEarlier(t.Context(), r, []string{"no-job"}, []string{"../no-job"}); err == nil {
		t.Error("an earlier job that is not there was passed over")
	}
}
