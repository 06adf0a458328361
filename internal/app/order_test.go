package app

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/job"
)

// unordered are the lists in whose order nothing is said.
var unordered = []string{"hazards", "setups", "evidence", "inspections", "findings", "areas", "castings", "questions", "answers", "told", "accepted", "records"}

// mixed is a job with those lists, and the readings of its set-ups, in a drawn order.
func mixed(r *rand.Rand, j job.State) job.State {
	v := reflect.ValueOf(&j).Elem()
	for i := range v.NumField() {
		f := v.Field(i)
		if !slices.Contains(unordered, v.Type().Field(i).Tag.Get("doc")) || f.Len() < 2 {
			continue
		}
		out := reflect.MakeSlice(f.Type(), 0, f.Len())
		for _, k := range r.Perm(f.Len()) {
			out = reflect.Append(out, f.Index(k))
		}
		f.Set(out)
	}
	rows := slices.Clone(j.Readings)
	at := map[string][]job.Reading{}
	for _, x := range rows {
		at[x.Setup] = append(at[x.Setup], x)
	}
	r.Shuffle(len(rows), func(i, k int) { rows[i], rows[k] = rows[k], rows[i] })
	for i, x := range rows { // those of a set-up stay in their order
		rows[i], at[x.Setup] = at[x.Setup][0], at[x.Setup][1:]
	}
	j.Readings = rows
	return j
}

// inAnyOrder is a value as text in which the order of lists says nothing.
func inAnyOrder(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	var tree any
	if err := json.Unmarshal(b, &tree); err != nil {
		panic(err)
	}
	var text func(v any) string
	text = func(v any) string {
		switch v := v.(type) {
		case map[string]any:
			var out []string
			for k, x := range v {
				out = append(out, k+"="+text(x))
			}
			slices.Sort(out)
			return "{" + strings.Join(out, "\n") + "}"
		case []any:
			var out []string
			for _, x := range v {
				out = append(out, text(x))
			}
			slices.Sort(out)
			return "[" + strings.Join(out, "\n") + "]"
		}
		return fmt.Sprint(v)
	}
	return text(tree)
}

// TestAnswersDoNotHangOnOrder: jobs of one hash have one answer. What was measured, where the
// findings lie, what may be done, the questions and the routes with their days and sums are the
// same in whatever order the records of a list stand that says nothing by it.
func TestAnswersDoNotHangOnOrder(t *testing.T) {
	jobs, draws := []string{demo.LookedJob, demo.Job}, uint64(20)
	if os.Getenv("FETTLE_CAMPAIGN") == "" {
		jobs, draws = jobs[:1], 1
	}
	for _, dir := range jobs {
		a, c, want := demonstrated(t, dir)
		for seed := range draws {
			other := *c
			j := mixed(rand.New(rand.NewPCG(seed, 7)), *c.Job)
			if other.Job = &j; j.Validate() != nil {
				t.Fatal(j.Validate())
			}
			if h, err := j.Hash(); err != nil || h != c.JobHash {
				t.Fatalf("%s, seed %d: another job: %v", dir, seed, err)
			}
			got := assessedOf(t, a, &other, want.Made)
			for part, v := range map[string][2]any{
				"measured": {want.Measure, got.Measure}, "found": {want.Inspect, got.Inspect}, "decided": {want.Decide, got.Decide},
				"routes": {want.Compare, got.Compare}, "notes": {want.Notes, got.Notes}, "blocked": {want.Blocked, got.Blocked},
			} {
				if w, g := inAnyOrder(v[0]), inAnyOrder(v[1]); w != g {
					t.Errorf("%s, seed %d: what is %s is another: %s", dir, seed, part, firstUnlike(w, g))
				}
			}
		}
	}
}

func firstUnlike(a, b string) string {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("...%q... against ...%q...", a[max(0, i-200):min(len(a), i+100)], b[max(0, i-200):min(len(b), i+100)])
		}
	}
	return "one is longer"
}
