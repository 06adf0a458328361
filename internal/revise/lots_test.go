package revise

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/decide/fixture"
	"fettle/internal/rule"
)

// lotBody is a casting without a mesh, of four zones in a row, A-B-C-D, and parts that differ in what
// rows look at.
func lotBody() *body.Body {
	zone := func(id body.ZoneID, beside ...body.ZoneID) body.Zone { return body.Zone{ID: id, Neighbours: beside} }
	return &body.Body{ID: "B", Confidence: 0.95,
		Castings: []body.Casting{{ID: "K", Part: "CAST", Zones: []body.Zone{zone("A", "B"), zone("B", "A", "C"), zone("C", "B", "D"), zone("D", "C")}},
			{ID: "K2", Part: "CAST2", Zones: []body.Zone{zone("Z")}}},
		Parts: []body.Part{{ID: "CAST", Kind: body.PartCasting}, {ID: "CAST2", Kind: body.PartCasting}, {ID: "PIECE", Kind: body.PartPiece},
			{ID: "BOLT1", BoltOn: true}, {ID: "BOLT2", BoltOn: true}, {ID: "FIX1"}, {ID: "FIX2"}}}
}

// findings is every finding that there can be on that body, as far as the drawn rows can tell them
// apart, by hand from the vocabulary (procedure.md): a part says whether it is a casting and is bolted
// on; lengths, zones and counts are those of a casting; a finding counts as one of those in its zone,
// which are no more than those on the casting; zones it lies in are joined; a bend or a dent is kinked
// or not, and nothing else is.
func findings() []rule.Facts {
	var out []rule.Facts
	for _, p := range lotBody().Parts {
		if p.Kind == body.PartPiece || p.ID == "CAST2" {
			continue
		}
		on := p.ID == "CAST"
		for _, k := range body.FindingKinds() {
			base := rule.Facts{"kind": rule.TextValue(string(k)), "part": rule.TextValue(string(p.ID)), "on_casting": rule.BoolValue(on), "bolt_on": rule.BoolValue(p.BoltOn),
				"zones": rule.SetValue(), "kinked": rule.Value{}, "length": rule.Value{}, "count_in_zone": rule.Value{}, "count_on_casting": rule.Value{}}
			kinks := []rule.Value{{}}
			if k == body.Bend || k == body.Dent {
				kinks = []rule.Value{rule.BoolValue(true), rule.BoolValue(false)}
			}
			for _, kink := range kinks {
				f := base.With("kinked", kink)
				if !on {
					out = append(out, f)
					continue
				}
				out = append(out, onTheCasting(f)...)
			}
		}
	}
	return out
}

func onTheCasting(f rule.Facts) []rule.Facts {
	var out []rule.Facts
	for from := range 4 {
		for to := from; to < 4; to++ {
			f := f.With("zones", rule.SetValue([]string{"A", "B", "C", "D"}[from:to+1]...))
			for here := 1; here <= 4; here++ {
				for all := here; all <= 4; all++ {
					for _, mm := range []float64{5, 20, 30} {
						out = append(out, f.With("count_in_zone", rule.NumberValue(float64(here), 0, "")).With("count_on_casting", rule.NumberValue(float64(all), 0, "")).With("length", rule.NumberValue(mm, 0, "mm")))
					}
				}
			}
		}
	}
	return out
}

// drawnRow has conditions that contradict one another as often as not, and the body's data.
func drawnRow(rng *rand.Rand, id string) body.Row {
	choices := [][2]string{{"kind", "crack"}, {"kind", "bend or dent"}, {"kind", "not torn"}, {"part", "CAST"}, {"part", "BOLT1 or FIX1"}, {"part", "not FIX2"}, {"part", "PIECE or FIX2"},
		{"on_casting", "yes"}, {"on_casting", "no"}, {"bolt_on", "yes"}, {"bolt_on", "no"}, {"kinked", "yes"}, {"kinked", "no"}, {"length", "<= 20 mm"}, {"length", "> 20 mm"},
		{"zones", "any of A"}, {"zones", "only A, D"}, {"zones", "any of C, D"}, {"zones", "includes A, D"}, {"zones", "none of B"}, {"zones", "only B, C"},
		{"count_in_zone", ">= 3"}, {"count_in_zone", "<= 2"}, {"count_on_casting", "<= 2"}, {"count_on_casting", ">= 4"}, {"count_on_casting", "< 1"}}
	r := body.Row{ID: id, When: when{}}
	for range 1 + rng.IntN(4) {
		c := choices[rng.IntN(len(choices))]
		r.When[c[0]] = c[1]
	}
	switch rng.IntN(4) {
	case 0:
		r.Forbid = []body.TreatmentKind{body.Weld}
	case 1:
		r.Ask = "why"
	default:
		r.Allow = []body.TreatmentKind{body.Weld, body.Dress}
	}
	return r
}

