package right

import (
	"errors"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// required is who may do what at all, by what was asked for: the letters of the roles that may without more (T P R A X),
// and behind a stroke those that may under a condition or within a limit. Acts that stand in no line of it
// (marked own) were cut out of a wider one or belong to the program itself.
const required = `
see jobs                      TPR/A
see a job                     R/TPX
begin a job                   TP
describe the vehicle          TP
record readings               TP
add evidence                  TP
enter findings                T/P
withdraw a finding            /TR
choose                        P/T
ask the manufacturer          TPR
file an answer                TPR
plan                          P
use rates                     PA
set rates                     A
compare with total loss       P
set the limit of total loss   R
send to review                P/T
approve                       /R
send back                     /R
record work                   TP
record an inspection          T
release                       /R
open a revision               PR
make a link                   /PR
revoke a link                 RA/P
read a report                 TPR/X
download a job                PR/X
see what is internal          PR/T
read the history              R/TPAX
delete a draft                /TP
delete what is approved
agree to an erasure           R
carry out an erasure          /A
load a body or procedure      PA
put a procedure into force    /R
read the security log         A
verify the log                TPRAX
manage people                 /A
give roles                    /A
make a token                  /TPRA
change settings               /A
back up                       A
restore                       /A
act as another person
`

// TestMatrixIsWhatWasAskedFor holds the file against the requirement (planners may be limited to assigned jobs too).
func TestMatrixIsWhatWasAskedFor(t *testing.T) {
	n := 0
	for _, line := range strings.Split(strings.TrimSpace(required), "\n") {
		name, who, _ := strings.Cut(line, "  ")
		r, there := Shipped().rows[Act(strings.TrimSpace(name))]
		if !there {
			t.Errorf("there is no act %q", name)
			continue
		}
		free, bound := "", ""
		for i, role := range Roles() {
			switch c := r.cells[role]; {
			case c.granted && len(c.conditions)+len(c.limits) == 0:
				free += "TPRAX"[i : i+1]
			case c.granted:
				bound += "TPRAX"[i : i+1]
			}
		}
		if got := strings.TrimSuffix(free+"/"+bound, "/"); got != strings.TrimSpace(who) {
			t.Errorf("%s: %s, want %s", name, got, strings.TrimSpace(who))
		}
		n++
	}
	if n < 43 {
		t.Errorf("only %d lines were held against it", n)
	}
}

// drawn is somebody and something, by chance; two persons, two shops, so that things often agree.
func drawn(r *rand.Rand) (Who, On) {
	one := func(of ...string) string { return of[r.IntN(len(of))] }
	yes := func() bool { return r.IntN(2) == 0 }
	some := func() (out []string) {
		for range r.IntN(3) {
			out = append(out, one("p1", "p2", "p3"))
		}
		return out
	}
	w := Who{Person: one("p1", "p2"), Shop: one("a", "b"), Fresh: yes(), Console: yes(), Reads: r.IntN(8) == 0}
	for _, role := range Roles()[:4] {
		if yes() {
			w.Roles = append(w.Roles, role)
		}
	}
	switch r.IntN(5) {
	case 0:
		w.Token = "t"
	case 1:
		w.Person, w.Roles, w.Link = "", []Role{Reader}, Link{ID: "l", Job: one("j1", "j2"), To: int64(1 + r.IntN(2)), Files: yes()}
	}
	return w, On{Shop: one("a", "b", ""), Job: one("j1", "j2", ""), To: int64(r.IntN(3)), Stage: slices.Concat(Stages(), []Stage{""})[r.IntN(8)], Everybody: yes(),
		Assigned: some(), Author: one("p1", "p2", ""), Authors: some(), Requester: one("p1", "p2", ""), Inspectors: some(), Agreed: one("p1", "p2", ""),
		Person: one("p1", "p2", ""), Alone: r.IntN(4) == 0, Only: r.IntN(4) == 0, Stays: yes()}
}

// TestNothingIsPermittedByLess tries to be let do more by taking something away: a fact that is known, a role, a proof; by
// being a program; by asking about another shop.
func TestNothingIsPermittedByLess(t *testing.T) {
	r, m, allowed := rand.New(rand.NewPCG(20, 1)), Shipped(), 0
	for range 20000 {
		w, on := drawn(r)
		a := acts[r.IntN(len(acts))]
		v := m.May(w, a, on)
		if v.Answer == Allowed {
			allowed++
			if job := m.rows[a].about; job != aboutGroup && job != aboutSelf && on.Shop != w.Shop {
				t.Fatalf("%s in another shop: %+v %+v", a, w, on)
			}
			continue
		}
		v2 := reflect.ValueOf(&on).Elem()
		i := r.IntN(v2.NumField())
		v2.Field(i).SetZero()
		if got := m.May(w, a, on); got.Answer == Allowed {
			t.Fatalf("%s is allowed once %s is not known: %+v %+v", a, v2.Type().Field(i).Name, w, on)
		}
		less := w
		if len(w.Roles) > 0 {
			less.Roles = slices.Delete(slices.Clone(w.Roles), 0, 1)
		}
		program := w
		program.Token, program.Reads = "t", true
		stale := w
		stale.Fresh, stale.Console = false, false
		nobody := w
		nobody.Person, nobody.Link = "", Link{}
		for _, x := range []Who{less, program, stale, nobody} {
			if got := m.May(x, a, on); got.Answer == Allowed {
				t.Fatalf("%s is allowed with less: %+v, not %+v; %+v", a, x, w, on)
			}
		}
	}
	if allowed < 1000 {
		t.Errorf("only %d were allowed; the draws do not try", allowed)
	}
}

// TestMayNot is what nobody may by any mix of roles, stages and proofs.
func TestMayNot(t *testing.T) {
	r, m := rand.New(rand.NewPCG(20, 2)), Shipped()
	tried := map[string]int{}
	for range 60000 {
		w, on := drawn(r)
		a := acts[r.IntN(len(acts))]
		v := m.May(w, a, on)
		only := func(role Role) bool { return len(w.Roles) == 1 && w.Roles[0] == role }
		for what, is := range map[string]bool{
			"an author approves":                     a == Approve && slices.Contains(on.Authors, w.Person) && !on.Alone,
			"nobody knows who the authors are":       a == Approve && len(on.Authors) == 0,
			"who inspected releases":                 a == Release && slices.Contains(on.Inspectors, w.Person) && !on.Alone,
			"an administrator alone reads a job":     a == SeeJob && only(Administrator),
			"an administrator alone reads a report":  a == ReadReport && only(Administrator),
			"a sensitive act without a proof":        slices.Contains([]Act{Approve, Release, MakeLink, GiveRoles, Restore}, a) && !w.Fresh,
			"a program does a sensitive act":         slices.Contains([]Act{Approve, Release, MakeLink, GiveRoles, MakeToken, ChangeSignIn}, a) && w.Token != "",
			"a program that only reads changes":      w.Reads && m.Changes(a),
			"a reader changes something":             w.Link.ID != "" && m.Changes(a),
			"a reader sees another job":              w.Link.ID != "" && a == SeeJob && on.Job != w.Link.Job,
			"a reader sees a later event":            w.Link.ID != "" && a == SeeJob && on.To != w.Link.To,
			"somebody acts as another":               a == ActAsAnotherPerson || a == DeleteApproved,
			"the last administrator goes":            a == GiveRoles && !on.Stays,
			"somebody makes another's token":         a == MakeToken && on.Person != w.Person,
			"one person erases":                      a == CarryOutErasure && (on.Agreed == w.Person || on.Agreed == ""),
			"a job that is not assigned is seen":     a == SeeJob && (only(Technician) || only(Planner)) && !on.Everybody && !slices.Contains(on.Assigned, w.Person),
			"a job of another shop is known to be":   on.Shop != w.Shop && m.rows[a].about == aboutJob && v.Answer == Refused,
			"without roles":                          len(w.Roles) == 0,
			"an act that is there no more":           false,
			"a restore that is not at the console":   a == Restore && !w.Console,
			"somebody sees jobs of a shop not known": a == SeeJobs && on.Shop == "",
		} {
			if !is {
				continue
			}
			if tried[what]++; v.Answer == Allowed || what == "a job of another shop is known to be" {
				t.Fatalf("%s: %s %+v %+v", what, a, w, on)
			}
		}
	}
	for _, what := range []string{"an author approves", "who inspected releases", "a reader sees a later event", "one person erases", "the last administrator goes"} {
		if tried[what] < 5 {
			t.Errorf("%q was tried %d times only", what, tried[what])
		}
	}
}

// TestMay is single answers, among them those that are allowed.
func TestMay(t *testing.T) {
	on := On{Shop: "a", Job: "j", Everybody: true}
	who := func(roles ...Role) Who { return Who{Person: "p1", Shop: "a", Roles: roles, Fresh: true} }
	with := func(change func(*On)) On { o := on; change(&o); return o }
	reader := Who{Shop: "a", Roles: []Role{Reader}, Link: Link{ID: "l", Job: "j", To: 7}}
	for _, c := range []struct {
		who  Who
		act  Act
		on   On
		want Answer
		code Code
		role Role
	}{
		{who(Technician), EnterFindings, on, Allowed, "", Technician},
		{who(Planner, Technician), EnterFindings, on, Allowed, "", Technician}, // the one without a limit
		{who(Planner), EnterFindings, on, Allowed, "", Planner},
		{who(Reviewer), EnterFindings, on, Refused, CodeRole, Reviewer},
		{who(Reviewer), Approve, with(func(o *On) { o.Authors = []string{"p2"} }), Allowed, "", Reviewer},
		{who(Reviewer), Approve, with(func(o *On) { o.Authors = []string{"p1", "p2"} }), Refused, "right.not-the-author", Reviewer},
		{who(Reviewer), Approve, with(func(o *On) { o.Authors, o.Alone = []string{"p1"}, true }), Allowed, "", Reviewer},
		{who(Administrator), SeeJobs, on, Allowed, "", Administrator},
		{who(Administrator), SeeJob, on, Refused, CodeRole, Administrator}, // they know that it is there
		{who(Technician), SeeJob, with(func(o *On) { o.Everybody = false }), Hidden, CodeHidden, ""},
		{who(Technician), SeeJob, with(func(o *On) { o.Shop = "b" }), Hidden, CodeHidden, ""},
		{who(Technician), "fly", on, Refused, CodeRole, ""},
		{who("owner"), SeeJobs, on, Refused, CodeRole, ""},
		{reader, ReadReport, with(func(o *On) { o.To = 7 }), Allowed, "", Reader},
		{reader, ReadReport, with(func(o *On) { o.To = 8 }), Hidden, CodeHidden, ""},
		{reader, DownloadJob, with(func(o *On) { o.To = 7 }), Refused, "right.link-gives-files", Reader},
		{reader, VerifyLog, On{}, Allowed, "", Reader},
		{who(Administrator), GiveRoles, On{Shop: "a", Person: "p2", Stays: true}, Allowed, "", Administrator},
		{who(Administrator), GiveRoles, On{Shop: "a", Person: "p1", Stays: true}, Refused, "right.not-the-own-role", Administrator},
		{who(Administrator), GiveRoles, On{Shop: "a", Person: "p1", Stays: true, Only: true}, Allowed, "", Administrator},
		{Who{}, VerifyLog, On{}, Refused, CodeRole, ""},
	} {
		v := Shipped().May(c.who, c.act, c.on)
		if v.Answer != c.want || v.Code() != c.code || v.Role != c.role {
			t.Errorf("%s by %v on %+v: %v %q as %q, want %v %q as %q", c.act, c.who.Roles, c.on, v.Answer, v.Code(), v.Role, c.want, c.code, c.role)
		}
		err, absent := error(nil), errors.New("absent")
		if err = v.Err(c.act, "it", absent); (err == nil) != (c.want == Allowed) || errors.Is(err, absent) != (c.want == Hidden) || c.want == Refused && diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: error %v for %v", c.act, err, c.want)
		}
	}
	both := Shipped().May(Who{Person: "p1", Shop: "a", Roles: []Role{Reviewer}}, Approve, on).Err(Approve, "it", nil)
	if both == nil || !strings.Contains(both.Error(), lacking[IfNotAuthor]) || !strings.Contains(both.Error(), lacking[IfFresh]) {
		t.Errorf("not all that is lacking is told: %v", both)
	}
	if v := (Matrix{}).May(who(Roles()...), SeeJobs, on); v.Answer != Refused || (Verdict{}).Answer != Refused {
		t.Error("an empty matrix permits something")
	}
}

