package sched

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"testing"
)

// A schedule that is asked to take no more than the shortest is that one; where it is
// plain that every schedule takes more than what is of use, there is none, and never
// where one takes no more.
func TestMostSeeds(t *testing.T) {
	none, same := 0, 0
	for seed := range uint64(60) {
		p := randomProblem(rand.New(rand.NewPCG(seed, 77)), 6)
		p.Samples, p.Nodes = 10, 500
		s, err := Solve(p)
		if err != nil {
			continue
		}
		p.Most = s.WorkMin
		if again, err := Solve(p); err != nil || !reflect.DeepEqual(again, s) {
			t.Errorf("seed %d: at most %d: %v, %d min", seed, p.Most, err, again.WorkMin)
		} else {
			same++
		}
		if p.Most = s.WorkBound - 1; p.Most > 0 {
			if _, err := Solve(p); err != nil {
				none++
			}
		}
	}
	if none < 15 || same < 40 {
		t.Errorf("the law was hardly tried: %d had none, %d the same", none, same)
	}
}

// Constructed: ten settings of one state of 10 min each take 100 min, however many
// people there are; of 99 min there is no schedule.
func TestManyValuesOfAState(t *testing.T) {
	p := Problem{Calendar: always(), Samples: 10, Nodes: 800, States: []string{"height"}, Workers: []Worker{{ID: "v", Skills: []string{"s"}}, {ID: "w", Skills: []string{"s"}}}}
	for k := range 10 {
		p.Activities = append(p.Activities, Activity{ID: fmt.Sprint("a", k), Minutes: 10, Skill: "s", Sets: []Setting{{Value: fmt.Sprint("at ", k)}}})
	}
	s, err := Solve(p)
	if err != nil || s.WorkMin != 100 || !s.Proven {
		t.Errorf("%d min, proven %v, want 100 proven (%v)", s.WorkMin, s.Proven, err)
	}
	p.Most = 99
	if _, err := Solve(p); err == nil {
		t.Error("a schedule of 99 min was found")
	}
}
