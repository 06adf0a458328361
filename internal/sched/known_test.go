package sched

import (
	"fettle/internal/halt"
	"fmt"
	"math/rand/v2"
	"reflect"
	"sync"
	"testing"
)

// A problem that differs in anything is another problem, and the same one is the same:
// every field of everything in it is changed in turn.
func TestKnownTellsProblemsApart(t *testing.T) {
	full := func() Problem {
		var p Problem
		fill(reflect.ValueOf(&p).Elem(), new(int64))
		return p
	}
	if a, b := full(), full(); hashOf(a) != hashOf(b) {
		t.Fatal("the same problem has two hashes")
	}
	seen := map[[32]byte]string{}
	changed := full()
	seen[hashOf(changed)] = "nothing"
	n := eachLeaf(t, reflect.ValueOf(&changed).Elem(), "Problem", func(where string) {
		h := hashOf(changed)
		if was, twice := seen[h]; twice {
			t.Errorf("changed in %s it has the hash of that changed in %s", where, was)
		}
		seen[h] = where
	})
	if n < 60 {
		t.Errorf("%d fields were changed", n)
	}
}

// theWork is the one field that is no part of the problem.
var theWork = reflect.TypeFor[*halt.Work]()

// fill gives every field a value of its own.
func fill(v reflect.Value, next *int64) {
	*next++
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).Type != theWork {
				fill(v.Field(i), next)
			}
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fallthrough
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), next)
		}
	case reflect.String:
		v.SetString(fmt.Sprint(*next))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Uint64, reflect.Uint8:
		v.SetUint(uint64(*next) % 200)
	default:
		v.SetInt(*next)
	}
}

// eachLeaf changes every number, text and truth in turn, calls do, and changes it back; and
// takes the last element off every list. It gives how many there are.
func eachLeaf(t *testing.T, v reflect.Value, where string, do func(string)) int {
	n := 0
	with := func(to reflect.Value) {
		old := reflect.New(v.Type()).Elem()
		old.Set(v)
		v.Set(to.Convert(v.Type()))
		do(where)
		v.Set(old)
		n++
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if f.Type == theWork {
				continue
			}
			if !f.IsExported() {
				t.Fatalf("%s.%s is not exported: the hash does not see it", where, f.Name)
			}
			n += eachLeaf(t, v.Field(i), where+"."+f.Name, do)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			n += eachLeaf(t, v.Index(i), fmt.Sprintf("%s[%d]", where, i), do)
		}
		if v.Kind() == reflect.Slice {
			with(v.Slice(0, v.Len()-1))
		}
	case reflect.String:
		with(reflect.ValueOf(v.String() + "x"))
	case reflect.Bool:
		with(reflect.ValueOf(!v.Bool()))
	case reflect.Uint64, reflect.Uint8:
		with(reflect.ValueOf(v.Uint() + 1))
	case reflect.Int, reflect.Int64:
		with(reflect.ValueOf(v.Int() + 1000))
	default:
		t.Fatalf("%s is a %s: say how it is changed", where, v.Kind())
	}
	return n
}

// What is known is what is found anew, also after somebody changed what he was given, when
// many ask at once, and when more was asked than is kept.
func TestKnownSolutionsAreTheSame(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var probs []Problem
	for range 6 {
		p := Problem{Calendar: Calendar{Week: [7][]Window{{{480, 960}}, {{480, 960}}, {{480, 960}}, {{480, 960}}, {{480, 960}}}}, Workers: []Worker{{ID: "w", Skills: []string{"s"}}}, Seed: 1, Samples: 3, Nodes: 50}
		for i := range 5 {
			p.Activities = append(p.Activities, Activity{ID: fmt.Sprint(i), Minutes: 30 + rng.IntN(200), Skill: "s"})
		}
		probs = append(probs, p)
	}
	var k Known
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for _, p := range probs {
				want, _ := Solve(p)
				got, err := k.Solve(p)
				if err != nil || !reflect.DeepEqual(got, want) {
					t.Errorf("%v and error %v, anew %v", got, err, want)
				}
				got.Slots[0].From = -7
			}
		})
	}
	all.Wait()
	if len(k.kept) != len(probs) {
		t.Errorf("%d are kept of %d", len(k.kept), len(probs))
	}
	for i := range mostKnown + 3 {
		p := Problem{Calendar: probs[0].Calendar, Start: i}
		if _, err := k.Solve(p); err != nil {
			t.Fatal(err)
		}
	}
	if len(k.kept) != mostKnown {
		t.Errorf("%d are kept, the most is %d", len(k.kept), mostKnown)
	}
	if got, err := k.Solve(Problem{Workers: []Worker{{}}, Activities: []Activity{{Minutes: 1, Skill: "none"}}}); err == nil {
		t.Errorf("what nobody can do is solved: %v", got)
	}
}
