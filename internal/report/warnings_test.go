package report

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// drawn is one element of a page as a reader of XML finds it.
type drawn struct {
	name, class string
	text        string // all text within it, blanks as one
	attr        map[string]string
	inside      []*drawn
}

// readPage is a page as a tree of its elements, read by encoding/xml.
func readPage(t testing.TB, page string) *drawn {
	t.Helper()
	root := &drawn{}
	path := []*drawn{root}
	d := xml.NewDecoder(strings.NewReader(page))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return root
		}
		if err != nil {
			t.Fatal(err)
		}
		switch x := token.(type) {
		case xml.StartElement:
			e := &drawn{name: x.Name.Local, attr: map[string]string{}}
			for _, a := range x.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			e.class = e.attr["class"]
			up := path[len(path)-1]
			up.inside = append(up.inside, e)
			path = append(path, e)
		case xml.CharData:
			for _, e := range path {
				e.text += string(x)
			}
		case xml.EndElement:
			e := path[len(path)-1]
			e.text = strings.Join(strings.Fields(e.text), " ")
			path = path[:len(path)-1]
		}
	}
}

// all is every element within one that has a name and, if one is given, a class among its own.
func (e *drawn) all(name, class string) []*drawn {
	var out []*drawn
	for _, x := range e.inside {
		if x.name == name && (class == "" || slices.Contains(strings.Fields(x.class), class)) {
			out = append(out, x)
		}
		out = append(out, x.all(name, class)...)
	}
	return out
}

func textOf(es []*drawn) []string {
	var out []string
	for _, e := range es {
		out = append(out, e.text)
	}
	return out
}

// TestNoReasonNotToStartIsLostSeed5: whatever notes there are and whatever dangers, the first page
// tells the first five reasons that block in their order and how many more there are, the last
// section tells every note, and every sheet of the bay says not to start, the first with the first
// ten reasons and how many more. The reasons are reckoned here: the notes that block, and the
// dangers that are not made safe and of which no such note speaks.
func TestNoReasonNotToStartIsLostSeed5(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	for _, n := range []int{0, 1, 3, 9, 24} {
		in := fixture(t)
		in.Vehicle, in.Notes, in.Job.Hazards, in.Decide.Permits = nil, nil, nil, rng.IntN(2) == 0
		var want []string
		for k := range n {
			n := diag.Note{Code: fmt.Sprintf("code-%d", k), Severity: []diag.Severity{diag.Info, diag.Caution, diag.Blocking, diag.Blocking}[rng.IntN(4)], Text: fmt.Sprintf("note %d says so", k)}
			if n.Where = fmt.Sprintf("place %d", k); k == 3 {
				n.Where = string(body.Airbag)
			}
			if rng.IntN(2) == 0 {
				n.Hint = fmt.Sprintf("do %d", k)
			}
			in.Notes = append(in.Notes, n)
			if n.Severity == diag.Blocking {
				want = append(want, strings.TrimSpace(n.Where+": "+sentence(n.Text)+" "+sentence(n.Hint)))
			}
		}
		told := slices.ContainsFunc(in.Notes, func(n diag.Note) bool { return n.Severity == diag.Blocking && n.Where == string(body.Airbag) })
		if rng.IntN(2) == 0 {
			in.Job.Hazards = []job.Hazard{{Kind: body.Airbag, Text: "left one fired"}}
			if !told {
				title, _ := cautionText(body.Airbag)
				want = append(want, title+": "+unsafe(in, in.Job.Hazards[0])+": Left one fired.")
			}
		}
		if !in.Decide.Permits && len(want) == 0 {
			want = append(want, "decision: Not every finding has a treatment that is allowed, or a procedure may not be used any more. See section 3.")
		}
		page := readPage(t, render(t, in))
		first := slices.Clone(want[:min(5, len(want))])
		if len(want) > 5 {
			first = append(first, fmt.Sprintf("And %d more: all are in section 8.", len(want)-5))
		}
		var got []string
		for _, b := range page.all("div", "blocks") {
			got = append(got, textOf(b.all("li", ""))...)
		}
		if !slices.Equal(got, first) {
			t.Fatalf("the first page says %q, want %q", got, first)
		}
		rows := strings.Join(textOf(page.all("tr", "")), "\n")
		for _, n := range in.Notes {
			if !strings.Contains(rows, strings.TrimSpace(n.Where+sentence(n.Text)+" "+sentence(n.Hint))) || !strings.Contains(rows, n.Code) {
				t.Fatalf("%+v is not in the last section", n)
			}
		}
		route := in.Compare.Routes[0]
		route.Open, route.Ask, route.Measure, route.Feasible = 0, nil, nil, true
		bay := readPage(t, sheets(t, in, route))
		stops, stopped := bay.all("div", "stop"), len(want) > 0 || !in.Decide.Permits
		if days := len(bay.all("section", "day")); stopped && len(stops) != days+1 || !stopped && len(stops) > 0 || days < 3 {
			t.Fatalf("%d of %d sheets are stopped, want all: %v", len(stops), days+1, stopped)
		}
		if stopped {
			listed := len(stops[0].all("li", ""))
			more := fmt.Sprintf("And %d more: all are in the report.", len(want)-10)
			if listed != min(len(want), 10)+min(1, max(0, len(want)-10)) || len(want) > 10 != strings.Contains(stops[0].text, more) {
				t.Fatalf("the first sheet has %d of %d reasons: %s", listed, len(want), stops[0].text)
			}
			for _, s := range stops[1:] {
				if other := "reasons: see the first sheet."; len(want) > 2 && !strings.Contains(s.text, fmt.Sprintf("And %d other %s", len(want)-1, other)) {
					t.Fatalf("a sheet says %q of %d reasons", s.text, len(want))
				}
			}
		}
	}
}

