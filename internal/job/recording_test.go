package job

import (
	"reflect"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// TestRecordsAreShownAndReadBack: every record of the good job is read back from what is shown
// of it, as an event about the same record.
func TestRecordsAreShownAndReadBack(t *testing.T) {
	_, now := chainOf(t, goodState(t))
	for _, e := range FromState(stored(goodState(t))) {
		of := e.About()
		got, pos, err := DecodeRecord(of, "r.yaml", EncodeRecord(e.Data))
		if of == OfOpening {
			if diag.KindOf(err) != diag.NotFound {
				t.Errorf("a job was opened again: %v", err)
			}
			continue
		}
		if err != nil || got.About() != of || got.Kind != e.Kind || !reflect.DeepEqual(fullOf(got), fullOf(e)) || pos.File() != "r.yaml" {
			t.Errorf("%s: %v\n%+v\nwant\n%+v", of, err, got, e)
			continue
		}
		got.Seen = now.Newest(of)
		after, is, err := now.Try(got)
		if err != nil || is != of || hashOf(t, after.State()) != hashOf(t, now.State()) {
			t.Errorf("%s as it is, recorded anew: %s %v", of, is, err)
		}
	}
	for of, want := range map[RecordName]string{"vehicle/x": "no such sort", "fnding/D1": `did you mean "finding"?`, "": "no such sort", "review/#0": "have no identity but a number", "review/": "have no identity but a number"} {
		if _, _, err := DecodeRecord(of, "r.yaml", []byte("by: T1\non: 2026-03-02\n")); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", of, err)
		}
	}
	if e, _, err := DecodeRecord("review", "r.yaml", []byte("by: T1\non: 2026-03-06\n")); err != nil || e.About() != "" {
		t.Errorf("a new review: %v %v", e, err)
	} else if _, is, err := now.Try(e); err != nil || is != "review/#2" {
		t.Errorf("a new review is %s: %v", is, err)
	}
}

// TestRecordingIsThatOfAFolder: records and readings that are put at the end of a job written by
// hand, and the events of the same in a stored job, give one state.
func TestRecordingIsThatOfAFolder(t *testing.T) {
	whole := stored(goodState(t))
	less := whole
	var records []any
	v := reflect.ValueOf(&less).Elem()
	for _, list := range []string{"choices", "reviews", "records", "actuals", "figures", "deliveries", "promises", "procedure_checks"} { // nothing refers to these
		f := v.Field(fieldOf(list))
		n := f.Len() - 1
		records = append(records, f.Index(n).Interface())
		if f.Set(f.Slice3(0, n, n)); n == 0 {
			f.SetZero()
		}
	}
	n := len(less.Readings) - 3
	readings := less.Readings[n:]
	less.Readings = less.Readings[:n:n]
	h := less.Hazards[0]
	h.Cleared, h.By, h.On = true, "W1", less.Opened
	records = append(records, Changed{List: "hazards", At: 0, Item: h})
	before := hashOf(t, &less)
	want, err := less.With(readings, records...)
	if err != nil || hashOf(t, &less) != before {
		t.Fatal(err, "or the state was changed")
	}
	_, now := chainOf(t, less)
	events, err := now.Recording(readings, records...)
	if err != nil {
		t.Fatal(err)
	}
	_, after, err := now.Write(events, stamp(morning, "T2"))
	if err != nil {
		t.Fatal(err)
	}
	if got := after.State(); hashOf(t, got) != hashOf(t, want) || !reflect.DeepEqual(bare(*got), bare(*want)) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
	whole.Hazards = append([]Hazard{h}, whole.Hazards[1:]...)
	if hashOf(t, want) != hashOf(t, &whole) {
		t.Error("the records that were taken out did not come back")
	}
	for name, r := range map[string]any{"a vehicle": Vehicle{}, "another list": Changed{List: "choices", At: 0, Item: h}} {
		if _, err := less.With(nil, r); err == nil {
			t.Errorf("%s was put at the end of a list", name)
		}
	}
	if _, err := now.Recording(nil, Changed{List: "hazards", At: 9, Item: h}); err == nil {
		t.Error("what is not there was changed")
	}
}
