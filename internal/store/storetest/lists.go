package storetest

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// ListStore is a store that finds jobs.
type ListStore interface {
	app.Store
	app.Lists
}

// TestLists holds what a store finds against what a reader would find by eye, with whole words: jobs of few
// words, plates and numbers that are alike, asked for by the beginnings of those and by words of no job, in
// pages, while they change.
func TestLists(t *testing.T, open func(t *testing.T, now func() time.Time) (again func() ListStore)) {
	clock := &Clock{at: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
	again := open(t, clock.Now)
	l := &lists{t: t, to: again(), clock: clock, draw: rand.New(rand.NewPCG(19, 3)), rows: map[string]*listed{}}
	for range 40 {
		l.add()
	}
	for range 120 {
		l.change()
		l.ask()
	}
	l.to = again()
	for range 60 {
		l.ask()
	}
	l.refusals()
	l.erases()
}

// listed is a job as the test knows it.
type listed struct {
	app.JobLine
	vin      string
	findings []string
}

type lists struct {
	t     *testing.T
	to    ListStore
	clock *Clock
	draw  *rand.Rand
	rows  map[string]*listed
}

func (l *lists) any(of ...string) string { return of[l.draw.IntN(len(of))] }

func (l *lists) add() {
	s := State(fmt.Sprintf("2026-%03d", l.draw.IntN(1000)))
	if l.rows[s.ID] != nil {
		return
	}
	s.Vehicle.VIN = fmt.Sprintf("TEST%013d", l.draw.IntN(3000))
	h, err := l.to.Create(l.t.Context(), s.ID, app.Change{Key: "k", By: "p-1", Events: job.FromState(s)})
	if err != nil {
		l.t.Fatal(err)
	}
	l.rows[s.ID] = &listed{JobLine: app.JobLine{ID: s.ID, Head: h, Changed: l.now(), Vehicle: s.Vehicle.VIN[9:]}, vin: s.Vehicle.VIN, findings: []string{"D1", "D2"}}
}

func (l *lists) now() string { return l.clock.Now().UTC().Format("2006-01-02T15:04:05Z") }

// row is any job, by its name: no order of a map decides.
func (l *lists) row() *listed {
	ids := []string{}
	for id := range l.rows {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return l.rows[ids[l.draw.IntN(len(ids))]]
}

// change adds a finding to a job, or notes what a list shows of it, at an event that may be an older one.
func (l *lists) change() {
	l.clock.add(time.Duration(l.draw.IntN(3)) * time.Second)
	r := l.row()
	if l.draw.IntN(3) == 0 {
		id := fmt.Sprint("D", 3+len(r.findings))
		h, err := l.to.Append(l.t.Context(), r.ID, app.Change{Key: id, By: "p-1", Events: []job.Event{found(&job.Stored{}, id, "")}}, nil)
		if err != nil {
			l.t.Fatal(err)
		}
		r.Head, r.Changed, r.findings = h, l.now(), append(r.findings, id)
		return
	}
	s := app.Shown{Title: l.any("", "Grey van", "grey estate", "Van, twice hit", "ÖRTLICH"), Plate: l.any("", "AB-C 123", "AB CD 12", "XY 99"), Waits: l.any("", "answer", "parts"), On: l.any("", "p-1", "p-2"), Act: l.any("", "D1"), Since: l.any("", "2026-03-02T08:00:00Z"), Judged: l.any("", "2026-03-02")}
	at := 1 + l.draw.Int64N(r.Head.Seq)
	if l.draw.IntN(2) == 0 { // what it waits for alone: the rest stays
		s.Title, s.Plate = r.Title, r.Plate
	}
	if err := l.to.Index(l.t.Context(), r.ID, at, func(was app.Shown) app.Shown {
		if was != r.Shown {
			l.t.Errorf("shown was %+v, want %+v", was, r.Shown)
		}
		return s
	}); err != nil {
		l.t.Fatal(err)
	}
	if at >= r.At {
		r.Shown, r.At = s, at
	}
}

// asked are questions, each with whether a job is one that is meant.
var asked = map[string]func(r *listed) bool{
	"":             func(*listed) bool { return true },
	"  ":           func(*listed) bool { return true },
	"g":            func(r *listed) bool { return strings.Contains(strings.ToLower(r.Title), "grey") },
	"VAN":          func(r *listed) bool { return strings.Contains(strings.ToLower(r.Title), "van") },
	"van twi":      func(r *listed) bool { return strings.HasPrefix(r.Title, "Van, twice") },
	"grey van":     func(r *listed) bool { return r.Title == "Grey van" },
	"ört":          func(r *listed) bool { return r.Title == "ÖRTLICH" },
	"abc":          func(r *listed) bool { return r.Plate == "AB-C 123" || r.Plate == "AB CD 12" },
	"ab-c 123":     func(r *listed) bool { return r.Plate == "AB-C 123" },
	"abc123":       func(r *listed) bool { return r.Plate == "AB-C 123" },
	"abcd 12":      func(r *listed) bool { return r.Plate == "AB CD 12" },
	"xy9":          func(r *listed) bool { return r.Plate == "XY 99" },
	"2026":         func(*listed) bool { return true },
	"20260":        func(r *listed) bool { return strings.HasPrefix(r.ID, "2026-0") },
	"test00000":    func(*listed) bool { return true },
	"d5":           func(r *listed) bool { return slices.Contains(r.findings, "D5") },
	"dent":         func(*listed) bool { return true },
	"p-skin":       func(*listed) bool { return true },
	"nothing":      func(*listed) bool { return false },
	"W2":           func(*listed) bool { return false }, // a person
	"van' or 1=1":  func(*listed) bool { return false },
	"% _ van":      func(r *listed) bool { return strings.Contains(strings.ToLower(r.Title), "van") },
	"grey nothing": func(*listed) bool { return false },
}

// ask asks one question in pages.
func (l *lists) ask() {
	var texts []string
	for text := range asked {
		texts = append(texts, text)
	}
	slices.Sort(texts)
	q := app.JobQuery{Text: l.any(texts...), Waits: l.any("", "", "answer"), On: l.any("", "", "p-2"), Most: 1 + l.draw.IntN(12)}
	means := asked[q.Text]
	if part := l.row().vin; l.draw.IntN(3) == 0 { // from the middle of a number
		part = part[4+l.draw.IntN(9):]
		q.Text, means = part, func(r *listed) bool { return strings.Contains(r.vin, part) }
	}
	var want []app.JobLine
	for _, r := range l.rows {
		if means(r) && (q.Waits == "" || q.Waits == r.Waits) && (q.On == "" || q.On == r.On) {
			want = append(want, r.JobLine)
		}
	}
	slices.SortFunc(want, func(a, b app.JobLine) int { return strings.Compare(b.Changed+b.ID, a.Changed+a.ID) })
	var got []app.JobLine
	for {
		page, err := l.to.Find(l.t.Context(), q)
		if err != nil {
			l.t.Fatal(err)
		}
		if got = append(got, page...); len(page) < q.Most {
			break
		}
		q.After = page[len(page)-1]
	}
	if !slices.Equal(got, want) {
		l.t.Fatalf("asked for %+v\nfound %v\nwant  %v", q, got, want)
	}
}

func (l *lists) refusals() {
	none := func(app.Shown) app.Shown { return app.Shown{} }
	r := l.row()
	for _, at := range []int64{0, -1, r.Head.Seq + 1} {
		if err := l.to.Index(l.t.Context(), r.ID, at, none); diag.KindOf(err) != diag.Invalid {
			l.t.Errorf("noted for event %d of %d: %v", at, r.Head.Seq, err)
		}
	}
	if err := l.to.Index(l.t.Context(), "none", 1, none); diag.KindOf(err) != diag.NotFound {
		l.t.Errorf("noted for a job that is not there: %v", err)
	}
}

// erases: what is noted no more is not found any more.
func (l *lists) erases() {
	r := l.row()
	for _, plate := range []string{"QQ 1", ""} {
		if err := l.to.Index(l.t.Context(), r.ID, r.Head.Seq, func(app.Shown) app.Shown { return app.Shown{Plate: plate} }); err != nil {
			l.t.Fatal(err)
		}
		if page, err := l.to.Find(l.t.Context(), app.JobQuery{Text: "qq1", Most: 9}); err != nil || len(page) != len(plate)/4 {
			l.t.Errorf("with the plate %q: %v %v", plate, page, err)
		}
	}
}
