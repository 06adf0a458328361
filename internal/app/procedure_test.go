package app

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/inspect"
	"fettle/internal/revise"
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
	b := bodyIn(t, "body")
	if len(b.Procedures) < 2 {
		t.Fatalf("%d revisions, want two", len(b.Procedures))
	}
	return b
}

// bodyIn is the body of the demonstration in a folder.
func bodyIn(t *testing.T, dir string) *body.Body {
	t.Helper()
	files := map[string][]byte{}
	for name, data := range unpacked() {
		if rest, ok := strings.CutPrefix(name, dir+"/"); ok {
			files[rest] = data
		}
	}
	b, err := body.Decode(files)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// demoProcedures is every procedure of the demonstration.
func demoProcedures(t *testing.T) []body.Procedure {
	return append(slices.Clone(demoBody(t).Procedures), bodyIn(t, "rear-body").Procedures...)
}

// asConditions is a row with the limits under 'with' written as the conditions
// they stand for, so that they can be turned like the others.
func asConditions(r body.Row) body.Row {
	r.When = maps.Clone(r.Conditions())
	r.With.InZone, r.With.OnCasting, r.With.LengthInZone, r.With.LengthOnCasting = 0, 0, 0, 0
	return r
}

// Turning any comparison of any procedure of the demonstration,
// the limits under 'with' included, makes one of its own tests fail; so does
// leaving such a limit out.
func TestMutantsOfTheDemoProceduresFail(t *testing.T) {
	b := demoBody(t)
	n, limits := 0, 0
	for _, p := range demoProcedures(t) {
		fails := func(r body.Row, what string) {
			t.Helper()
			q := p
			q.Rows = slices.Clone(p.Rows)
			q.Rows[slices.IndexFunc(q.Rows, func(o body.Row) bool { return o.ID == r.ID })] = r
			n++
			if len(revise.TestProcedure(q, float64(b.Confidence))) == 0 {
				t.Errorf("%s revision %s, row %s, %s passes every test", p.ID, p.Revision, r.ID, what)
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
	for _, p := range demoProcedures(t) {
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
				if len(revise.TestProcedure(q, float64(b.Confidence))) == 0 {
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
	r, err := New(m, "test").WithBodies(&bodies).Replay(t.Context(), "body/procedures/br-fc-d.yaml", Replaying{Jobs: []string{"."}, On: unit.Date{Year: 2026, Month: 9, Day: 1}})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Jobs) != 3 || r.Failed() != 1 {
		t.Fatalf("%d jobs, %d failed; want 3 and 1", len(r.Jobs), r.Failed())
	}
	got := r.Jobs[0].Turned
	if len(got) != 1 || got[0].Finding != "D3" || got[0].Way != revise.Milder {
		t.Errorf("turned %+v, want D3 alone, milder", got)
	}
	if text := New(m, "test").ReplayText(r, plain); !strings.Contains(text, "1 could not be decided") {
		t.Errorf("the failed job is not told:\n%s", text)
	}
}

// A job of another vehicle that lies in the same folder is told and left out; it fails where it was named
// itself, where no job is of the casting, and where its body has a revision of the procedure: there the
// identity of the casting is wrong.
func TestReplayOfJobsOfAnotherCasting(t *testing.T) {
	renamed := files()
	for name, data := range renamed {
		if strings.HasPrefix(name, "rear-body/procedures/") {
			renamed[name] = []byte(strings.Replace(string(data), "id: TH-R\n", "id: BR-FC\n", 1))
		}
	}
	for _, k := range []struct {
		m              memory
		named          []string
		jobs, failed   int
		others, prints string
	}{
		{files(), []string{"."}, 3, 0, "[rear-job]", "Of another casting, and not looked at: rear-job.\n"},
		{files(), []string{"job", "rear-job"}, 2, 1, "[]", "rear-job: could not be decided: its body has no casting front-casting\n"},
		{files(), []string{"rear-job"}, 1, 1, "[]", "could not be decided"},
		{renamed, []string{"."}, 4, 1, "[]", "rear-job: could not be decided"},
	} {
		a := New(k.m, "test").WithBodies(&bodies)
		r, err := a.Replay(t.Context(), "body/procedures/br-fc-d.yaml", Replaying{Jobs: k.named, On: replayDay})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Jobs) != k.jobs || r.Failed() != k.failed || fmt.Sprint(r.Others) != k.others || !strings.Contains(a.ReplayText(r, plain), k.prints) {
			t.Errorf("%v: %d jobs, %d failed, others %v:\n%s", k.named, len(r.Jobs), r.Failed(), r.Others, a.ReplayText(r, plain))
		}
	}
}

// inMemory is a cache in memory, of one program.
type inMemory struct {
	program string
	data    map[string][]byte
	puts    int
	failed  []error
}

func (k *inMemory) Program() string       { return k.program }
func (k *inMemory) Get(dir string) []byte { return k.data[dir] }
func (k *inMemory) Put(dir string, data []byte) {
	k.puts++
	k.data[dir] = data
}
func (k *inMemory) Failed(err error) { k.failed = append(k.failed, err) }

func newCache(program string) *inMemory {
	return &inMemory{program: program, data: map[string][]byte{}}
}

// changed is the cache with the data of every job changed, as another program
// finds it.
func (k *inMemory) changed(program string, change func([]byte) []byte) *inMemory {
	out := newCache(program)
	for dir, data := range k.data {
		out.data[dir] = change(bytes.Clone(data))
	}
	return out
}

func same(data []byte) []byte { return data }

var replayDay = unit.Date{Year: 2026, Month: 9, Day: 1}

// replayText replays the demonstration's job under its newer revision.
func replayText(t testing.TB, m memory, c *inMemory) string {
	t.Helper()
	a := New(m, "test").WithBodies(&bodies)
	if c != nil {
		a.WithCache(c)
	}
	r, err := a.Replay(t.Context(), "body/procedures/br-fc-d.yaml", Replaying{Jobs: []string{demo.Job}, On: replayDay})
	if err != nil {
		t.Fatal(err)
	}
	return a.ReplayText(r, plain)
}

// A replay from what was kept says what one without says; what has changed
// since is found out anew, and what another program kept or what is damaged
// counts for nothing.
func TestReplayFromCache(t *testing.T) {
	m := scenario(t, "", "", "")
	want := replayText(t, m, nil)
	cold := newCache("p1")
	if got := replayText(t, m, cold); got != want {
		t.Errorf("with an empty cache\n%s\nwithout\n%s", got, want)
	}
	if cold.puts != 1 {
		t.Fatalf("kept %d times", cold.puts)
	}
	warm := cold.changed("p1", same)
	if got := replayText(t, m, warm); got != want {
		t.Errorf("from the cache\n%s\nwithout\n%s", got, want)
	}
	if warm.puts > 0 {
		t.Error("a replay from the cache learnt something: it did not use it")
	}
	for name, c := range map[string]*inMemory{
		"another program": cold.changed("p2", same),
		"damaged":         cold.changed("p1", func(d []byte) []byte { d[len(d)/2] ^= 1; return d }),
		"cut off":         cold.changed("p1", func(d []byte) []byte { return d[:len(d)-9] }),
		"empty":           cold.changed("p1", func([]byte) []byte { return []byte{} }),
	} {
		if New(m, "test").WithCache(c).kept(demo.Job) != nil {
			t.Errorf("%s: something is taken from it", name)
		}
	}
	// D2 is made too long for the older revision and not for the newer one.
	edited := scenario(t, "job/job.yaml", "[[672, -515, 392]", "[[669, -515, 390.5]")
	if got, fresh := replayText(t, edited, cold.changed("p1", same)), replayText(t, edited, nil); got != fresh || got == want {
		t.Errorf("after an edit\n%s\nwithout a cache\n%s", got, fresh)
	}
	// Another tip allowance, another zone, another qualification: found out anew.
	for file, change := range map[string][2]string{
		"body/procedures/br-fc-c.yaml": {"tip_allowance_visual: 3 mm", "tip_allowance_visual: 1 mm"},
		"body/body.yaml":               {"mesh_std: ", "mesh_std: 0"},
		"shop.yaml":                    {"until: 2028-02-29", "until: 2026-02-28"},
	} {
		edited := scenario(t, file, change[0], change[1])
		c := cold.changed("p1", same)
		if replayText(t, edited, c); c.puts != 1 {
			t.Errorf("%s has changed, and nothing was found anew", file)
		}
	}
	// A revision of which only rows differ is put beside the others: nothing is
	// found out anew, where the findings lie is the same.
	edited = scenario(t, "", "", "")
	edited["body/procedures/br-fc-e.yaml"] = bytes.Replace(bytes.Replace(bytes.Replace(m["body/procedures/br-fc-d.yaml"], []byte("revision: D"), []byte("revision: E"), 1), []byte("supersedes: C"), []byte("supersedes: D"), 1), []byte("effective: 2026-09-14"), []byte("effective: 2026-12-14"), 1)
	c := cold.changed("p1", same)
	calls := 0
	if a := New(edited, "test").WithCache(c); a != nil {
		k := a.kept(demo.Job)
		calls = len(k.Found)
	}
	if got := replayText(t, edited, c); got != want || len(New(edited, "test").WithCache(c).kept(demo.Job).Found) != calls {
		t.Errorf("a new revision in the body: found anew, or it says\n%s", got)
	}
}

// Assessing a job leaves where its findings lie for a replay, under the revision
// in force and under one that is published; nothing it says depends on what is
// kept, and an assessment never reads it.
func TestAssessKeepsForReplay(t *testing.T) {
	m := scenario(t, "", "", "")
	want := replayText(t, m, nil)
	c := newCache("p1")
	on := replayDay.Time()
	said := func(c *inMemory) string {
		a := New(m, "test").WithBodies(&bodies).WithCache(c)
		opened, err := a.Open(t.Context(), demo.Job)
		if err != nil {
			t.Fatal(err)
		}
		data, err := json.Marshal(assessedOf(t, a, opened, on))
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	plain := said(c)
	if c.puts != 1 || len(c.failed) > 0 {
		t.Fatalf("kept %d times, %v", c.puts, c.failed)
	}
	warm := c.changed("p1", same)
	if got := replayText(t, m, warm); got != want {
		t.Errorf("after assessing\n%s\nwithout\n%s", got, want)
	}
	if warm.puts > 0 {
		t.Error("the first replay after an assessment found something out anew")
	}
	// What is kept is never evidence: a forged entry changes no assessment.
	forged := newCache("p1")
	k := New(m, "test").WithCache(c).kept(demo.Job)
	for key, found := range k.Found {
		for i := range found.Findings {
			found.Findings[i].Decision = &inspect.Length{MM: 1}
		}
		k.Found[key] = found
	}
	k.changed = true
	New(m, "test").WithCache(forged).keep(demo.Job, k)
	if got := said(forged); got != plain {
		t.Error("a forged entry changes the assessment")
	}
}

// What inspect finds depends on nothing of a procedure but what InspectedBy
// says, the names of the revision aside: otherwise what is kept could be stale.
func TestInspectedByIsAllThatInspectReads(t *testing.T) {
	a := New(scenario(t, "", "", ""), "test").WithBodies(&bodies)
	c, err := a.Open(t.Context(), demo.Job)
	if err != nil {
		t.Fatal(err)
	}
	on := unit.DateOf(demo.Day)
	f, ok := c.Body.ProcedureFor(c.Body.Castings[0].ID, on)
	if !ok {
		t.Fatal("no procedure")
	}
	p := f.Procedure
	fresh := body.Procedure{ID: p.ID, Revision: p.Revision, Casting: p.Casting, Effective: p.Effective, TipVisual: p.TipVisual, GroupGap: p.GroupGap, Grouping: p.Grouping, Methods: p.Methods, Areas: p.Areas}
	for _, r := range p.Rows { // only the distances, in another order and of other rows
		for fact, text := range r.When {
			if strings.HasSuffix(fact, "_clearance") || fact == "spacing" {
				fresh.Rows = append([]body.Row{{ID: "X" + r.ID + fact, When: map[string]string{fact: text, "kind": "dent"}, Forbid: []body.TreatmentKind{body.Leave}}}, fresh.Rows...)
			}
		}
	}
	if len(fresh.Rows) == 0 || decide.InspectedBy(p) != decide.InspectedBy(fresh) {
		t.Fatal("the two procedures are not alike")
	}
	want, got := seen(nil, c, c.Body, on), seen(nil, c, revise.Under(c.Body, fresh), on)
	if !reflect.DeepEqual(want, got) {
		t.Error("inspect looks at more of a procedure than InspectedBy says")
	}
}

// benchJobs is n folders with the demonstration's job, read from memory.
func benchJobs(n int) (memory, []string) {
	m := memory{}
	for name, data := range unpacked() {
		if name != "sound-job/job.yaml" {
			m[name] = data
		}
	}
	var dirs []string
	for i := range n {
		dir := fmt.Sprintf("job%05d", i)
		for _, f := range []string{"job.yaml", "readings.csv"} {
			m[dir+"/"+f] = []byte(strings.Replace(string(m["job/"+f]), "DEMO-0317", fmt.Sprint("J", i), 1))
		}
		dirs = append(dirs, dir)
	}
	return m, dirs
}

func benchReplay(b *testing.B, a *App, dirs []string) {
	r, err := a.Replay(b.Context(), "body/procedures/br-fc-d.yaml", Replaying{Jobs: dirs, On: replayDay})
	if err != nil || len(r.Jobs) != len(dirs) || r.Failed() > 0 {
		b.Fatal(err, len(r.Jobs), r.Failed())
	}
}

// BenchmarkReplayFolders1000 replays a thousand job folders of ten findings that
// were assessed or replayed before, read from memory.
func BenchmarkReplayFolders1000(b *testing.B) {
	m, dirs := benchJobs(1000)
	c := newCache("p")
	a := New(m, "test").WithCache(c)
	benchReplay(b, a, dirs[:1])
	for _, dir := range dirs[1:] { // as if each had been found out
		k := a.kept(dirs[0])
		files, err := a.jobFiles(dir)
		if err != nil {
			b.Fatal(err)
		}
		k.JobHash, k.Job.ID, k.changed = hashOfJob(files), dir, true
		a.keep(dir, k)
	}
	puts := c.puts
	for b.Loop() {
		benchReplay(b, a, dirs)
	}
	if c.puts != puts {
		b.Fatal("the cache was not used")
	}
}

// BenchmarkReplayFolders100 replays a hundred job folders of ten findings of
// which nothing is known, read from memory.
func BenchmarkReplayFolders100(b *testing.B) {
	m, dirs := benchJobs(100)
	for b.Loop() {
		benchReplay(b, New(m, "test"), dirs)
	}
}
