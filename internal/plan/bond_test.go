package plan

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// By hand: a step that is not left over a night may take the day's work, with the break in it;
// one that takes longer goes on the next day, which is told. The shop's day has 480 minutes of
// work in 510.
func TestStepsOnOneDay(t *testing.T) {
	for _, c := range []struct {
		min      float64
		oneDay   bool
		together string
		window   float64 // 0: no chain
		told     bool
	}{{100, true, "", 130, false}, {0.5, true, "", 31, false}, {480, true, "", 510, false}, {480.5, true, "", 0, true}, {100, false, "", 0, false}, {0, true, "", 0, false}, {100, true, "x", 0, false}} {
		b := newBuilder(input())
		n := &node{step: Step{Name: "s", Ref: "r", Minutes: c.min, Together: c.together}}
		b.onOneDay(n, body.Step{OneDay: c.oneDay})
		x := b.chain["day r"]
		if (x != nil) != (c.window > 0) || x != nil && (x.window != c.window || !x.loose || n.step.Together != "day r") || (len(b.notes) == 1) != c.told {
			t.Errorf("%+v: %+v, %v", c, x, b.notes)
		}
		if c.told && !strings.Contains(b.notes[0].Text, "takes 480.5 min; the shop's day has 480") {
			t.Errorf("%v", b.notes)
		}
	}
}

// By hand: a step that bonds is done in one go in the shortest time that one of its adhesives
// can be worked; where it takes longer, in its own length, which is told unless it is known to
// be open all that time.
func TestStepsThatBondAlone(t *testing.T) {
	for _, c := range []struct {
		min    float64
		exact  bool
		window float64
		loose  bool
	}{{30, false, 40, false}, {40, false, 40, false}, {40.5, false, 41, true}, {40.5, true, 40, false}} {
		in := input()
		fast := in.Body.Materials[0]
		fast.ID, fast.Name, fast.Cure = "fast", "fast", []body.CureRow{{Temp: 20, Working: 40, Handling: 100, Full: 200}}
		slow := fast
		slow.ID, slow.Name, slow.Cure = "slow", "slow", []body.CureRow{{Temp: 20, Working: 50, Handling: 100, Full: 200}}
		in.Body.Materials = append(in.Body.Materials, fast, slow)
		for _, glues := range [][]body.MaterialID{{"glue", "fast", "slow"}, {"fast", "glue"}, {"slow", "fast"}} {
			b := newBuilder(in)
			n := &node{step: Step{Name: "s", Minutes: c.min}}
			x := b.alone(n, "id", glues, c.exact)
			if x.window != c.window || x.works != 40 || x.glue != "fast" || x.loose != c.loose || x.unknown || n.step.Together != "id" || b.chain["id"] != x {
				t.Errorf("%+v of %v: %+v", c, glues, x)
			}
		}
		b := newBuilder(in)
		n := &node{step: Step{Name: "s", Ref: "r", Minutes: c.min, Bonds: []body.MaterialID{"fast"}}}
		b.bondAlone(n)
		if told := len(b.notes) == 1; told != (c.min > 40) || told && !strings.Contains(b.notes[0].Text, `"s" takes 40.5 min; fast can be worked for 40 min at 20 C`) {
			t.Errorf("%+v: %v", c, b.notes)
		}
		b = newBuilder(in)
		b.in.Shop.Temp = 25
		if x := b.alone(n, "id", []body.MaterialID{"glue", "fast"}, false); !x.unknown || x.glue != "glue" {
			t.Errorf("outside a table: %+v", x)
		}
	}
}

// By hand: the working time of a day, and what is no calendar.
func TestWorkingTimeOfADay(t *testing.T) {
	for _, c := range []struct {
		start, end string
		pause      []string
		want       string // windows, or the beginning of a fault
	}{
		{"08:00", "16:30", nil, "480-990"}, {"00:00", "24:00", nil, "0-1440"}, {"08:00", "16:30", []string{"12:00", "12:30"}, "480-720 750-990"},
		{"08:00", "16:30", []string{"08:01", "16:29"}, "480-481 989-990"}, {"08:00", "16:30", []string{"08:00", "16:29"}, "the break"}, {"08:00", "16:30", []string{"08:01", "16:30"}, "the break"},
		{"08:00", "16:30", []string{"12:00", "12:00"}, "the break"}, {"08:00", "16:30", []string{"12:00", "12:01"}, "480-720 721-990"}, {"08:00", "16:30", []string{"12:00"}, "a break has a start and an end, not 1"},
		{"8", "16:30", nil, `"8" is not`}, {"08:00", "25:00", nil, `"25:00" is not`}, {"08:00", "16:30", []string{"x", "12:00"}, `"x" is not`}, {"08:00", "16:30", []string{"12:00", "y"}, `"y" is not`},
	} {
		ws, err := dayWindows(shop.Calendar{Start: c.start, End: c.end, Break: c.pause})
		got := ""
		for _, w := range ws {
			got += " " + num(float64(w.From)) + "-" + num(float64(w.To))
		}
		if err != nil {
			got = " " + err.Error()
		}
		if !strings.HasPrefix(got, " "+c.want) || err == nil && got != " "+c.want {
			t.Errorf("%s to %s, break %v:%s, want %s", c.start, c.end, c.pause, got, c.want)
		}
	}
}

