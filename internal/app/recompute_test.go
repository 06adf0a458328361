package app

import (
	"bytes"
	"encoding/json"
	"fettle/internal/assess"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/job"
)

func marshalled(t testing.TB, r Assessment) []byte {
	t.Helper()
	data, err := json.MarshalIndent(r, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// onDisk puts an assessment beside a job of the scenario.
func onDisk(m memory, data []byte) memory {
	m["kept/assessment.json"] = data
	return m
}

func recomputed(t testing.TB, m memory) (Recomputed, error) {
	t.Helper()
	return New(m, "test").WithBodies(&bodies).Recompute(t.Context(), "kept/assessment.json", demo.Job, nil, nil)
}

// TestRecomputeUnchanged: the same inputs give every figure again, to the last digit.
func TestRecomputeUnchanged(t *testing.T) {
	_, _, r := demonstrated(t, demo.Job)
	again, err := recomputed(t, onDisk(files(), marshalled(t, r)))
	if err != nil || !again.Same || len(again.Build) > 0 || again.Counts.Figures < 5000 || again.Counts.Inputs < 9 {
		t.Fatalf("%v\n%s", err, again.Text(plain))
	}
}

// TestRecomputeTellsWhatChanged: one reading, one byte of the mesh that no figure
// needs, another build, a figure that somebody changed in the file.
func TestRecomputeTellsWhatChanged(t *testing.T) {
	_, c, r := demonstrated(t, demo.SoundJob)
	recomputed := func(t testing.TB, m memory) (Recomputed, error) {
		return New(m, "test").WithBodies(&bodies).Recompute(t.Context(), "kept/assessment.json", demo.SoundJob, nil, nil)
	}
	readings := demo.SoundJob + "/readings.csv"
	m := onDisk(files(), marshalled(t, r))
	first := c.Job.Readings[3]
	old := fmt.Sprintf("%s,xyz,%s,,%.1f,", first.Setup, first.From, first.X.Value)
	if n := bytes.Count(m[readings], []byte(old)); n != 1 {
		t.Fatalf("%q stands %d times in the readings", old, n)
	}
	m[readings] = bytes.Replace(m[readings], []byte(old), fmt.Appendf(nil, "%s,xyz,%s,,%.1f,", first.Setup, first.From, first.X.Value+0.1), 1)
	again, err := recomputed(t, m)
	if err != nil || again.Same || len(again.Inputs) != 1 || again.Inputs[0].File != "readings.csv" || again.Inputs[0].Role != roleJob || again.Inputs[0].Was == again.Inputs[0].Is {
		t.Fatalf("a reading: %v\n%s", err, again.Text(plain))
	}
	if !slices.ContainsFunc(again.Figures, func(c ValueChange) bool { return c.Path == "readings[3].xMm" && c.Was == fmt.Sprint(first.X.Value) }) ||
		!slices.ContainsFunc(again.Figures, func(c ValueChange) bool {
			return strings.HasPrefix(c.Path, "measure.hypotheses[0].points[") && strings.Contains(c.Path, "shiftMm")
		}) {
		t.Errorf("the changed reading and its shift are not among %d figures", len(again.Figures))
	}

	m = onDisk(files(), marshalled(t, r))
	meshFile := "body/front-casting.ply"
	m[meshFile] = bytes.Replace(m[meshFile], []byte("comment "), []byte("comment_"), 1)
	if again, err = recomputed(t, m); len(again.Inputs) != 1 || again.Inputs[0].Role != roleBody || again.Same {
		t.Errorf("a mesh byte: %v\n%s", err, again.Text(plain))
	}

	other := r
	other.Build.Commit, other.Build.Tree = "0123456789abcdef", "changed"
	other.Blocked = !other.Blocked
	if again, err = recomputed(t, onDisk(files(), marshalled(t, other))); err != nil || again.Same || len(again.Build) != 2 || len(again.Inputs) != 0 ||
		len(again.Figures) != 1 || again.Figures[0] != (ValueChange{"blocked", fmt.Sprint(other.Blocked), fmt.Sprint(r.Blocked)}) {
		t.Errorf("a changed figure and build: %v\n%s", err, again.Text(plain))
	}
	for _, want := range []string{"build.commit", "blocked: was ", "all "} {
		if !strings.Contains(again.Text(plain), want) {
			t.Errorf("%q is not in\n%s", want, again.Text(plain))
		}
	}
}

// TestRecomputeOfAJobThatCannotBeOpened names the input that is missing, and says why.
func TestRecomputeOfAJobThatCannotBeOpened(t *testing.T) {
	_, _, r := demonstrated(t, demo.Job)
	for _, gone := range []string{"evidence/inspection-sheet.txt", "../body/points.csv"} {
		m := onDisk(files(), marshalled(t, r))
		name := filepath.ToSlash(filepath.Clean(demo.Job + "/" + gone))
		if _, ok := m[name]; !ok {
			t.Fatalf("there is no %s", name)
		}
		delete(m, name)
		again, err := recomputed(t, m)
		if err == nil || again.Same || len(again.Inputs) != 1 || again.Inputs[0].File != gone || again.Inputs[0].Is != "" {
			t.Errorf("%s: %v\n%s", gone, err, again.Text(plain))
		}
	}
}

// TestRecomputeRefusesWhatIsNoAssessment: cut off anywhere, another format, a path
// out of the folder, deep nesting, two values, no hash.
func TestRecomputeRefusesWhatIsNoAssessment(t *testing.T) {
	_, _, r := demonstrated(t, demo.Job)
	whole := marshalled(t, r)
	bad := map[string][]byte{
		"empty": nil, "half": whole[:len(whole)/2], "all but the end": whole[:len(whole)-1], "null": []byte("null"), "a list": []byte("[]"), "two": append(slices.Clone(whole), "{}"...),
		"another format": bytes.Replace(whole, []byte(AssessmentFormat), []byte("fettle-assessment 2"), 1), "no format": []byte(`{"made": "2026-11-26T10:00:00Z"}`),
		"no moment": []byte(`{"format": "` + AssessmentFormat + `"}`), "no hash": []byte(`{"format": "` + AssessmentFormat + `", "made": "2026-11-26T10:00:00Z", "inputs": [{"file": "x", "sha256": "zz"}]}`),
		"deep": []byte(strings.Repeat(`{"a":`, 100_000)), "a moment of words": []byte(`{"format": "` + AssessmentFormat + `", "made": "today"}`), "bytes": {0xff, 0xfe, 0},
	}
	for name, data := range bad {
		again, err := recomputed(t, onDisk(files(), data))
		if err == nil || again.Same || (diag.KindOf(err) != diag.Invalid && !strings.Contains(err.Error(), "assessment.json")) {
			t.Errorf("%s: %v", name, err)
		}
	}
	// What names a file elsewhere does not make the program open it.
	hostile := []byte(`{"format": "` + AssessmentFormat + `", "made": "2026-11-26T10:00:00Z", "inputs": [{"role": "job", "file": "../../../etc/passwd", "sha256": "` + strings.Repeat("0", 64) + `"}]}`)
	if again, err := recomputed(t, onDisk(files(), hostile)); err != nil || again.Same || again.Inputs[0] != (InputChange{"job", "../../../etc/passwd", strings.Repeat("0", 64), ""}) {
		t.Errorf("a path out of the folder: %v %+v", err, again.Inputs)
	}
}

// TestDoublesKeepAnAssessment: a reader whose only numbers are doubles (RFC 8259,
// section 6) reads and writes it without a change.
func TestDoublesKeepAnAssessment(t *testing.T) {
	_, _, r := demonstrated(t, demo.Job)
	r.Measure.Search.Seed = 1<<63 + 1
	data := marshalled(t, r)
	var exact, doubles any
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	if err := d.Decode(&exact); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &doubles); err != nil {
		t.Fatal(err)
	}
	back, err := json.Marshal(doubles)
	if err != nil {
		t.Fatal(err)
	}
	var again any
	d = json.NewDecoder(bytes.NewReader(back))
	d.UseNumber()
	if err := d.Decode(&again); err != nil {
		t.Fatal(err)
	}
	var changed []ValueChange
	differ(&changed, "", exact, again)
	for _, c := range changed {
		t.Errorf("%s: %s is read as %s", c.Path, c.Was, c.Is)
	}
}

// TestAssessmentSchema: an independent validator finds every assessment of the
// demonstration, and of jobs with faults, under the schema; every member is described,
// with its unit where it is a number, and nothing is described that is not there.
func TestAssessmentSchema(t *testing.T) {
	text, err := Schema("assessment")
	if err != nil {
		t.Fatal(err)
	}
	tree, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	compiler := jsonschema.NewCompiler()
	if err := compiler.AddResource("s.json", tree); err != nil {
		t.Fatal(err)
	}
	schema, err := compiler.Compile("s.json")
	if err != nil {
		t.Fatal(err)
	}
	validate := func(name string, r Assessment) {
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(marshalled(t, r)))
		if err == nil {
			err = schema.Validate(v)
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, _, r := demonstrated(t, demo.Job)
	validate("the demonstration", r)
	_, _, sound := demonstrated(t, demo.SoundJob)
	validate("its sound job", sound)
	a := New(files(), "test").WithBodies(&bodies)
	earlier, err := a.WithEarlier(t.Context(), r, []string{demo.Job, demo.SoundJob}, []string{".", "../sound-job"})
	if err != nil {
		t.Fatal(err)
	}
	validate("with earlier jobs", earlier)
	c := Opened{Body: &body.Body{}, Job: &job.State{}}
	validate("nothing", Assessment{Format: AssessmentFormat, Inputs: c.inputs(), Result: assess.Result{Verdicts: assess.Verdicts{Measure: r.Measure}}})
	v, _ := jsonschema.UnmarshalJSON(strings.NewReader(strings.Replace(string(marshalled(t, r)), `"format"`, `"formt"`, 1)))
	if schema.Validate(v) == nil {
		t.Error("a misspelt member passes")
	}
	used := map[string]bool{}
	everyMember(t, "app.Assessment", tree.(map[string]any), used)
	for of, o := range tree.(map[string]any)["$defs"].(map[string]any) {
		everyMember(t, of, o.(map[string]any), used)
	}
	for k := range described {
		if !used[k] {
			t.Errorf("assessment.tsv describes %s, which there is not", k)
		}
	}
}

// everyMember looks at the members of one object of the schema.
func everyMember(t *testing.T, of string, o map[string]any, used map[string]bool) {
	t.Helper()
	for name, p := range o["properties"].(map[string]any) {
		member := p.(map[string]any)
		text, _ := member["description"].(string)
		used[of+" "+name] = true
		if text == "" {
			t.Errorf("%s %s is not described: give it a line in internal/app/assessment.tsv", of, name)
		}
		if isNumber(member) && !regexp.MustCompile(`\[[^\]]+\]`).MatchString(text) {
			t.Errorf("%s %s: %q has no unit in brackets", of, name, text)
		}
	}
}

func isNumber(p map[string]any) bool {
	for {
		switch {
		case p["anyOf"] != nil:
			p = p["anyOf"].([]any)[0].(map[string]any)
		case p["items"] != nil:
			p = p["items"].(map[string]any)
		default:
			return p["type"] == "number" || p["type"] == "integer"
		}
	}
}

// TestAssessmentIsDocumented: docs/formats/assessment.md names every member of the
// document itself.
func TestAssessmentIsDocumented(t *testing.T) {
	text, err := os.ReadFile("../../docs/formats/assessment.md")
	if err != nil {
		t.Fatal(err)
	}
	s, err := Schema("assessment")
	if err != nil {
		t.Fatal(err)
	}
	var tree struct {
		Properties map[string]any `json:"properties"`
	}
	if err := json.Unmarshal(s, &tree); err != nil {
		t.Fatal(err)
	}
	for name := range tree.Properties {
		if !strings.Contains(string(text), "`"+name+"`") {
			t.Errorf("docs/formats/assessment.md does not name %s", name)
		}
	}
}

// TestInputsNameEveryByte: every file below body, job and shop is among the inputs
// with the hash that another program gives, also evidence without a noted hash.
func TestInputsNameEveryByte(t *testing.T) {
	m := files()
	jobFile := demo.Job + "/job.yaml"
	m[jobFile] = regexp.MustCompile(`, sha256: [0-9a-f]{64}`).ReplaceAll(m[jobFile], nil)
	_, _, r := openAssessed(t, m, demo.Job)
	want := map[string]int{}
	for name := range m {
		switch {
		case strings.HasPrefix(name, demo.SoundJob+"/"), strings.HasPrefix(name, demo.LookedJob+"/"), strings.HasPrefix(name, "rear-"): // other jobs
		default:
			rel, err := filepath.Rel(demo.Job, name)
			if err != nil {
				t.Fatal(err)
			}
			want[filepath.ToSlash(rel)] = len(m[name])
		}
	}
	got := map[string]int{}
	for _, x := range r.Inputs {
		got[x.File] = int(x.Bytes)
		if len(x.SHA256) != 64 {
			t.Errorf("%s has hash %q", x.File, x.SHA256)
		}
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("inputs %v\nwant %v", got, want)
	}
}
