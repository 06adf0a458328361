package app

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// placesOf is where faults stand, by line and field.
func placesOf(ps diag.Problems) []string {
	var out []string
	for _, p := range ps {
		out = append(out, fmt.Sprintf("%s:%d %s", p.File, p.Line, p.Field))
	}
	return out
}

// The words with which a body is begun: each that is wrong is told under its field, and together
// with the others; what is right is read.
func TestWordsOfABodyDraft(t *testing.T) {
	for name, c := range map[string]struct {
		said BodyDraft
		want []string
	}{
		"nothing":           {BodyDraft{}, nil},
		"all of it":         {BodyDraft{Decimal: "comma", Unit: "in", Axes: []string{"forward", "left", "up"}, MirrorWithin: "0.5 mm"}, nil},
		"a point":           {BodyDraft{Decimal: "point", MirrorWithin: "0 mm"}, nil},
		"odd mark and unit": {BodyDraft{Decimal: "dot", Unit: "ft"}, []string{"decimal", "unit"}},
		"two axes":          {BodyDraft{Axes: []string{"forward", "left"}}, []string{"axes"}},
		"four axes":         {BodyDraft{Axes: []string{"forward", "left", "up", "up"}}, []string{"axes"}},
		"no unit":           {BodyDraft{MirrorWithin: "1"}, []string{"mirror_within"}},
		"below zero":        {BodyDraft{MirrorWithin: "-1 mm", Unit: "ell"}, []string{"unit", "mirror_within"}},
	} {
		d, problems := c.said.draft()
		var got []string
		for _, p := range problems {
			if p.File != Asked || p.Msg == "" || p.Hint == "" {
				t.Errorf("%s: %+v", name, p)
			}
			got = append(got, p.Field)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
		if name == "all of it" && (d.Axes != body.Axes{X: "forward", Y: "left", Z: "up"} || d.MirrorWithin != 0.5) {
			t.Errorf("%+v", d)
		}
	}
	if d, _ := (BodyDraft{References: []string{" A", "B "}}).draft(); !slices.Equal(d.References, []body.PointID{"A", "B"}) {
		t.Errorf("%q", d.References)
	}
}

// Files that cannot be read are told before anything is made, of a procedure its tests too; a table
// without a head says what it has to have, and one of another fault does not.
func TestFilesOfABodyDraft(t *testing.T) {
	a := New(memory{"t.csv": []byte("a;b\n1;2\n"), "cut.csv": []byte("id;x;y;z\nA;1;2\n"), "p.csv": []byte("id;name\nP;One\n")}, "test")
	d := BodyDraft{ID: "v", Name: "V", Revision: "1", Source: "S", Currency: "EUR", LoadState: "loaded"}
	for name, c := range map[string]struct {
		set  func(*BodyDraft)
		want string
		not  string
	}{
		"no head":            {func(d *BodyDraft) { d.Points = "t.csv" }, "it has at least id, x, y, z", ""},
		"no head of parts":   {func(d *BodyDraft) { d.Parts = "t.csv" }, "it has at least id, name", ""},
		"a cell too few":     {func(d *BodyDraft) { d.Points = "cut.csv" }, "cut.csv:2: the row has 3 cells", "it has at least"},
		"no such procedure":  {func(d *BodyDraft) { d.Procedures = []string{"none.yaml"} }, "none.yaml", ""},
		"the first of two":   {func(d *BodyDraft) { d.Points, d.Parts = "one.csv", "two.csv" }, "one.csv", "two.csv"},
		"and what was said":  {func(d *BodyDraft) { d.Points, d.Unit = "cut.csv", "ft" }, "ft is no unit of length", ""},
		"pasted, no head":    {func(d *BodyDraft) { d.Pasted = []byte("a b\n1 2\n") }, PastedTable, ""},
		"skill is asked for": {func(d *BodyDraft) { d.Parts = "p.csv" }, "skill", ""},
	} {
		_, err := a.NewBody(t.Context(), with(d, c.set))
		if err == nil || !strings.Contains(err.Error(), c.want) || c.not != "" && strings.Contains(err.Error(), c.not) {
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
	}
}

// Which point is whose twin: two name each other, a point of the centre plane none; where none has a
// twin nothing can be compared. A twin that is not in the table is told elsewhere.
func TestTwinsNameEachOther(t *testing.T) {
	p := func(id, mirror body.PointID) body.Point { return body.Point{ID: id, Mirror: mirror} }
	for name, c := range map[string]struct {
		points []body.Point
		want   []string
	}{
		"two":              {[]body.Point{p("A", "B"), p("B", "A")}, nil},
		"and one between":  {[]body.Point{p("M", ""), p("A", "B"), p("B", "A")}, nil},
		"one names none":   {[]body.Point{p("A", "B"), p("B", "")}, []string{":12 column mirror"}},
		"in a ring":        {[]body.Point{p("A", "B"), p("B", "C"), p("C", "A")}, []string{":12 column mirror", ":13 column mirror", ":14 column mirror"}},
		"none":             {[]body.Point{p("A", ""), p("B", "")}, []string{":1 column mirror"}},
		"none at all":      {nil, []string{":1 column mirror"}},
		"not in the table": {[]body.Point{p("A", "Q")}, nil},
		"itself":           {[]body.Point{p("A", "A")}, nil},
	} {
		if got := placesOf(checkTwins(c.points, []int{12, 13, 14})); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	for head, want := range map[string]bool{"id,mirror": true, "\ufeffid,\"mirror\" ,name\r": true, "id,x_mm,mirror": false, "id,mirror,y_mm": false, "id,mirror,z_mm": false, "id,name": false, "id\nmirror": false} {
		if withoutPlaces([]byte(head+"\nA,B\n")) != want {
			t.Errorf("%q: %v", head, !want)
		}
	}
}

// Parts that are off are named as the body has them; an assembly stands for its parts.
func TestPartsThatAreOff(t *testing.T) {
	b := &body.Body{Parts: []body.Part{{ID: "bumper"}, {ID: "seal"}, {ID: "skin"}}, Assemblies: []body.Assembly{{ID: "other", Parts: []body.PartID{"skin"}}, {ID: "front", Parts: []body.PartID{"bumper", "seal"}}}}
	for _, c := range []struct {
		ids  []string
		want []body.PartID
	}{{nil, nil}, {[]string{"seal"}, []body.PartID{"seal"}}, {[]string{"front", "skin"}, []body.PartID{"bumper", "seal", "skin"}}, {[]string{"skin", "other"}, []body.PartID{"skin", "skin"}}} {
		if got, err := partsOff(b, c.ids); err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%q: %q %v", c.ids, got, err)
		}
	}
	var e *diag.Error
	if _, err := partsOff(b, []string{"seal", "skim"}); !errors.As(err, &e) || e.Kind != diag.NotFound || e.Subject != "skim" || !strings.Contains(e.Hint, "skin") {
		t.Errorf("%v", err)
	}
}

// Opening up is held up by whatever stops it, by an area that stays hidden, and by a note that blocks.
func TestWhatBlocksAnOpening(t *testing.T) {
	for name, c := range map[string]struct {
		set  func(*Exposed)
		want bool
	}{
		"nothing":          {func(*Exposed) {}, false},
		"a hidden area":    {func(x *Exposed) { x.Hidden = make([]plan.ToInspect, 1) }, true},
		"a stop":           {func(x *Exposed) { x.Stop = []string{"it may go off"} }, true},
		"a caution":        {func(x *Exposed) { x.Notes = []diag.Note{{Severity: diag.Caution}} }, false},
		"a note behind it": {func(x *Exposed) { x.Notes = []diag.Note{{Severity: diag.Caution}, {Severity: diag.Blocking}} }, true},
	} {
		var x Exposed
		if c.set(&x); x.Blocked() != c.want {
			t.Errorf("%s: %v", name, !c.want)
		}
	}
}

// Jobs of another casting are set apart, but for those that were named themselves and where none is
// of this one; those that failed are counted. Of two days the later one counts.
func TestJobsOfAnotherCastingAreSetApart(t *testing.T) {
	jobs := func(s string) []ReplayedJob { // a job for each letter; a capital is of another casting
		var out []ReplayedJob
		for _, r := range s {
			out = append(out, ReplayedJob{Dir: "jobs/" + strings.ToLower(string(r)), other: r >= 'A' && r <= 'Z'})
		}
		return out
	}
	names := func(r Replayed) string {
		var out string
		for _, j := range r.Jobs {
			out += strings.TrimPrefix(j.Dir, "jobs/")
		}
		return out + "|" + strings.ReplaceAll(strings.Join(r.Others, ""), "jobs/", "")
	}
	for _, c := range []struct{ jobs, named, want string }{{"abc", "", "abc|"}, {"aBc", "", "ac|b"}, {"AbC", "", "b|ac"}, {"AbC", "jobs/c/", "bc|a"}, {"AB", "", "ab|"}, {"AB", "jobs/b", "b|a"}, {"", "", "|"}} {
		r := Replayed{Jobs: jobs(c.jobs)}
		if r.setApart([]string{c.named}); names(r) != c.want {
			t.Errorf("%s, named %q: %s, want %s", c.jobs, c.named, names(r), c.want)
		}
	}
	if n := (Replayed{Jobs: []ReplayedJob{{Failed: "x"}, {}, {Failed: "y"}}}).Failed(); n != 2 {
		t.Errorf("%d failed", n)
	}
	first, next := unit.Date{Year: 2026, Month: 3, Day: 1}, unit.Date{Year: 2026, Month: 3, Day: 2}
	if later(first, next) != next || later(next, first) != next || later(unit.Date{}, first) != first || later(first, first) != first {
		t.Error("not the later day")
	}
}

// What is known of a spot is said as NAME=VALUE; a value may hold the sign itself.
func TestWhatIsSaidOfASpot(t *testing.T) {
	got, err := saidOf([]string{"kind=crack", " length = 3 mm ", "note=a=b", "empty="})
	if err != nil || len(got) != 4 || got[0].Name != "kind" || got[0].Value != "crack" || got[1].Name != "length" || got[1].Value != " 3 mm " || got[2].Value != "a=b" || got[3].Value != "" {
		t.Errorf("%+v %v", got, err)
	}
	var e *diag.Error
	if got, err := saidOf([]string{"kind=crack", "length"}); !errors.As(err, &e) || e.Kind != diag.Usage || e.Subject != "length" || got != nil {
		t.Errorf("%+v %v", got, err)
	}
}
