package revise

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
)

// TestWhichWayADecisionTurnsSeed3: what allows all that was allowed and more is milder, what allows
// less is stricter, the same is neither; and where each allows something that the other does not,
// the mildest that is allowed decides. Every pair of sets of treatments, the order of the
// treatments is that of the document (docs/formats/procedure.md), the mildest first.
func TestWhichWayADecisionTurnsSeed3(t *testing.T) {
	all := []decide.OptionVerdict{{Kind: body.Leave}, {Kind: body.Weld}, {Kind: body.WeldBacking}, {Kind: body.SectionOff, Line: "S1"}, {Kind: body.SectionOff, Line: "S2"}, {Kind: body.ReplaceCasting}}
	rng := rand.New(rand.NewPCG(3, 3))
	set := func(bits int) (f decide.FindingVerdict) {
		for i, o := range all {
			o.Verdict = []decide.Verdict{decide.Forbidden, decide.Ask, decide.Undecided}[rng.IntN(3)]
			if bits>>i&1 == 1 {
				o.Verdict = decide.Allowed
			}
			f.Options = append(f.Options, o)
		}
		return f
	}
	rank := func(bits int) int { // of the mildest: the two lines are of one rank
		for i := range all {
			if bits>>i&1 == 1 {
				return []int{0, 1, 2, 3, 3, 4}[i]
			}
		}
		return 9
	}
	for a := range 1 << len(all) {
		for b := range 1 << len(all) {
			var want Direction
			switch {
			case a == b:
			case a&^b == 0:
				want = Milder
			case b&^a == 0:
				want = Stricter
			case rank(b) < rank(a):
				want = Milder
			case rank(a) < rank(b):
				want = Stricter
			}
			if got := way(set(a), set(b)); got != want {
				t.Fatalf("allowed %06b, then %06b: %s, want %s", a, b, got, want)
			}
		}
	}
}

