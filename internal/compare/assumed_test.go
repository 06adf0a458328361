package compare

import (
	"fmt"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// What a route reckons with where nothing is allowed: first the mildest that a measurement could allow, then
// the most thorough local repair that an answer could; a section only along a line that is cut; and
// where nothing local is spoken of, what the body could do. What is forbidden is never assumed, and why
// nothing is left is told.
func TestWhatARouteReckonsWith(t *testing.T) {
	s1, s2 := action{"S1", "front"}, action{"S2", "front"}
	for _, c := range []struct {
		v      verdicts
		kind   body.FindingKind // of the finding: unless given a crack, or torn where a part could be changed
		chosen []action
		want   string // treatments, with "?" where a measurement and "!" where an answer is waited for; or why none is left
	}{
		{v: verdicts{"weld": yes}, want: "weld"},
		{v: verdicts{"weld": yes, "plate": ask}, want: "weld"},
		{v: verdicts{"weld": not, "plate": yes}, want: "weld with backing plate, weld?"},
		{v: verdicts{"weld": yes, "S1": not}, want: "weld"},
		{v: verdicts{"weld": not, "plate": not}, want: "weld?"},
		{v: verdicts{"weld": ask, "plate": not}, want: "weld with backing plate?"},
		{v: verdicts{"weld": ask, "plate": ask}, want: "weld with backing plate!"},
		{v: verdicts{"weld": ask}, want: "weld!"},
		{v: verdicts{"weld": no, "plate": ask}, want: "weld with backing plate!"},
		{v: verdicts{"weld": ask, "S1": ask}, chosen: []action{s1}, want: "section along S1!"},
		{v: verdicts{"weld": ask, "S1": ask}, chosen: []action{s2}, want: "weld!"},
		{v: verdicts{"S1": not}, chosen: []action{s1}, want: "section along S1?"},
		{v: verdicts{"S1": not}, want: "weld with backing plate!"},
		{v: verdicts{"cast": ask}, want: "weld with backing plate!"},
		{v: verdicts{}, want: "weld with backing plate!"},
		{v: verdicts{"swap": ask}, want: "exchange of bracket!"},
		{v: verdicts{"swap": no}, want: "F1 has no treatment on this route: exchange bolt-on part is forbidden (row swap)"},
		{v: verdicts{"weld": no}, want: "F1 has no treatment on this route: weld is forbidden (row weld)"},
		{v: verdicts{"weld": no, "plate": no, "S1": yes, "cast": ask}, want: "F1 has no treatment on this route: weld is forbidden (row weld), weld with backing plate is forbidden (row plate), section along S1 is allowed, but not part of this route and replacing the casting is ask, but not part of this route"},
		{v: verdicts{"weld": yes}, kind: body.Bend, want: "F1 has no treatment on this route: weld does not put a bend right"},
		{v: verdicts{}, kind: body.Bend, want: "F1 has no treatment on this route: no treatment of the body puts a bend of cast right"},
		{v: verdicts{"weld": yes}, kind: body.Torn, want: "weld"},
	} {
		in := input(c.v)
		if c.kind != "" {
			in.Job.Findings[0].Kind = c.kind
		}
		f := newFinder(in)
		own, got := f.own(&f.wards[0], c.chosen)
		for k, o := range own {
			if k > 0 {
				got += ", "
			}
			got += itemName(o.item)
			switch {
			case o.item.Ask && !o.item.Open:
				t.Errorf("%v: asked and not open", c.v)
			case o.item.Ask:
				got += "!"
			case o.item.Open:
				got += "?"
			}
		}
		if got != c.want {
			t.Errorf("%v %v: %s, want %s", c.v, c.chosen, got, c.want)
		}
	}
}

// A part is changed in the way that it can be: one that is bolted on is exchanged, another one that is no
// casting is replaced; what no treatment of the body is needed for needs none.
func TestHowAPartIsChanged(t *testing.T) {
	in := input(verdicts{"weld": yes})
	in.Body.Parts = append(in.Body.Parts, body.Part{ID: "rail", Kind: "piece"}, body.Part{ID: "other", Kind: body.PartCasting})
	f := newFinder(in)
	for part, want := range map[body.PartID][2]bool{"bracket": {true, false}, "rail": {false, true}, "other": {false, false}, "unknown": {false, false}} {
		w := &ward{part: part, kinds: []body.FindingKind{body.Crack}, findings: []job.FindingID{"F1"}}
		if got := [2]bool{f.renews(w, body.Exchange), f.renews(w, body.ReplacePart)}; got != want {
			t.Errorf("%s: exchanged, replaced %v, want %v", part, got, want)
		}
		for k, kind := range []body.TreatmentKind{body.Exchange, body.ReplacePart} {
			items := f.items(w, kind)
			if len(items) != map[bool]int{true: 1}[want[k]] || len(items) > 0 && items[0].Part != part {
				t.Errorf("%s, %s: %+v", part, kind, items)
			}
		}
	}
	onCasting := &ward{part: "rail", casting: "front", kinds: []body.FindingKind{body.Crack}, findings: []job.FindingID{"F1"}}
	if f.renews(onCasting, body.ReplacePart) || len(f.items(onCasting, body.SectionOff))+len(f.items(onCasting, body.ReplaceCasting))+len(f.items(onCasting, body.Dress)) > 0 {
		t.Error("a part of a casting is replaced")
	}
	if items := f.items(onCasting, body.Leave); len(items) != 1 || items[0].Treatment != "" || items[0].Part != "" {
		t.Errorf("to leave it takes %+v", items)
	}
	for _, id := range []body.TreatmentID{"b", "a"} {
		in.Body.Treatments = append(in.Body.Treatments, body.Treatment{ID: id, Kind: body.Dress})
	}
	if got := fmt.Sprint(len(f.items(onCasting, body.Dress)), f.items(onCasting, body.Dress)[0].Treatment); got != "2a" {
		t.Errorf("dressed by %s", got)
	}
	if id, ok := f.treatment(body.Dress); id != "a" || !ok {
		t.Errorf("%s %v", id, ok)
	}
	if id, ok := f.treatment(body.Leave); id != "" || ok {
		t.Errorf("%s %v", id, ok)
	}
	for kinds, want := range map[body.FindingKind]bool{body.Crack: true, body.Dent: true, body.Torn: false, body.Break: false, body.Bend: false} {
		if f.mayStay(&ward{kinds: []body.FindingKind{body.Crack, kinds}}) != want {
			t.Errorf("a %s may stay: %v", kinds, !want)
		}
	}
}
