package release

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"fettle/internal/unit"
)

// eachWorse calls f after every single change of a list of records: each left out, and of each
// field that says something, nothing in it or another word; a yes that is a no, a number that is
// one more. The list is the same again afterwards.
func eachWorse(list string, v reflect.Value, f func(at string)) {
	was := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
	reflect.Copy(was, v)
	for i := range v.Len() {
		v.Set(reflect.AppendSlice(was.Slice3(0, i, i), was.Slice(i+1, was.Len())))
		f(fmt.Sprintf("%s[%d] left out", list, i))
		v.Set(was)
		for k := range v.Type().Elem().NumField() {
			x, name := v.Index(i).Field(k), fmt.Sprintf("%s[%d].%s", list, i, v.Type().Elem().Field(k).Name)
			try := func(what string, to any) {
				old := reflect.New(x.Type()).Elem()
				old.Set(x)
				x.Set(reflect.ValueOf(to).Convert(x.Type()))
				f(name + what)
				x.Set(old)
			}
			switch {
			case x.Type() == reflect.TypeFor[unit.Date](): // see TestDaysThatCount
			case x.Kind() == reflect.Bool:
				try(" turned", !x.Bool())
			case x.IsZero():
			case x.Kind() == reflect.String:
				try(" blank", "")
				try(" other", "nobody knows")
			case x.Kind() == reflect.Float64:
				try(" more", x.Float()+1)
			default:
				try(" blank", reflect.Zero(x.Type()).Interface())
			}
		}
	}
}

// harmless is the changes that nothing hangs on at the gate, and why.
var harmless = []struct{ change, because string }{
	{`^(Castings|Findings)\[.*`, "the stages before judge what was seen, and say so in notes and verdicts"},
	{`^Choices\[0\] left out|^Choices\[0\]\.Route`, "that there is a route is asked of ChosenRoute"},
	{`^Setups\[.\]( left out|\.Stage)`, "the stages measure: without a set-up there is no 'after'"},
	{`^Setups\[.\]\.ID`, "a name"},
	{`^Setups\[.\]\.Device other|^(Looks|Figures)\[0\]\.Device other|^Records\[.\]\.Device other`, "any device will do that is in calibration"},
	{`^Accepted\[.\]\.Reason other|^Accepted\[1\]\.Reason blank`, "any words are a reason, and the procedure's own treatment needs none"},
	{`^Answers\[0\]\.Conditions blank`, "an answer without conditions asks for less"},
	{`^Deliveries\[`, "what came that is not known to be spoilt asks for nothing"},
	{`^Evidence\[1\](\.(ID|File)| left out)|^Evidence\[0\]\.File|^Evidence\[.\]\.SHA256 other`, "app holds files against their hashes; nothing rests on the second"},
	{`^Figures\[0\]\.Finding blank`, "no other step has the name"},
	{`^Hazards\[0\] left out|^Hazards\[0\]\.(Text|Kind)`, "no such danger on record, or one that no task of the body is about"},
	{`^Records\[.\]\.(ID other|Apart turned)`, "a name; said of indications, of which there are none"},
	{`^Records\[[01456]\]\.Met turned|^Records\[[2-9]\]\.None turned`, "words of another sort of record"},
	{`^Records\[[56]\]\.Batch other`, "any batch will do that did not come spoilt"},
}

// TestEveryWorseRecordClosesTheGate: everything on record of a repair that is in order is needed
// as it is: with any of it left out, signed by somebody else, about something else or the other
// way round something is missing. The few changes that do no harm are named with the reason, and
// do none.
func TestEveryWorseRecordClosesTheGate(t *testing.T) {
	w, in := orderly()
	state := reflect.ValueOf(w.in.Job).Elem()
	tried := 0
	for k := range state.NumField() {
		x := state.Field(k)
		if !x.CanSet() || x.Kind() != reflect.Slice || x.Type().Elem().Kind() != reflect.Struct {
			continue
		}
		eachWorse(state.Type().Field(k).Name, x, func(at string) {
			tried++
			free := slices.ContainsFunc(harmless, func(h struct{ change, because string }) bool { return regexp.MustCompile(h.change).MatchString(at) })
			if got := missingTexts(w, in); (got == "") != free && !(free && strings.HasPrefix(at, "Findings[")) {
				t.Errorf("%s: missing %q", at, got)
			}
		})
	}
	if tried < 300 {
		t.Errorf("%d changes tried", tried)
	}
}
