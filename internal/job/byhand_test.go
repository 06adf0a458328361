package job

import (
	"fmt"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// The uncertainty of a reading by hand is the one it states, else that of its gauge; a reading
// of which nobody states it counts for nothing.
func TestUncertaintyByHand(t *testing.T) {
	sh := &shop.Shop{Gauges: []shop.Gauge{{ID: "tape", Std: 0.8}, {ID: "string"}}}
	for _, k := range []struct {
		h    HandReading
		want string
	}{
		{HandReading{Std: 0.5, Gauge: "tape"}, "0.5 true"},
		{HandReading{Gauge: "tape"}, "0.8 true"},
		{HandReading{Gauge: "string"}, "0 false"},
		{HandReading{Gauge: "laser"}, "0 false"},
		{HandReading{}, "0 false"},
	} {
		if std, said := k.h.Uncertainty(sh); fmt.Sprint(std, said) != k.want {
			t.Errorf("%+v: %g, said: %v; want %s", k.h, std, said, k.want)
		}
	}
}

// Limits of what is measured by hand, on both sides of each; ours, to keep slips of a unit out.
func TestLimitsByHand(t *testing.T) {
	good := goodJob(t)
	for _, k := range []struct {
		h      HandReading
		fields string
	}{
		{HandReading{What: HandLength, Value: mm(1e-6), Std: 1}, ""},
		{HandReading{What: HandLength, Value: mm(0), Std: 1}, "value"},
		{HandReading{What: HandLength, Value: mm(20000), Std: 20000}, ""},
		{HandReading{What: HandLength, Value: mm(20001), Std: 1}, "value"},
		{HandReading{What: HandLength, Value: mm(1), Std: 20001}, "std"},
		{HandReading{What: HandBore, Value: mm(0), Std: 1e-6}, ""},
		{HandReading{What: HandBore, Value: mm(-1e-6), Std: 1}, "value"},
		{HandReading{What: HandLine, To: "C-1", Value: mm(-20000), Std: 1}, ""},
		{HandReading{What: HandLine, To: "C-1", Value: mm(-20001), Std: 1}, "value"},
		{HandReading{What: HandBore, None: true}, ""},
		{HandReading{What: HandNext, None: true}, ""},
		{HandReading{What: HandBore, None: true, Value: mm(30)}, "gauge"},
		{HandReading{What: HandNext, To: "F2", Value: mm(30), Std: 1}, ""},
		{HandReading{What: HandNext, To: "F3", Value: mm(30), Std: 1}, "to"}, // on another part
	} {
		want := k.fields
		if want != "" {
			want = "findings[0].measured[0]." + want
		}
		fields, text := changed(t, good, func(s *State) { s.Findings[0].Measured = []HandReading{k.h} })
		if got := strings.Join(fields, " "); got != want {
			t.Errorf("%+v is told at %q, want %q: %s", k.h, got, want, text)
		}
	}
}

func mm(v float64) unit.Maybe[unit.MM] { return unit.Some(unit.MM(v)) }

// What was measured by hand names zones and section lines of the casting of its part, and gauges of the shop.
func TestByHandAgainstBodyAndShop(t *testing.T) {
	for name, k := range map[string]struct {
		change func(*Finding, *body.Body)
		fields string
	}{
		"all there": {func(f *Finding, b *body.Body) {
			f.Zones = []body.ZoneID{"Z-TIP", "Z-ROOT"}
			f.Measured = []HandReading{{What: HandLine, To: "C-1", Gauge: "tape"}, {What: HandBore, To: "the upper one", Gauge: "tape"}}
		}, ""},
		"no zone of it":        {func(f *Finding, b *body.Body) { f.Zones = []body.ZoneID{"Z-TIP", "Z-TOP"} }, "findings[0].zones[1]"},
		"no gauge of the shop": {func(f *Finding, b *body.Body) { f.Measured = []HandReading{{What: HandBore, Gauge: "laser"}} }, "findings[0].measured[0].gauge"},
		"no line of the body":  {func(f *Finding, b *body.Body) { f.Measured = []HandReading{{What: HandLine, To: "C-9"}} }, "findings[0].measured[0].to"},
		"a line of another": {func(f *Finding, b *body.Body) {
			b.Lines[0].Casting, f.Measured = "x", []HandReading{{What: HandLine, To: "C-1"}}
		}, "findings[0].measured[0].to"},
		"zones of no casting":   {func(f *Finding, b *body.Body) { f.Part, f.Zones = "P-SKIN", []body.ZoneID{"Z-TIP"} }, "findings[0].zones"},
		"lengths of no casting": {func(f *Finding, b *body.Body) { f.Part, f.Measured = "P-SKIN", []HandReading{{What: HandBore}} }, "findings[0].zones"},
		"no mesh, no zones":     {func(f *Finding, b *body.Body) { b.Castings[0].Mesh = "" }, "findings[0].zones"},
		"no mesh, and zones":    {func(f *Finding, b *body.Body) { b.Castings[0].Mesh, f.Zones = "", []body.ZoneID{"Z-TIP"} }, ""},
		"no mesh, and no crack": {func(f *Finding, b *body.Body) { b.Castings[0].Mesh, f.Kind = "", body.Bend }, ""},
	} {
		s, b, sh := goodState(t), goodBody(t), goodShop(t)
		sh.Gauges = []shop.Gauge{{ID: "tape", Std: 1}}
		s.Findings = s.Findings[:1]
		k.change(&s.Findings[0], b)
		problems, _ := CheckAgainst(&s, b, sh)
		var got []string
		for _, p := range problems {
			got = append(got, p.Field)
		}
		if strings.Join(got, " ") != k.fields {
			t.Errorf("%s is told at %q, want %q: %v", name, got, k.fields, problems)
		}
	}
}