// TestSheetsHaveEveryStepOfTheDaySeed6: of whatever steps on whatever days by whatever people,
// each day of each person begins a new sheet, in the order of days and then of people, with the steps
// worked on that day in their order, their dangers and joints on each, and hold point, wait, records
// and the box to tick on the last alone. Every sheet ends its page.
func TestSheetsHaveEveryStepOfTheDaySeed6(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 0))
	for range 12 {
		in, r := startable(t)
		in.Vehicle = nil
		r.Plan.Steps = nil
		start := fixturePlan().Steps[0].From
		type sheet struct {
			day    string
			person string
		}
		want := map[sheet][]string{}
		last := map[string]sheet{}
		var keys []sheet
		open := []int{0, 1, 2, 5, 6, 7, 8, 9} // days from a Wednesday on which the shop works
		at := 0
		for k := range 3 + rng.IntN(6) {
			s := plan.Step{ID: fmt.Sprintf("S-%d", k), Name: fmt.Sprintf("Step %d", k), Skill: "structure", Minutes: 60, Person: []string{"ST1", "AW1"}[rng.IntN(2)],
				Cautions: []body.Caution{[]body.Caution{body.Airbag, body.Welding, body.Lifting}[rng.IntN(3)]}, Hold: []string{"", "look at it"}[rng.IntN(2)], WaitMin: []float64{0, 30}[rng.IntN(2)], Records: []string{"a figure"}}
			end := min(at+rng.IntN(3), len(open)-1)
			s.From, s.To = start.AddDate(0, 0, open[at]).Add(2*time.Hour), start.AddDate(0, 0, open[end]).Add(4*time.Hour)
			for _, n := range open[at : end+1] {
				key := sheet{unit.DateOf(start.AddDate(0, 0, n)).String(), s.Person}
				if want[key] == nil {
					keys = append(keys, key)
				}
				want[key] = append(want[key], s.ID)
				last[s.ID] = key
			}
			r.Plan.Steps = append(r.Plan.Steps, s)
			at = min(end+rng.IntN(2), len(open)-1)
		}
		r.Plan.Start, r.Plan.Finish = unit.DateOf(start), unit.DateOf(start.AddDate(0, 0, 9))
		sort.SliceStable(keys, func(i, j int) bool { return keys[i].day+keys[i].person < keys[j].day+keys[j].person })
		page := readPage(t, sheets(t, in, r))
		days := page.all("section", "day")
		if len(days) != len(keys) {
			t.Fatalf("%d sheets, want %d: %v", len(days), len(keys), keys)
		}
		for i, key := range keys {
			rows := days[i].all("tr", "step")
			if len(rows) != len(want[key]) || !strings.HasPrefix(days[i].text, key.person) {
				t.Fatalf("sheet %d has %d steps, want %q of %v: %.80s", i, len(rows), want[key], key, days[i].text)
			}
			for k, id := range want[key] {
				s := r.Plan.Steps[slices.IndexFunc(r.Plan.Steps, func(s plan.Step) bool { return s.ID == id })]
				ends := last[id] == key
				row := rows[k]
				title, _ := cautionText(s.Cautions[0])
				boxes := 0
				for _, e := range row.all("div", "id") {
					boxes += len(e.all("span", "box"))
				}
				if !strings.HasPrefix(row.text, id) || !strings.Contains(strings.Join(textOf(row.all("p", "warn")), " "), title) ||
					(len(row.all("div", "hold")) == 1) != (ends && s.Hold != "") || (len(row.all("div", "wait")) == 1) != (ends && s.WaitMin > 0) ||
					(len(row.all("table", "records")) == 1) != ends || (boxes == 1) != ends {
					t.Fatalf("%s on sheet %v, which it ends on: %v, is %q", id, key, ends, row.text)
				}
			}
		}
	}
	style, err := styleOf("sheets.css")
	if err != nil || !strings.Contains(string(style), "section { break-after: page; }") {
		t.Errorf("a sheet does not end its page: %v", err)
	}
}

