package app

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/unit"
)

// turned is a condition with its comparison turned, or its limit moved from
// included to excluded.
func turned(text string) []string {
	switch text {
	case "yes":
		return []string{"no"}
	case "no":
		return []string{"yes"}
	}
	for _, s := range [][3]string{{"<= ", "< ", "> "}, {">= ", "> ", "< "}, {"only ", "none of ", ""}, {"any of ", "none of ", ""}} {
		if rest, ok := strings.CutPrefix(text, s[0]); ok {
			out := []string{s[1] + rest}
			if s[2] != "" {
				out = append(out, s[2]+rest)
			}
			return out
		}
	}
	if strings.Contains(text, " or ") {
		return []string{"neither " + strings.ReplaceAll(text, " or ", " nor ")}
	}
	return []string{"not " + text}
}

// demoBody is the body of the demonstration.
func demoBody(t *testing.T) *body.Body {
	t.Helper()
	files := map[string][]byte{}
	for name, data := range demo.Files() {
		if rest, ok := strings.CutPrefix(name, "body/"); ok {
			files[rest] = data
		}
	}
	b, err := body.Decode(files)
	if err != nil {
		t.Fatal(err)
	}
	if len(b.Procedures) < 2 {
		t.Fatalf("%d revisions, want two", len(b.Procedures))
	}
	return b
}

// asConditions is a row with the limits under 'with' written as the conditions
// they stand for, so that they can be turned like the others.
func asConditions(r body.Row) body.Row {
	r.When = maps.Clone(r.Conditions())
	r.With.InZone, r.With.OnCasting, r.With.LengthInZone, r.With.LengthOnCasting = 0, 0, 0, 0
	return r
}

// Turning any comparison of either revision of the demonstration's procedure,
// the limits under 'with' included, makes one of its own tests fail; so does
// leaving such a limit out.
func TestMutantsOfTheDemoProceduresFail(t *testing.T) {
	b := demoBody(t)
	n, limits := 0, 0
	for _, p := range b.Procedures {
		fails := func(r body.Row, what string) {
			t.Helper()
			q := p
			q.Rows = slices.Clone(p.Rows)
			q.Rows[slices.IndexFunc(q.Rows, func(o body.Row) bool { return o.ID == r.ID })] = r
			n++
			if len(decide.TestProcedure(q, float64(b.Confidence))) == 0 {
				t.Errorf("revision %s, row %s, %s passes every test", p.Revision, r.ID, what)
			}
		}
		for _, r := range p.Rows {
			for fact, text := range r.Conditions() {
				if _, plain := r.When[fact]; !plain {
					limits++
					without := asConditions(r)
					delete(without.When, fact)
					fails(without, "without its limit on "+fact)
				}
				for _, m := range turned(text) {
					mutant := asConditions(r)
					mutant.When[fact] = m
					fails(mutant, fmt.Sprintf("%s: %q in place of %q", fact, m, text))
				}
			}
		}
	}
	if n < 120 || limits < 2 {
		t.Errorf("only %d mutants, %d limits", n, limits)
	}
}