// TestBrokenMatricesAreRefused: each of these would be a hole.
func TestBrokenMatricesAreRefused(t *testing.T) {
	if _, err := Read(file); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"empty":                     "",
		"no head":                   file[strings.Index(file, "\n")+1:],
		"columns exchanged":         strings.Replace(file, "reviewer,administrator", "administrator,reviewer", 1),
		"unknown role":              strings.Replace(file, "reader\n", "guest\n", 1),
		"unknown act":               file + "fly,group,yes,yes,yes,yes,yes,yes\n",
		"act twice":                 file + "see jobs,shop,no,yes,yes,yes,yes,yes\n",
		"row missing":               strings.Replace(file, "back up,group,yes,no,no,no,yes,no\n", "", 1),
		"unknown condition":         strings.Replace(file, "not the author + fresh", "not the author + fresh + monday", 1),
		"condition misspelt":        strings.Replace(file, "not the author + fresh", "not an author", 1),
		"cell empty":                strings.Replace(file, "begin a job,shop,yes,yes", "begin a job,shop,yes,", 1),
		"cell with a blank":         strings.Replace(file, "begin a job,shop,yes,yes", "begin a job,shop,yes, yes", 1),
		"cell YES":                  strings.Replace(file, "begin a job,shop,yes,yes", "begin a job,shop,yes,YES", 1),
		"about nothing":             strings.Replace(file, "begin a job,shop", "begin a job,everything", 1),
		"changes perhaps":           strings.Replace(file, "begin a job,shop,yes", "begin a job,shop,perhaps", 1),
		"a cell too many":           strings.Replace(file, "begin a job,shop,yes", "begin a job,shop,yes,yes", 1),
		"a cell too few":            strings.Replace(file, "begin a job,shop,yes,", "begin a job,shop,", 1),
		"yes with a condition":      strings.Replace(file, "not the author + fresh", "yes + fresh", 1),
		"two conditions run on":     strings.Replace(file, "not the author + fresh", "not the author+fresh", 1),
		"act with another spelling": strings.Replace(file, "see a job", "See a job", 1),
	} {
		if _, err := Read(text); diag.KindOf(err) != diag.Invalid || text == file {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestEveryWordHasAMeaning: every condition is evaluated, has a sentence and a code of its own; every limit and condition is used.
func TestEveryWordHasAMeaning(t *testing.T) {
	for _, c := range Conditions() {
		if conditions[c] == nil || lacking[c] == "" || !strings.Contains(file, string(c)) {
			t.Errorf("condition %q has no meaning, no sentence or no use", c)
		}
	}
	for _, l := range Limits() {
		if !strings.Contains(file, string(l)) {
			t.Errorf("limit %q has no use", l)
		}
	}
	if n := len(Codes()); n != len(Conditions())+2 || len(conditions) != len(Conditions()) {
		t.Errorf("%d codes of refusals for %d conditions", n, len(Conditions()))
	}
}