// What turned is told treatment by treatment: a section decided by one line was decided for all,
// and what a table does not speak of is asked.
func TestWhatTurnedIsTold(t *testing.T) {
	o := func(k body.TreatmentKind, l body.LineID, v decide.Verdict) decide.OptionVerdict {
		return decide.OptionVerdict{Kind: k, Line: l, Verdict: v}
	}
	section, yes, no, ask := body.SectionOff, decide.Allowed, decide.Forbidden, decide.Ask
	for _, c := range []struct {
		name       string
		old, fresh []decide.OptionVerdict
		want       string
	}{
		{"another verdict", []decide.OptionVerdict{o(body.Weld, "", yes)}, []decide.OptionVerdict{o(body.Weld, "", no)}, "weld was allowed, is forbidden"},
		{"the same", []decide.OptionVerdict{o(body.Weld, "", yes)}, []decide.OptionVerdict{o(body.Weld, "", yes)}, ""},
		{"not spoken of before", nil, []decide.OptionVerdict{o(body.Weld, "", yes)}, "weld was ask, is allowed"},
		{"not spoken of now", []decide.OptionVerdict{o(body.Weld, "", yes)}, nil, "weld was allowed, is ask"},
		{"not spoken of, and asked", []decide.OptionVerdict{o(body.Weld, "", ask)}, []decide.OptionVerdict{o(body.Dress, "", ask)}, ""},
		{"all lines, then one by one", []decide.OptionVerdict{o(section, "", no)}, []decide.OptionVerdict{o(section, "S1", yes), o(section, "S2", no)}, "section along S1 was forbidden, is allowed; section was forbidden, is ask"},
		{"one by one, then all", []decide.OptionVerdict{o(section, "S1", yes), o(section, "S2", no)}, []decide.OptionVerdict{o(section, "", no)}, "section was ask, is forbidden; section along S1 was allowed, is forbidden"},
		{"by line, not by the first", []decide.OptionVerdict{o(section, "", no), o(section, "S1", yes)}, []decide.OptionVerdict{o(section, "S1", no), o(section, "", no)}, "section along S1 was allowed, is forbidden"},
		{"of another kind with a line", []decide.OptionVerdict{o(body.Weld, "", yes)}, []decide.OptionVerdict{o(section, "S1", no), o(body.Weld, "", yes)}, "section along S1 was ask, is forbidden"},
	} {
		if got := strings.Join(optionChanges(c.old, c.fresh), "; "); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// The mildest comes first in the text; a finding whose verdict turned is told though no treatment
// of it did; and one that nobody decided before allowed nothing.
func TestTextOfWhatTurned(t *testing.T) {
	f := func(id job.FindingID, v decide.Verdict, options ...decide.OptionVerdict) decide.FindingVerdict {
		return decide.FindingVerdict{ID: id, Verdict: v, Options: options}
	}
	weld, plate := decide.OptionVerdict{Kind: body.Weld, Verdict: decide.Allowed}, decide.OptionVerdict{Kind: body.WeldBacking, Verdict: decide.Allowed}
	banned := decide.OptionVerdict{Kind: body.WeldBacking, Verdict: decide.Forbidden}
	old := []decide.FindingVerdict{f("F1", decide.Allowed, weld, plate), f("F2", decide.Allowed, weld), f("F3", decide.Ask), f("F4", decide.Allowed, weld), f("F5", decide.Ask)}
	fresh := []decide.FindingVerdict{f("F1", decide.Allowed, weld, banned), f("F2", decide.Ask), f("F3", decide.Undecided), f("F4", decide.Allowed, weld), f("F6", decide.Allowed, plate)}
	want := []Turned{
		{Finding: "F1", Way: Stricter, Text: "the mildest treatment allowed stays weld; weld with backing plate was allowed, is forbidden"},
		{Finding: "F2", Way: Stricter, Text: "the mildest treatment allowed is now none (ask) in place of weld; weld was allowed, is ask"},
		{Finding: "F3", Way: Unclear, Text: "the mildest treatment allowed is now none (undecided) in place of none (ask); "},
		{Finding: "F6", Way: Milder},
	}
	got := TurnedBy(old, fresh)
	if len(got) != len(want) {
		t.Fatalf("%+v", got)
	}
	for i, x := range got {
		if x.Finding != want[i].Finding || x.Way != want[i].Way || want[i].Text != "" && x.Text != want[i].Text || x.New.ID != x.Finding {
			t.Errorf("%+v, want %+v", x, want[i])
		}
	}
	if !strings.HasSuffix(got[3].Text, "; weld with backing plate was ask, is allowed") {
		t.Errorf("%q", got[3].Text)
	}
}

// Under a revision its casting has no other procedure, the other castings keep theirs, and the
// body itself stays as it was.
func TestBodyUnderOneRevision(t *testing.T) {
	p := func(id body.ProcedureID, c body.CastingID, rev string) body.Procedure {
		return body.Procedure{ID: id, Casting: c, Revision: rev}
	}
	b := &body.Body{ID: "B", Procedures: []body.Procedure{p("A", "FRONT", "1"), p("X", "REAR", "1"), p("B", "FRONT", "2"), p("Y", "REAR", "2")}}
	u := Under(b, p("A", "FRONT", "9"))
	var got []string
	for _, x := range u.Procedures {
		got = append(got, string(x.ID)+x.Revision)
	}
	if !slices.Equal(got, []string{"A9", "X1", "Y2"}) || len(b.Procedures) != 4 || b.Procedures[0].Revision != "1" || u.ID != "B" {
		t.Errorf("%v, and of the body %d", got, len(b.Procedures))
	}
}

// A direction is told by its word, and what forbids goes the other way.
func TestDirections(t *testing.T) {
	for d, want := range map[Direction][2]string{Unclear: {"changed", "changed"}, Stricter: {"stricter", "milder"}, Milder: {"milder", "stricter"}} {
		if text, err := d.MarshalText(); d.String() != want[0] || string(text) != want[0] || err != nil || d.opposite().String() != want[1] {
			t.Errorf("%d: %s, %s, the other way %s", d, d, text, d.opposite())
		}
	}
}