// Changing any figure or material of how a treatment has to be done makes a test
// of the newer revision fail; the older one says nothing of it.
func TestMutantsOfTheDemoMannersFail(t *testing.T) {
	b, n := demoBody(t), 0
	for _, p := range b.Procedures {
		for i, r := range p.Rows {
			changes := map[string]func(*body.Manner){}
			for name, change := range map[string]struct {
				given bool
				do    func(*body.Manner)
			}{
				"plate":                  {r.With.Plate != "", func(m *body.Manner) { m.Plate = "M-OTHER" }},
				"plate_thickness":        {r.With.Thickness != 0, func(m *body.Manner) { m.Thickness -= 0.1 }},
				"plate_overlap":          {r.With.Overlap != 0, func(m *body.Manner) { m.Overlap -= 0.1 }},
				"filler":                 {r.With.Filler != "", func(m *body.Manner) { m.Filler = "M-OTHER" }},
				"text":                   {r.With.Text != "", func(m *body.Manner) { m.Text += "!" }},
				"most_in_zone":           {r.With.InZone != 0, func(m *body.Manner) { m.InZone++ }},
				"most_on_casting":        {r.With.OnCasting != 0, func(m *body.Manner) { m.OnCasting++ }},
				"most_length_in_zone":    {r.With.LengthInZone != 0, func(m *body.Manner) { m.LengthInZone += 0.1 }},
				"most_length_on_casting": {r.With.LengthOnCasting != 0, func(m *body.Manner) { m.LengthOnCasting += 0.1 }},
			} {
				if change.given {
					changes[name] = change.do
				}
			}
			for name, change := range changes {
				q := p
				q.Rows = slices.Clone(p.Rows)
				change(&q.Rows[i].With)
				n++
				if len(decide.TestProcedure(q, float64(b.Confidence))) == 0 {
					t.Errorf("revision %s, row %s: another %s passes every test", p.Revision, r.ID, name)
				}
			}
		}
	}
	if n < 17 {
		t.Errorf("only %d changes", n)
	}
}