// shown says that some finding has all facts of an example as it is written. A number that is not
// among those tried stands for the nearest: 25 mm for 20 mm or 30 mm is not drawn.
func shown(t *testing.T, all []rule.Facts, text string) bool {
	t.Helper()
	names := map[string]string{}
	for _, d := range body.FactDefs() {
		names[d.BeforeValue()] = d.Name
	}
	want := map[string]string{}
	last := ""
	for _, word := range strings.Split(text, ", ") {
		found := false
		for before, name := range names {
			if rest, ok := strings.CutPrefix(word, before+" "); ok {
				want[name], last, found = rest, name, true
			}
		}
		if !found && last == "zones" {
			want["zones"] += ", " + word
		} else if !found {
			t.Fatalf("%q of %q is no fact", word, text)
		}
	}
	return slices.ContainsFunc(all, func(f rule.Facts) bool {
		for name, v := range want {
			if !sameFact(f[name], name, v) {
				return false
			}
		}
		return true
	})
}

func sameFact(v rule.Value, name, want string) bool {
	switch {
	case !v.Known:
		return false
	case name == "part":
		return slices.Contains(strings.Split(want, " or "), v.Words[0])
	case name == "length":
		mm, err := strconv.ParseFloat(strings.TrimSuffix(want, " mm"), 64)
		return err == nil && (mm > 20) == (v.Number > 20)
	}
	return v.String() == want
}

// TestExamplesCanBeSeed1904: tables are drawn whose conditions contradict one another and the body; every finding
// that there can be is tried. A gap is told of a kind exactly where one of them hits no row, and of no
// part on which none does; every example of a gap, a hole or an overlap is one of them.
func TestExamplesCanBeSeed1904(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 4))
	b, all := lotBody(), findings()
	gaps, none, examples := 0, 0, 0
	for range 400 {
		p := body.Procedure{ID: "R", Revision: "1", Casting: "K"}
		for i := range 2 + rng.IntN(6) {
			p.Rows = append(p.Rows, drawnRow(rng, fmt.Sprint("r", i)))
		}
		rs := decide.Compile(p, 0.95)
		open := map[string]bool{}
		for _, f := range all {
			if !slices.ContainsFunc(rs.Table.Eval(f, 0.95), func(r rule.RowResult) bool { return r.State == rule.Applies }) {
				open[f["kind"].Words[0]+" "+f["on_casting"].String()] = true
			}
		}
		told := map[string]bool{}
		for _, n := range Gaps(b, p) {
			_, example, there := strings.Cut(n.Text, "for example ")
			if n.Code == "decide.gap-unknown" {
				t.Fatalf("%s\n%+v", n.Text, p.Rows)
			}
			if n.Code == "decide.gap" {
				_, text, _ := strings.Cut(n.Text, "asked: ")
				kinds, facts, _ := strings.Cut(text, " with ")
				for _, k := range strings.Split(kinds, ", ") {
					on := map[bool]string{true: "yes", false: "no"}[strings.Contains(facts, "on casting yes")]
					told[k+" "+on] = true
					if examples++; !shown(t, all, facts+", kind "+k) {
						t.Fatalf("no finding is like this: %s: %s\n%+v", k, facts, p.Rows)
					}
				}
			}
			if there {
				if examples++; !shown(t, all, example) {
					t.Fatalf("no finding is like this: %s\n%+v", n.Text, p.Rows)
				}
			}
		}
		for _, k := range body.FindingKinds() {
			for _, on := range []string{"yes", "no"} {
				key := string(k) + " " + on
				if told[key] != open[key] {
					t.Fatalf("%s, on casting %s: a gap %v, told %v\n%+v", k, on, open[key], told[key], p.Rows)
				}
				if told[key] {
					gaps++
				} else {
					none++
				}
			}
		}
	}
	if gaps < 1000 || none < 100 || examples < 1000 {
		t.Errorf("%d gaps, %d none, %d examples", gaps, none, examples)
	}
}