// By hand: cracks that are weighed as a group count once with the length of the group, where all
// of them are treated together; one alone is no group.
func TestLengthOfCracks(t *testing.T) {
	in := input()
	in.Inspect.Groups = []inspect.Group{{ID: "G1", Findings: []job.FindingID{"F1", "F2"}, LengthMM: 95}, {ID: "G2", Findings: []job.FindingID{"F1"}, LengthMM: 500}}
	for _, c := range []struct {
		ids   []job.FindingID
		mm    float64
		from  string
		known bool
	}{
		{[]job.FindingID{"F1"}, 30, "crack F1", true}, {[]job.FindingID{"F1", "F2"}, 95, "crack group G1", true}, {[]job.FindingID{"F2"}, 50, "crack F2", true},
		{[]job.FindingID{"F3"}, 0, "the length of F3 is not known", false}, {nil, 0, "crack", true},
	} {
		m := newBuilder(in).crackLength(Item{Findings: c.ids})
		if m.mm != c.mm || m.known != c.known || m.from+m.flaw != c.from {
			t.Errorf("%v: %+v", c.ids, m)
		}
	}
}

// By hand: a part is lifted with care where it weighs more than one person lifts; where nobody
// says so, where it is a casting, a piece of one or a module.
func TestPartsThatAreHeavy(t *testing.T) {
	for _, c := range []struct {
		mass, limit unit.Kilogram
		kind        string
		want        bool
		note        string
	}{
		{15, 15, "panel", false, ""}, {15.1, 15, "panel", true, "It weighs 15.1 kg; one person lifts at most 15 kg here"}, {1, 15, "casting", false, ""}, {0, 15, "casting", true, "Its mass is not given"},
		{99, 0, "panel", false, ""}, {99, 0, "module", true, ""}, {0, 0, "piece", true, "Its mass is not given"}, {0, 0, "panel", false, ""},
	} {
		p := body.Part{Kind: body.PartKind(c.kind), Mass: c.mass}
		note := strings.Join(liftNote(p, c.limit), "")
		if got := heavy(p, c.limit); got != c.want || !strings.HasPrefix(note, c.note) || c.note == "" && note != "" {
			t.Errorf("%+v: heavy %t, %q", c, got, note)
		}
	}
}

// By hand: what packs hold an amount, and how materials are added up and rounded to packs.
func TestPacks(t *testing.T) {
	for _, c := range []struct {
		amount, pack float64
		want         int
	}{{0, 5, 0}, {1, 5, 1}, {5, 5, 1}, {5 + 1e-10, 5, 1}, {5.001, 5, 2}, {-3, 5, 0}, {1e6, 1, 1_000_000}, {1e6 + 1, 1, 1_000_000}, {1e300, 1e-300, 1_000_000}} {
		if got := packsOf(c.amount, c.pack); got != c.want {
			t.Errorf("%g by %g: %d packs, want %d", c.amount, c.pack, got, c.want)
		}
	}
	for most, want := range map[float64]string{1_000_000: "", 1_000_001: "plan.packs"} {
		b := newBuilder(input())
		b.uses = []use{{node: &node{}, mat: "rivet", amount: 25 * most}}
		if out := b.takeoff(); out[0].Packs != 1_000_000 || blocking(b.notes) != want {
			t.Errorf("%g packs: %+v, %v", most, out, b.notes)
		}
	}
	in := input()
	in.Body.Materials[2].Pack.Value = 0
	b := newBuilder(in)
	first, second := &node{rank: 1, step: Step{ID: "1"}}, &node{rank: 2, step: Step{ID: "2"}}
	b.uses = []use{{second, "glue", 20, "b"}, {first, "wire", 1, "w"}, {first, "glue", 26, "a"}}
	out := b.takeoff()
	if len(out) != 2 || out[0].Material != "glue" || out[0].Net != 46 || num(out[0].Gross) != "50.6" || out[0].Packs != 2 || out[0].Lines[0].Step != "1" || out[0].Lines[1].Formula != "b" || out[1].Packs != 0 || blocking(b.notes) != "plan.pack" {
		t.Errorf("%+v, %v", out, b.notes)
	}
}
