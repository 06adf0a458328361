package account_test

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// roles is what somebody is in their shop as their session says; nothing where they are not let in.
func (w *world) rolesBy(in account.SignedIn) []right.Role {
	w.t.Helper()
	return w.session(in).Who.Roles
}

// TestProviderByInvitation: an unknown subject is refused unless invited; the invitation ties it once, to whom it was for.
func TestProviderByInvitation(t *testing.T) {
	w, p := tied(t)
	bert, link := w.invited("bert")
	p.sub = "subject-2"
	if in, err := w.byProvider(p); diag.KindOf(err) != diag.Denied || in.Session != "" {
		t.Fatalf("not invited: %v", err)
	}
	invited := account.Errand{For: account.ToSignIn, Invitation: link.Text, Then: "/week"}
	one, two := w.sent(p, invited), w.sent(p, invited)
	back := got(w.FinishProvider(t.Context(), one, account.Try{}, elsewhere()))(t)
	if s := w.session(back.SignedIn); s.Person.ID != bert.ID || s.How != account.ByProvider || back.Then != "/week" || back.For != account.ToSignIn {
		t.Errorf("let in as %+v, then %q", s.Person, back.Then)
	}
	p.sub = "subject-3"
	if _, err := w.FinishProvider(t.Context(), two, account.Try{}, elsewhere()); diag.KindOf(err) != diag.Denied {
		t.Errorf("an invitation that was used: %v", err)
	}
	if _, err := w.BeginProvider(t.Context(), invited); diag.KindOf(err) != diag.Denied {
		t.Errorf("set out with an invitation that was used: %v", err)
	}
	p.sub = "subject-2"
	got(w.byProvider(p))(t) // without it from now on
	list := got(w.Identities(t.Context(), w.session(got(w.byProvider(p))(t)).Who))(t)
	if len(list) != 1 || list[0].Issuer != p.server.URL {
		t.Errorf("bert sees %+v", list)
	}
	_, link = w.invited("carl")
	p.sub = "subject-1" // anna's
	if _, err := w.FinishProvider(t.Context(), w.sent(p, account.Errand{For: account.ToSignIn, Invitation: link.Text}), account.Try{}, elsewhere()); diag.KindOf(err) != diag.Conflict {
		t.Errorf("somebody's identity for the invitation of another: %v", err)
	}
	p.sub = "subject-4"
	r := w.sent(p, account.Errand{For: account.ToSignIn, Invitation: link.Text})
	w.clock.pass(time.Minute)
	got(w.FinishProvider(t.Context(), r, account.Try{}, elsewhere()))(t)
}

func (w *world) invited(name string) (account.Person, account.Secret) {
	w.t.Helper()
	p, link, err := w.AddPerson(w.t.Context(), w.bossIn().Who, account.NewPerson{Name: name + " Person", SignIn: name, Roles: []right.Role{right.Technician}})
	if err != nil {
		w.t.Fatal(err)
	}
	return p, link
}

// TestProofAtTheProvider: what asks for a proof is done after one there, of the same person, and of just now; that of the sign-in counts by its own moment.
func TestProofAtTheProvider(t *testing.T) {
	w, p := tied(t)
	ago := func(d time.Duration) {
		p.change = func(c map[string]any) { c["auth_time"] = p.now().Add(-d).Unix() }
	}
	ago(6 * time.Hour)
	in := got(w.byProvider(p))(t)
	prove := func() error {
		_, err := w.FinishProvider(t.Context(), w.sent(p, account.Errand{For: account.ToProve, Session: w.session(in)}), account.Try{}, elsewhere())
		return err
	}
	for name, hostile := range map[string]func(){
		"six hours ago": func() { ago(6 * time.Hour) }, "five minutes ago": func() { ago(5 * time.Minute) }, "in an hour": func() { ago(-time.Hour) },
		"no moment":       func() { p.change = func(c map[string]any) { delete(c, "auth_time") } },
		"somebody else's": func() { p.change = func(c map[string]any) { c["sub"] = "subject-9" } },
	} {
		hostile()
		if err := prove(); diag.KindOf(err) != diag.Denied || w.session(in).Who.Fresh {
			t.Errorf("%s: %v, fresh %v", name, err, w.session(in).Who.Fresh)
		}
	}
	p.change, p.sub = nil, "subject-boss"
	must(t, w.tie(w.bossIn(), p))
	if err := prove(); diag.KindOf(err) != diag.Denied || w.session(in).Who.Fresh {
		t.Errorf("proved by another person of the shop: %v", err)
	}
	p.sub = "subject-1"
	ago(time.Minute)
	must(t, prove())
	if s := w.session(in); !s.Who.Fresh || !s.Proven.Equal(w.clock.now().Add(-time.Minute)) {
		t.Errorf("proved at %v, now is %v", s.Proven, w.clock.now())
	}
	w.clock.pass(4 * time.Minute) // five since
	if w.session(in).Who.Fresh {
		t.Error("fresh by a proof of five minutes ago")
	}
	p.change = func(c map[string]any) { delete(c, "auth_time") }
	if s := w.session(got(w.byProvider(p))(t)); s.Who.Fresh {
		t.Error("fresh, and the provider said nothing of a proof")
	}
	sent := got(w.BeginProvider(t.Context(), account.Errand{For: account.ToProve, Session: w.annaIn()}))(t)
	if q := got(url.Parse(sent.Address))(t).Query(); q.Get("max_age") != "0" || q.Get("prompt") != "login" {
		t.Errorf("a proof is asked for by %v", q)
	}
	program := w.annaIn()
	program.Who.Token = "t"
	for _, e := range []account.Errand{{For: account.ToProve}, {For: account.ToTie}, {For: account.ToProve, Session: program}, {For: "become administrator", Session: w.annaIn()}, {}} {
		if _, err := w.BeginProvider(t.Context(), e); err == nil {
			t.Errorf("sent for %+v", e.For)
		}
	}
}

