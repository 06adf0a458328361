package decide

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// What a row does is said whole: what it allows, forbids and asks, and that it does nothing.
func TestEffectOfARow(t *testing.T) {
	welds := []body.TreatmentKind{body.Weld}
	for want, r := range map[string]body.Row{
		"says nothing about a treatment":                            {},
		"allows weld":                                               {Allow: welds},
		"forbids weld":                                              {Forbid: welds},
		"ask the manufacturer: how":                                 {Ask: "how"},
		"allows weld; ask the manufacturer: how":                    {Allow: welds, Ask: "how"},
		"forbids weld; ask the manufacturer: how":                   {Forbid: welds, Ask: "how"},
		"allows leave; forbids weld; ask the manufacturer: whether": {Allow: []body.TreatmentKind{body.Leave}, Forbid: welds, Ask: "whether"},
	} {
		if got := Effect(r); got != want {
			t.Errorf("%+v %q, want %q", r, got, want)
		}
	}
}

// Repairs done before are told where there are any, and cracks that count as one where there
// are several: a figure that stands in a question says what it is of.
func TestCountsSayWhatTheyAreOf(t *testing.T) {
	for want, got := range map[string]string{
		"2 now in zone A, cracks that surely are one counted once":                         countText(2, 0, " in zone A"),
		"0 now and 1 repaired before in zone A, cracks that surely are one counted once":   countText(0, 1, " in zone A"),
		"3 now and 2 repaired before on the part, cracks that surely are one counted once": countText(3, 2, " on the part"),
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	const together = "of all cracks that count as one"
	w := newWorld()
	w.crack("F1", 10, 1, "OPEN-1")
	w.crack("F2", 10, 1, "OPEN-2")
	if k := factIn(w, body.FactZones); !k.value.Known || strings.Contains(k.from, together) {
		t.Errorf("one crack by itself: %v (%s)", k.value, k.from)
	}
	w.in.Inspect.Findings[0].Group, w.in.Inspect.Findings[1].Group = "G", "G"
	if k := factIn(w, body.FactZones); !k.value.Known || !strings.Contains(k.value.String(), "OPEN-2") || !strings.Contains(k.from, together) {
		t.Errorf("two that count as one: %v (%s)", k.value, k.from)
	}
}

// The manufacturer is told of the vehicle, the procedure and the finding what is known, and
// nothing that is not.
func TestAQuestionSaysWhatIsKnown(t *testing.T) {
	w := newWorld()
	w.crack("F1", 10, 1, "OPEN-1")
	d := func() *decider {
		s := newScene(w.in)
		return &decider{in: w.in, scene: s, sub: s.subjects[0]}
	}
	group, part := ", one of group G that counts as one", " ("+d().sub.part.Name+")"
	w.in.Job.Vehicle = job.Vehicle{VIN: "V"}
	for _, c := range []struct {
		name   string
		change func()
		line   func(*decider) string
		has    string
	}{
		{"built", func() { w.in.Job.Vehicle.Built = day(2028, 11, 20) }, (*decider).vehicleLine, ", built 2028-11-20"},
		{"distance", func() { w.in.Job.Vehicle.Odometer = 0.5 }, (*decider).vehicleLine, ", 0.5 km"},
		{"group", func() { w.in.Inspect.Findings[0].Group = "G" }, (*decider).findingLine, group},
	} {
		if got := c.line(d()); strings.Contains(got, strings.Trim(c.has, ".0125")) || strings.Contains(got, " km") {
			t.Errorf("%s, not entered: %q", c.name, got)
		}
		c.change()
		if got := c.line(d()); !strings.Contains(got, c.has) {
			t.Errorf("%s: %q, want %q", c.name, got, c.has)
		}
	}
	if got := d().findingLine(); !strings.Contains(got, part) {
		t.Errorf("%q, want %q", got, part)
	}
	x := d()
	x.sub.part = nil
	if got := x.findingLine(); strings.Contains(got, "()") {
		t.Errorf("part not known: %q", got)
	}
	if got := x.procedureLine(); !strings.Contains(got, "no procedure") {
		t.Errorf("no procedure: %q", got)
	}
}
