package app

import (
	"fmt"
	"strings"
	"testing"

	"fettle/internal/job"
	"fettle/internal/unit"
)

// Check names records of work, figures and hold points that do not stand, each by its own
// field (constructed).
func TestCheckNamesUnsoundRecords(t *testing.T) {
	a, c, _ := demonstrated(t, "sound-job")
	finished := func() *Opened {
		x, j := *c, *c.Job
		j.Findings, j.Actuals, j.Figures, j.Records = nil, nil, nil, nil
		x.Job = &j
		return &x
	}
	day := func(d int) unit.Date { return unit.Date{Year: 2026, Month: 12, Day: d} }
	for name, k := range map[string]struct {
		put  func(*job.State)
		want string
	}{
		"work of no step": {func(j *job.State) { j.Actuals = []job.Actual{{Step: "Paint", By: "T1", On: day(1)}} }, "actuals[0].step"},
		"work of nobody": {func(j *job.State) {
			j.Actuals = []job.Actual{{Step: "Tow", By: "T9", On: day(1), Unplanned: "x", Skill: "body"}}
		}, "actuals[0].by"},
		"work of tomorrow": {func(j *job.State) {
			j.Actuals = []job.Actual{{Step: "Tow", By: "T1", On: day(11), Unplanned: "x", Skill: "body"}}
		}, "actuals[0].on"},
		"unplanned work": {func(j *job.State) {
			j.Actuals = []job.Actual{{Step: "Tow", By: "T1", On: day(1), Unplanned: "x", Skill: "body"}}
		}, ""},
		"figure of no step": {func(j *job.State) { j.Figures = []job.Figure{{Step: "Paint", Reading: "x", By: "T1", On: day(1)}} }, "figures[0].step"},
		"figure of nobody":  {func(j *job.State) { j.Figures = []job.Figure{{Step: "Paint", Reading: "x", By: "T9", On: day(1)}} }, "figures[0].by figures[0].step"},
		"hold point of tomorrow": {func(j *job.State) {
			j.Records = []job.Record{{ID: "R-1", Show: "hold", Step: "Paint", By: "T1", On: day(11)}}
		}, "records[0].on records[0].step"},
		"proof of tomorrow": {func(j *job.State) {
			j.Records = []job.Record{{ID: "R-1", Show: "torque", Joint: "J-LAMP-L", By: "T1", On: day(11)}}
		}, "records[0].on"},
	} {
		x := finished()
		k.put(x.Job)
		var got []string
		for _, p := range a.unsoundWork(nil, x, day(10)) {
			got = append(got, p.Field)
			if p.Msg == "" {
				t.Errorf("%s: nothing is said of %s", name, p.Field)
			}
		}
		if fmt.Sprint(strings.Join(got, " ")) != k.want {
			t.Errorf("%s: %q, want %q", name, got, k.want)
		}
	}
}
