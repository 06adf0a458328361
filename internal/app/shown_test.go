package app

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/job"
)

// What is shown of a record of a stored job is taken back as it is, in the place of what was seen.
// A record that is not there, a file that is not there or does not hold the record, and a job
// written by hand are refused, each with what is wrong.
func TestARecordIsShownAndTakenBack(t *testing.T) {
	m, st := storedDemo(t)
	a := New(m, "test").WithBodies(&Bodies{}).WithStores(func(string) (Store, string) { return st, "kept" })
	c, err := a.Open(t.Context(), "kept")
	if err != nil {
		t.Fatal(err)
	}
	text, seen, err := a.Show(c, "vehicle")
	if err != nil || !strings.Contains(string(text), c.Job.Vehicle.VIN) || seen < 1 || seen > int64(len(st.chain)) || st.chain[seen-1].About != "vehicle" {
		t.Fatalf("%s\nof event %d, %v", text, seen, err)
	}
	m["record.yaml"], m["broken.yaml"] = text, []byte("vin: 5\nvin: 6\n")
	got, err := a.Put(t.Context(), c, "vehicle", "record.yaml", seen)
	if err != nil || len(got.Events) != 1 || got.Events[0].Seen != seen || !reflect.DeepEqual(got.Events[0].Data, c.Job.Vehicle) {
		t.Errorf("%+v, %v", got, err)
	}
	byHand, err := a.Open(t.Context(), "kept")
	if err != nil {
		t.Fatal(err)
	}
	byHand.stored = nil
	for _, k := range []struct {
		what string
		do   func() error
		kind diag.Kind
	}{
		{"a record that is not there", func() error { _, _, err := a.Show(c, "finding/NONE"); return err }, diag.NotFound},
		{"a job by hand", func() error { _, _, err := a.Show(byHand, "vehicle"); return err }, diag.Unsupported},
		{"into a job by hand", func() error { _, err := a.Put(t.Context(), byHand, "vehicle", "record.yaml", 1); return err }, diag.Unsupported},
		{"a file that is not there", func() error { _, err := a.Put(t.Context(), c, "vehicle", "none.yaml", seen); return err }, 0},
		{"a file with a fault", func() error { _, err := a.Put(t.Context(), c, "vehicle", "broken.yaml", seen); return err }, 0},
		{"what an answer is about", func() error { _, _, err := a.Show(c, job.RecordName("finding/")); return err }, diag.NotFound},
	} {
		err := k.do()
		var e *diag.Error
		if err == nil || k.kind != 0 && (!errors.As(err, &e) || e.Kind != k.kind) {
			t.Errorf("%s: %v", k.what, err)
		}
	}
}

// How far a plan may be from the shortest: a bound that is no bound says nothing. Half of two days is 50 %.
func TestGapOfAPlanInWords(t *testing.T) {
	for want, got := range map[string]string{
		"proven: no shorter plan exists": gapWords(100, 10, true),
		"not proven":                     gapWords(100, 0, false),
		"(gap 50.0 %)":                   gapWords(1440, 960, false)[strings.Index(gapWords(1440, 960, false), "(gap"):],
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := gapWords(100, 1e-9, false); !strings.HasPrefix(got, "not proven: no plan takes less than ") {
		t.Errorf("%q", got)
	}
}
