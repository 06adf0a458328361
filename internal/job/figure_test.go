package job

import (
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Of two steps of one name only what they are in every plan tells; what breaks the limits
// counts whatever it is named by.
func TestFiguresOfTwins(t *testing.T) {
	sh := &shop.Shop{People: []shop.Person{{ID: "W1"}}}
	asked := []AskedFigure{{Step: "Weld", Ref: "T/1 F1", Twin: true, For: []FindingID{"F1"}, Reading: body.Reading{ID: "pass", Unit: "min", High: unit.Amount{Value: 9, Unit: "min"}}}}
	for name, want := range map[string]string{"Weld": "nobody can tell of which it is", "T/1 F1": "", "T/2 F1": "it is not on record"} {
		f := Figure{Step: name, Finding: "F1", Reading: "pass", Value: unit.Amount{Value: 3, Unit: "min"}, By: "W1", On: day(1)}
		gaps := (&State{Opened: day(0), Figures: []Figure{f}}).FigureGaps(asked, sh, day(9))
		if (want == "") != (len(gaps) == 0) || want != "" && !strings.Contains(gaps[0].Why, want) {
			t.Errorf("%s: %+v, want %q", name, gaps, want)
		}
		f.Value.Value = 10
		if gaps := (&State{Opened: day(0), Figures: []Figure{f}}).FigureGaps(asked, sh, day(9)); len(gaps) == 0 || gaps[0].Breaks != (name != "T/2 F1") {
			t.Errorf("%s: over the limit: %+v", name, gaps)
		}
	}
}

func day(n int) unit.Date { return unit.Date{Year: 2030, Month: 3, Day: 1}.AddDays(n) }

// A figure that is asked for is shown by one that is signed, in its time, in its unit
// and within its limits; every change to one that is shown leaves a gap. Constructed.
func TestFigureGaps(t *testing.T) {
	asked := []AskedFigure{{Step: "Weld", For: []FindingID{"F1"}, Reading: body.Reading{ID: "interpass", Unit: "C", Low: unit.Amount{Value: 60, Unit: "C"}, High: unit.Amount{Value: 120, Unit: "C"}},
		After: []Mark{{On: day(2), What: "the treatment was accepted"}}, Before: []Mark{{On: day(6), What: "the weld was dressed"}}}}
	sh := &shop.Shop{People: []shop.Person{{ID: "W1"}}}
	good := Figure{Step: "Weld", Finding: "F1", Reading: "interpass", Value: unit.Amount{Value: 80, Unit: "C"}, Std: unit.Amount{Value: 2, Unit: "C"}, Device: "thermometer", Calibrated: day(99), By: "welder W1", On: day(3)}
	for name, c := range map[string]struct {
		change func(*Figure)
		want   string
	}{
		"good":             {func(*Figure) {}, ""},
		"exact":            {func(f *Figure) { f.Std = unit.Amount{} }, ""},
		"at the limit":     {func(f *Figure) { f.Value.Value, f.Std = 120, unit.Amount{} }, ""},
		"over":             {func(f *Figure) { f.Value.Value = 121 }, "asked for is 60 C to 120 C"},
		"under":            {func(f *Figure) { f.Value.Value = 59 }, "asked for is"},
		"too uncertain":    {func(f *Figure) { f.Value.Value = 117 }, "too uncertain"},
		"in another unit":  {func(f *Figure) { f.Value.Unit = "F" }, "is not in C"},
		"no value":         {func(f *Figure) { f.Value = unit.Amount{} }, "no value"},
		"another step":     {func(f *Figure) { f.Step = "Grind" }, "not on record"},
		"another finding":  {func(f *Figure) { f.Finding = "F2" }, "not on record"},
		"no finding":       {func(f *Figure) { f.Finding = "" }, "not on record"},
		"another figure":   {func(f *Figure) { f.Reading = "preheat" }, "not on record"},
		"nobody":           {func(f *Figure) { f.By = "somebody" }, "does not count"},
		"tomorrow":         {func(f *Figure) { f.On = day(11) }, "after today"},
		"before the job":   {func(f *Figure) { f.On = day(-1) }, "does not count"},
		"before its cause": {func(f *Figure) { f.On = day(1) }, "before the treatment was accepted"},
		"after its sequel": {func(f *Figure) { f.On = day(7) }, "after the weld was dressed on"},
		"no device":        {func(f *Figure) { f.Device = " " }, "with which device"},
		"not calibrated":   {func(f *Figure) { f.Calibrated = unit.Date{} }, "not known whether thermometer"},
		"calibration over": {func(f *Figure) { f.Calibrated = day(2) }, "the calibration of thermometer ended"},
		"other letters":    {func(f *Figure) { f.Step = "weld" }, ""},
		"no day":           {func(f *Figure) { f.On = unit.Date{} }, "on which day"},
	} {
		f := good
		c.change(&f)
		s := State{Opened: day(0), Figures: []Figure{f}}
		got := s.FigureGaps(asked, sh, day(10))
		if (len(got) == 0) != (c.want == "") || len(got) > 0 && !strings.Contains(got[0].Why, c.want) {
			t.Errorf("%s: %+v, want %q", name, got, c.want)
		}
		// one that breaks a limit is not made good by one that keeps it
		if s.Figures = append(s.Figures, good); c.want == "" {
			continue
		}
		breaks := strings.Contains(c.want, "asked for") || c.want == "too uncertain" || c.want == "is not in C" || c.want == "no value"
		if got = s.FigureGaps(asked, sh, day(10)); (len(got) > 0) != breaks {
			t.Errorf("%s, and a good one: %+v", name, got)
		}
	}
	words := []AskedFigure{{Step: "Bond", Alone: true, Reading: body.Reading{ID: "batch-M-GLUE", Unit: "text"}}}
	for text, n := range map[string]int{"17": 0, " ": 1, "no day": 1, "too old": 1} {
		until := map[string]unit.Date{"17": day(3), "too old": day(2)}[text]
		s := State{Opened: day(0), Figures: []Figure{{Step: "Bond", Reading: "batch-M-GLUE", Text: text, UseBefore: until, By: "W1", On: day(3)}}}
		if got := s.FigureGaps(words, sh, day(10)); len(got) != n {
			t.Errorf("%q: %+v", text, got)
		}
	}
}

// A time is told by any clock, words by nobody's device; two steps of one name need the
// finding; what other records say of a figure counts like the figures themselves.
func TestWhatAFigureIsReadWith(t *testing.T) {
	sh := &shop.Shop{People: []shop.Person{{ID: "W1"}}}
	for u, want := range map[string]bool{"min": false, "s": false, "h": false, "text": false, "C": true, "mm": true, "V": true, "%": true, "Nm": true} {
		if got := (body.Reading{Unit: u}).ByDevice(); got != want {
			t.Errorf("%s: by a device %v", u, got)
		}
	}
	dwell := Figure{Step: "Grind", Reading: "dwell", Value: unit.Amount{Value: 12, Unit: "min"}, By: "W1", On: day(3)}
	a := AskedFigure{Step: "Grind", For: []FindingID{"F1"}, Alone: true, Reading: body.Reading{ID: "dwell", Unit: "min", Low: unit.Amount{Value: 11, Unit: "min"}}}
	s := State{Opened: day(0), Figures: []Figure{dwell}}
	if got := s.FigureGaps([]AskedFigure{a}, sh, day(9)); len(got) != 0 {
		t.Errorf("a time without a device: %+v", got)
	}
	a.Alone = false
	if got := s.FigureGaps([]AskedFigure{a}, sh, day(9)); len(got) != 1 {
		t.Error("one of two steps of a name is shown by a figure that does not say which")
	}
	s.Figures, a.Also = nil, []Figure{dwell}
	if got := s.FigureGaps([]AskedFigure{a}, sh, day(9)); len(got) != 0 {
		t.Errorf("another record says it: %+v", got)
	}
	a.Also[0].Value.Value = 9
	if got := s.FigureGaps([]AskedFigure{a}, sh, day(9)); len(got) != 1 {
		t.Error("another record breaks the limit")
	}
}

// More figures on record, and less certain ones, never close more gaps than the
// better of them alone do, unless they stand themselves: seed 48.
func TestLessCertainFiguresCloseNoGapSeed48(t *testing.T) {
	rng := rand.New(rand.NewPCG(48, 48))
	sh := &shop.Shop{People: []shop.Person{{ID: "W1"}}}
	r := body.Reading{ID: "x", Unit: "kJ/mm", High: unit.Amount{Value: 1, Unit: "kJ/mm"}}
	asked := []AskedFigure{{Step: "Weld", Alone: true, Reading: r}}
	open := 0
	for range 500 {
		f := Figure{Step: "Weld", Reading: "x", Value: unit.Amount{Value: 0.5 + 0.6*rng.Float64(), Unit: "kJ/mm"}, Std: unit.Amount{Value: 0.1 * rng.Float64(), Unit: "kJ/mm"}, Device: "meter", Calibrated: day(99), By: "W1", On: day(3)}
		s := State{Opened: day(0), Figures: []Figure{f}}
		before := len(s.FigureGaps(asked, sh, day(9)))
		s.Figures[0].Std.Value += 0.1 * rng.Float64()
		after := len(s.FigureGaps(asked, sh, day(9)))
		if after < before {
			t.Fatalf("%+v less certain closes a gap", f)
		}
		open += after - before
	}
	if open < 20 {
		t.Errorf("hardly tried: %d", open)
	}
}