// TestWhatIsOnlyAskedSeed1905: that whatever else is known the manufacturer is asked is told of the kinds and parts on
// which some row speaks of a finding and none of all findings is allowed what puts it right, and of no
// other. The body's treatments are those a procedure may allow; what each puts right is by
// TestWhatNothingCures.
func TestWhatIsOnlyAskedSeed1905(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 5))
	b, all := lotBody(), findings()
	told, silent := 0, 0
	for range 300 {
		p := body.Procedure{ID: "R", Revision: "1", Casting: "K"}
		for i := range 2 + rng.IntN(5) {
			p.Rows = append(p.Rows, drawnRow(rng, fmt.Sprint("r", i)))
		}
		rs := decide.Compile(p, 0.95)
		speaks, right := map[string]bool{}, map[string]bool{}
		for _, f := range all {
			key := f["kind"].Words[0] + " " + f["part"].Words[0]
			for i, r := range rs.Table.Eval(f, 0.95) {
				if r.State != rule.Applies {
					continue
				}
				speaks[key] = true
				for _, k := range p.Rows[i].Allow {
					cures := k == body.Weld && slices.Contains([]string{"crack", "break"}, f["kind"].Words[0]) || k == body.Dress && slices.Contains([]string{"crack", "dent"}, f["kind"].Words[0]) ||
						k == body.Weld && f["kind"].Words[0] == "torn" && f["on_casting"].String() == "yes"
					right[key] = right[key] || cures && !against(rs, p, f, k)
				}
			}
		}
		said := map[string]bool{}
		for _, n := range Gaps(b, p) {
			if rest, ok := strings.CutPrefix(n.Text, "whatever else is known, the manufacturer is asked about "); ok {
				kinds, on, _ := strings.Cut(strings.TrimSuffix(rest, ": no row allows what would put it right"), " on ")
				for _, k := range strings.Split(kinds, ", ") {
					for _, part := range strings.Split(on, " or ") {
						said[k+" "+part] = true
					}
				}
			}
		}
		for _, f := range all {
			key := f["kind"].Words[0] + " " + f["part"].Words[0]
			if want := speaks[key] && !right[key]; said[key] != want {
				t.Fatalf("%s: only asked %v, told %v\n%+v", key, want, said[key], p.Rows)
			} else if want {
				told++
			} else {
				silent++
			}
		}
	}
	if told < 1000 || silent < 1000 {
		t.Errorf("%d told, %d not", told, silent)
	}
}

// against says that a row forbids a kind for a finding, or asks.
func against(rs *decide.Ruleset, p body.Procedure, f rule.Facts, k body.TreatmentKind) bool {
	for i, r := range rs.Table.Eval(f, 0.95) {
		if s := decide.Says(p.Rows[i], k); r.State == rule.Applies && (s.Forbids || s.Asks) {
			return true
		}
	}
	return false
}

// Without parts beside it, a casting alone is judged; of a body whose casting is not among its parts
// nobody knows whether it is bolted on.
func TestLotsOfSmallBodies(t *testing.T) {
	b := &body.Body{Confidence: 0.95, Castings: []body.Casting{{ID: "K", Part: "CAST", Zones: []body.Zone{{ID: "A"}}}}}
	p := body.Procedure{ID: "R", Casting: "K", Rows: []body.Row{row("a", when{"bolt_on": "yes"}, body.Weld)}}
	if l := newGaps(b, p).lots; len(l) != len(body.FindingKinds()) || l[0].on() != "CAST" || !l[0].onIt {
		t.Errorf("%+v", l)
	}
	w, _, _, _ := fixture.World()
	if got := toldOf(row("a", when{"on_casting": "no", "part": "P-FRONT"}, body.Weld), row("b", when{}, body.ReplaceCasting), row("c", when{"on_casting": "no"}, body.Exchange)); len(got) != 0 {
		t.Errorf("%q of %d parts", got, len(w.Parts))
	}
}
