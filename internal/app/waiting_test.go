package app

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"fettle/internal/job"
	"fettle/internal/release"
)

// lists are the lists of a job whose entries show something, each of which may get lost.
var listsThatShow = []string{"Setups", "Findings", "Looks", "Areas", "Castings", "Checks", "Answers", "Accepted", "Choices", "Reviews", "Actuals", "Figures", "Records"}

// without is a job without some entries of its lists, and how many of them were there.
func without(j *job.State, draw *rand.Rand, n int) (*job.State, []string) {
	s := cloneJob(j)
	var gone []string
	for range n {
		name := listsThatShow[draw.IntN(len(listsThatShow))]
		list := reflect.ValueOf(&s).Elem().FieldByName(name)
		if list.Len() == 0 {
			continue
		}
		at := draw.IntN(list.Len())
		list.Set(reflect.AppendSlice(reflect.AppendSlice(reflect.MakeSlice(list.Type(), 0, list.Len()), list.Slice(0, at)), list.Slice(at+1, list.Len())))
		gone = append(gone, fmt.Sprint(name, " ", at))
	}
	return &s, gone
}

// TestNothingIsNeverWaitedFor tries to make a job say that nothing but handing back is left: entries of the one of which nothing is missing are
// taken out by chance. It waits for the hand-back only while the gate, which is tried by itself, has nothing missing, always says
// for what and on whom, and waits for an answer of the manufacturer only after a question was sent that has none.
func TestNothingIsNeverWaitedFor(t *testing.T) {
	a, c, r := releasable(t)
	if got := a.NextAct(c, r); got != (release.Act{For: release.ActHandBack, On: release.OnShop}) {
		t.Fatalf("of the whole job: %+v", got)
	}
	draw := rand.New(rand.NewPCG(19, 13))
	seen := map[release.ActKind]int{}
	for range 60 {
		fresh := *c
		var gone []string
		fresh.Job, gone = without(c.Job, draw, 1+draw.IntN(3))
		now := a.assess(nil, &fresh, r.Made)
		act, missing := a.NextAct(&fresh, now), a.Release(&fresh, now).Missing
		seen[act.For]++
		switch {
		case (act.For == release.ActHandBack) != (len(missing) == 0):
			t.Errorf("without %v it waits for %+v, and %d are missing", gone, act, len(missing))
		case !slices.Contains(release.ActKinds(), act.For) || act.On == "":
			t.Errorf("without %v nobody can tell: %+v", gone, act)
		case act.For == release.ActAnswer && !slices.ContainsFunc(fresh.Job.Questions, func(q job.Asked) bool { return q.ID == act.About }):
			t.Errorf("without %v it waits for the answer to %s, which was never sent", gone, act.About)
		case act.For == release.ActReview && (len(fresh.Job.Accepted) < len(c.Job.Accepted)):
			t.Errorf("without %v it waits for a review of what is not accepted", gone)
		}
	}
	t.Log(seen)
	if len(seen) < 6 {
		t.Errorf("only these were met: %v", seen)
	}
}

// TestNextActOfEachLoss: what was taken out is what is waited for. By hand, from the rule of the gate (package release).
func TestNextActOfEachLoss(t *testing.T) {
	a, c, r := releasable(t)
	for name, x := range map[string]struct {
		lose func(*job.State)
		want release.ActKind
	}{
		"hazards": {func(s *job.State) {
			s.Hazards = append(s.Hazards, job.Hazard{Kind: "high-voltage", Text: "Cable bare"})
		}, release.ActSafe},
		"checks":     {func(s *job.State) { s.Checks = nil }, release.ActLookup},
		"choice":     {func(s *job.State) { s.Choices = nil }, release.ActChoice},
		"acceptance": {func(s *job.State) { s.Accepted = s.Accepted[1:] }, release.ActAcceptance},
		"review":     {func(s *job.State) { s.Reviews = nil }, release.ActReview},
		"work":       {func(s *job.State) { s.Actuals = nil }, release.ActWork},
		"hold": {func(s *job.State) {
			s.Records = slices.DeleteFunc(s.Records, func(x job.Record) bool { return x.Show == "hold" })
		}, release.ActHold},
	} {
		fresh, s := *c, cloneJob(c.Job)
		x.lose(&s)
		fresh.Job = &s
		if got := a.NextAct(&fresh, a.assess(nil, &fresh, r.Made)); got.For != x.want {
			t.Errorf("without %s it waits for %+v, want %s", name, got, x.want)
		}
	}
}