// TestRolesByGroups: without a table nobody's roles come from the provider; with one those of the table come and go, others stay, and nobody becomes
// or ceases to be an administrator.
func TestRolesByGroups(t *testing.T) {
	without, p := tied(t)
	p.change = func(c map[string]any) {
		c["groups"], c["roles"] = []string{"planners", "administrator"}, []string{"administrator"}
	}
	if rs := without.rolesBy(got(without.byProvider(p))(t)); !slices.Equal(rs, []right.Role{right.Technician, right.Planner}) {
		t.Errorf("without a table: %v", rs)
	}
	w, p := tied(t, func(s *account.Settings) {
		s.Groups = []account.ByGroup{{"planners", "a", right.Planner}, {"chiefs", "a", right.Reviewer}, {"planners", "nowhere", right.Planner}}
	})
	for _, c := range []struct {
		groups any
		want   []right.Role
	}{
		{[]string{"planners"}, []right.Role{right.Technician, right.Planner}}, {[]string{"chiefs", "x"}, []right.Role{right.Technician, right.Reviewer}},
		{"planners", []right.Role{right.Technician, right.Planner}}, {[]string{}, []right.Role{right.Technician}}, {[]string{"Planners", "planners "}, []right.Role{right.Technician}},
		{[]string{"planners", "chiefs"}, []right.Role{right.Technician, right.Planner, right.Reviewer}}, {nil, []right.Role{right.Technician}},
	} {
		before := got(w.byProvider(p))(t)
		changes := !slices.Equal(w.rolesBy(before), c.want)
		p.change = func(m map[string]any) { m["groups"] = c.groups }
		if rs := w.rolesBy(got(w.byProvider(p))(t)); !slices.Equal(rs, c.want) {
			t.Errorf("groups %v: %v, want %v", c.groups, rs, c.want)
		}
		if _, err := w.Session(t.Context(), before.Session); errors.Is(err, account.ErrNobody) != changes {
			t.Errorf("groups %v: the session of before: %v", c.groups, err)
		}
	}
	for _, groups := range []any{7, []any{"planners", 7}, map[string]any{"planners": true}} {
		p.change = func(m map[string]any) { m["groups"] = groups }
		if _, err := w.byProvider(p); diag.KindOf(err) != diag.Denied {
			t.Errorf("groups %v: %v", groups, err)
		}
	}
	// who loses their last role is not let in, and has lost it
	must(t, w.GiveRoles(t.Context(), w.bossIn().Who, w.anna.ID, []right.Role{right.Planner}))
	p.change = nil
	if _, err := w.byProvider(p); diag.KindOf(err) != diag.Denied {
		t.Errorf("of no group any more: %v", err)
	}
	if in, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord, Device: w.annaDevice}, home); err == nil {
		t.Errorf("let in by password as %v", w.rolesBy(in))
	}
	for _, bad := range []account.ByGroup{{"g", "a", right.Administrator}, {"g", "a", right.Reader}, {"g", "a", "king"}, {"", "a", right.Planner}, {"g", "", right.Planner}} {
		if _, err := account.New(account.Settings{Store: account.NewMemory(), Key: make([]byte, 32), Groups: []account.ByGroup{bad}}); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

// TestProviderGoes: whoever has set out is told when it cannot be asked, others sign in here, and those who guess have to wait.
func TestProviderGoes(t *testing.T) {
	w, p := tied(t)
	p.answer = func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusBadGateway) }
	for range 40 { // it is nobody's guess
		_, err := w.FinishProvider(t.Context(), w.sent(p, account.Errand{For: account.ToSignIn}), account.Try{}, home)
		if diag.KindOf(err) != diag.Unavailable || !strings.Contains(err.Error(), "password") {
			t.Fatalf("it fails: %v", err)
		}
	}
	w.annaIn()
	p.answer = func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusBadRequest) }
	var wait *account.Wait
	for range 40 {
		if _, err := w.FinishProvider(t.Context(), w.sent(p, account.Errand{For: account.ToSignIn}), account.Try{}, home); errors.As(err, &wait) {
			break
		}
	}
	if wait == nil {
		t.Error("somebody guesses on and on")
	}
	w.annaIn() // by password, from the same address
}

// TestSignOutThere: who has signed in there is told where to sign out of it, where it says so.
func TestSignOutThere(t *testing.T) {
	w, p := tied(t)
	if at := got(w.SignOutThere(t.Context(), w.annaIn()))(t); at != "" {
		t.Errorf("after a password: %s", at)
	}
	s := w.session(got(w.byProvider(p))(t))
	if at := got(w.SignOutThere(t.Context(), s))(t); at != p.server.URL+"/out?client_id=fettle" {
		t.Errorf("sent to %q", at)
	}
}