// The newer revision allows what the older one refused, and a job that fails is
// never counted among those that do not change.
func TestReplayOfTheDemo(t *testing.T) {
	m := scenario(t, "sound-job/job.yaml", "format: fettle-job 1", "format: fettle-job 9")
	r, err := New(m, "test").Replay("body/procedures/br-fc-d.yaml", Replaying{Jobs: []string{"."}, On: unit.Date{Year: 2026, Month: 9, Day: 1}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Jobs) != 2 || r.Failed() != 1 {
		t.Fatalf("%d jobs, %d failed; want 2 and 1", len(r.Jobs), r.Failed())
	}
	got := r.Jobs[0].Turned
	if len(got) != 1 || got[0].Finding != "F3" || got[0].Way != decide.Milder {
		t.Errorf("turned %+v, want F3 alone, milder", got)
	}
	if text := New(m, "test").ReplayText(r, 96); !strings.Contains(text, "1 could not be decided") {
		t.Errorf("the failed job is not told:\n%s", text)
	}
}

// A replay from the cache says what one without says; what has changed since is
// found out anew, and a cache of another program or a damaged one counts for
// nothing.
func TestReplayFromCache(t *testing.T) {
	m := scenario(t, "", "", "")
	on := unit.Date{Year: 2026, Month: 9, Day: 1}
	replay := func(m memory, c *ReplayCache) string {
		t.Helper()
		a := New(m, "test")
		r, err := a.Replay("body/procedures/br-fc-d.yaml", Replaying{Jobs: []string{"."}, On: on, Cache: c}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return a.ReplayText(r, 96)
	}
	want := replay(m, nil)
	cold := OpenReplayCache(nil, "p1")
	if got := replay(m, cold); got != want {
		t.Errorf("with an empty cache\n%s\nwithout\n%s", got, want)
	}
	data, changed, err := cold.Bytes()
	if err != nil || !changed {
		t.Fatalf("nothing was learnt: %v", err)
	}
	warm := OpenReplayCache(data, "p1")
	if got := replay(m, warm); got != want {
		t.Errorf("from the cache\n%s\nwithout\n%s", got, want)
	}
	if _, changed, _ := warm.Bytes(); changed {
		t.Error("a replay from the cache learnt something: it did not use it")
	}
	for name, c := range map[string]*ReplayCache{"another program": OpenReplayCache(data, "p2"), "damaged": OpenReplayCache(append(bytes.Clone(data[:len(data)-1]), data[len(data)-1]^1), "p1"), "cut off": OpenReplayCache(data[:len(data)-9], "p1")} {
		if len(c.jobs) != 0 {
			t.Errorf("%s: %d jobs are taken from it", name, len(c.jobs))
		}
	}
	// F2 is made too long for the older revision and not for the newer one.
	edited := scenario(t, "job/job.yaml", "[[672, -515, 392]", "[[669, -515, 390.5]")
	warm = OpenReplayCache(data, "p1")
	if got, fresh := replay(edited, warm), replay(edited, nil); got != fresh || got == want {
		t.Errorf("after an edit\n%s\nwithout a cache\n%s", got, fresh)
	}
	// Another tip allowance in the body: found out anew.
	edited = scenario(t, "body/procedures/br-fc-c.yaml", "tip_allowance_visual: 3 mm", "tip_allowance_visual: 1 mm")
	warm = OpenReplayCache(data, "p1")
	replay(edited, warm)
	if _, changed, _ := warm.Bytes(); !changed {
		t.Error("the body has changed and nothing was found out anew")
	}
}

// BenchmarkReplayFolders10000 replays ten thousand job folders of ten findings
// that have not changed since the last replay, read from memory.
func BenchmarkReplayFolders10000(b *testing.B) {
	m := memory{}
	for name, data := range demo.Files() {
		if name != "sound-job/job.yaml" {
			m[name] = data
		}
	}
	a := New(m, "test")
	with := Replaying{Jobs: []string{"job"}, On: unit.Date{Year: 2026, Month: 9, Day: 1}, Cache: OpenReplayCache(nil, "p")}
	if _, err := a.Replay("body/procedures/br-fc-d.yaml", with, nil); err != nil {
		b.Fatal(err)
	}
	one := with.Cache.jobs["job"]
	with.Jobs = nil
	for i := range 10000 {
		dir := fmt.Sprintf("job%05d", i)
		for _, f := range []string{"job.yaml", "readings.csv"} {
			m[dir+"/"+f] = []byte(strings.Replace(string(m["job/"+f]), "DEMO-0317", fmt.Sprint("J", i), 1))
		}
		hash, err := a.jobHash(dir)
		if err != nil {
			b.Fatal(err)
		}
		entry := *one
		entry.JobHash, entry.Job.ID = hash, fmt.Sprint("J", i)
		with.Cache.jobs[dir] = &entry
		with.Jobs = append(with.Jobs, dir)
	}
	with.Cache.changed = true
	data, _, err := with.Cache.Bytes()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		with.Cache = OpenReplayCache(data, "p")
		r, err := a.Replay("body/procedures/br-fc-d.yaml", with, nil)
		if err != nil || len(r.Jobs) != 10000 || r.Failed() > 0 {
			b.Fatal(err, len(r.Jobs), r.Failed())
		}
		if _, changed, _ := with.Cache.Bytes(); changed {
			b.Fatal("the cache was not used")
		}
	}
	b.ReportMetric(float64(len(data))/1e6, "MB")
}

// BenchmarkReplayFolders100 replays a hundred job folders of ten findings for
// the first time, read from memory.
func BenchmarkReplayFolders100(b *testing.B) {
	m := memory{}
	for name, data := range demo.Files() {
		if name != "sound-job/job.yaml" {
			m[name] = data
		}
	}
	a := New(m, "test")
	with := Replaying{On: unit.Date{Year: 2026, Month: 9, Day: 1}}
	for i := range 100 {
		dir := fmt.Sprintf("job%05d", i)
		for _, f := range []string{"job.yaml", "readings.csv"} {
			m[dir+"/"+f] = []byte(strings.Replace(string(m["job/"+f]), "DEMO-0317", fmt.Sprint("J", i), 1))
		}
		with.Jobs = append(with.Jobs, dir)
	}
	for b.Loop() {
		r, err := a.Replay("body/procedures/br-fc-d.yaml", with, nil)
		if err != nil || len(r.Jobs) != 100 || r.Failed() > 0 {
			b.Fatal(err, len(r.Jobs), r.Failed())
		}
	}
}