// Of more findings than the first page has room for it lists those that have no allowed treatment
// first, and of either the longest first; of as many as it has room for, all in their order.
func TestFirstPageListsTheWorstFindings(t *testing.T) {
	in := fixture(t)
	in.Vehicle = nil
	for _, n := range []int{10, 11, 25} {
		in.Inspect.Findings, in.Decide.Findings = nil, nil
		for i := range n {
			id := job.FindingID(fmt.Sprintf("F%02d", i))
			f := inspect.Finding{ID: id, Kind: "crack", Casting: "C1"}
			if i%5 > 0 {
				f.Length = &inspect.Length{MM: float64(i * 7 % 50), Std: 1}
			}
			in.Inspect.Findings = append(in.Inspect.Findings, f)
			if i%3 > 0 {
				in.Decide.Findings = append(in.Decide.Findings, decide.Finding{ID: id, Verdict: []decide.Verdict{decide.Ask, decide.Allowed}[i%3-1]})
			}
		}
		want := slices.Clone(in.Inspect.Findings)
		if n > 10 {
			rank := func(f inspect.Finding) (float64, float64) {
				i := slices.IndexFunc(in.Inspect.Findings, func(x inspect.Finding) bool { return x.ID == f.ID })
				length := 0.0
				if f.Length != nil {
					length = f.Length.MM
				}
				if i%3 == 2 {
					return 1, -length
				}
				return 0, -length
			}
			sort.SliceStable(want, func(i, j int) bool {
				a, x := rank(want[i])
				b, y := rank(want[j])
				return a < b || a == b && x < y
			})
		}
		f, err := buildFrontFindings(in, mostRows)
		if err != nil || len(f.Rows) != 10 || f.More != n-10 {
			t.Fatalf("%d findings: %d rows, %d more, %v", n, len(f.Rows), f.More, err)
		}
		for i, r := range f.Rows {
			length := "not known"
			if l := want[i].Length; l != nil {
				length = plusMinus(l.MM, l.Std)
			}
			if r.ID != string(want[i].ID) || r.Length != length {
				t.Errorf("%d findings, row %d: %s of %s, want %s of %s", n, i, r.ID, r.Length, want[i].ID, length)
			}
		}
	}
}

// The first page changes to smaller type where it has one line more than a sheet holds, and not
// before; the second page begins once, with what did not fit on it or with the dangers.
func TestFirstPageEndsWhereItShould(t *testing.T) {
	in := fixture(t)
	in.Vehicle = nil
	in.Measure.Hypotheses, in.Inspect, in.Job.Hazards = nil, inspect.Result{}, nil // little to say
	seen := map[int]bool{}
	for n := range 20 {
		in.Notes = []diag.Note{{Code: "c", Severity: diag.Blocking, Where: "w", Text: strings.Repeat("x", 104*n+20)}}
		f, err := buildFront(in, picked(in))
		if err != nil {
			t.Fatal(err)
		}
		lines := frontLines(f)
		if seen[lines] = true; f.Dense != (lines > 35) {
			t.Errorf("%d lines: smaller type is %v", lines, f.Dense)
		}
	}
	if !seen[35] || !seen[36] {
		t.Errorf("the lines tried are %v", seen)
	}
	one := frontPart{Next: []string{strings.Repeat("n", 120)}, Answers: []answer{{Text: strings.Repeat("a", 110), Lines: []string{strings.Repeat("l", 52), "x", "y"}}}}
	for add, change := range map[int]func(f *frontPart){
		0: func(*frontPart) {},
		1: func(f *frontPart) { f.Next[0] += "n" },
		2: func(f *frontPart) { f.Answers[0].Text += "a"; f.Findings.Rows = make([]frontRow, 1) },
		// three lines of half a page are two; four are two as well, five are three
		-1: func(f *frontPart) { f.Answers[0].Lines = f.Answers[0].Lines[:2] },
		3:  func(f *frontPart) { f.Blocks = []block{{"w", strings.Repeat("t", 103), "h"}} },
		4:  func(f *frontPart) { f.Blocks = []block{{"w", strings.Repeat("t", 104), "h"}} },
	} {
		f := one
		f.Next, f.Answers = slices.Clone(one.Next), slices.Clone(one.Answers)
		if change(&f); frontLines(f) != 5+add { // 1 line of heads, 1 next, 1 answer, 2 of its list
			t.Errorf("%d lines, want %d", frontLines(f), 5+add)
		}
	}
	for name, c := range map[string]struct {
		later, hazards bool
		want           int
	}{"both": {true, true, 1}, "more to do": {true, false, 1}, "dangers": {false, true, 1}, "neither": {false, false, 0}} {
		in := fixture(t)
		in.Vehicle = nil
		if !c.hazards {
			in.Job.Hazards = nil
		}
		if !c.later {
			in.Measure.Hypotheses, in.Decide, in.Inspect = nil, decide.Result{Permits: true}, inspect.Result{}
		}
		f, err := buildFront(in, picked(in))
		most := map[bool]int{false: mostNext, true: denseNext}
		if err != nil || (len(f.Later) > 0) != c.later || c.later && (len(f.Next) != most[f.Dense] || f.LaterFrom != most[f.Dense]+1) {
			t.Errorf("%s: %d to do next and %d later, from %d; %v", name, len(f.Next), len(f.Later), f.LaterFrom, err)
		}
		page := readPage(t, render(t, in)).all("section", "front")[0]
		if n := len(page.all("div", "second")) + len(page.all("h3", "second")); n != c.want {
			t.Errorf("%s: the second page begins %d times", name, n)
		}
	}
}
