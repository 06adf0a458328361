package entry

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
)

// added is somebody of the shop, by the routes alone: Ada adds them, they set a password by the link and sign in.
func (b *browser) added(name string, roles ...right.Role) (id string, in *browser) {
	b.Helper()
	var link secretShown
	if got := b.ask("POST", "/people", map[string]any{"name": "Somebody", "sign_in": name, "roles": roles}, &link); got != 201 || link.Secret == "" {
		b.Fatalf("%s is not added: %d", name, got)
	}
	in = b.browser(b.base, b.from)
	if got := in.ask("POST", "/password", map[string]any{"secret": link.Secret, "password": otherOne}, nil); got != 204 {
		b.Fatalf("%s sets no password: %d", name, got)
	}
	if got := in.ask("POST", "/session", map[string]any{"name": name, "password": otherOne}, nil); got != 200 {
		b.Fatalf("%s does not sign in: %d", name, got)
	}
	return link.ID, in
}

// An administrator has people in by the routes, says what they are and lets them go; a program of one of them acts for them until then. No secret is told twice.
func TestPeopleByTheRoutes(t *testing.T) {
	w, ada := begun(t)
	id, in := ada.added("tim", right.Technician)
	var token secretShown
	if got := in.ask("POST", "/tokens", map[string]any{"name": "arm", "days": 7}, &token); got != 201 || !strings.HasPrefix(token.Secret, "fettle_") {
		t.Fatalf("no token: %d %+v", got, token)
	}
	known := func(what string, roles ...right.Role) {
		t.Helper()
		s, err := w.in.Token(t.Context(), token.Secret)
		if (err == nil) != (len(roles) > 0) || len(roles) > 0 && s.Who.Roles[0] != roles[0] {
			t.Errorf("%s: %v %+v", what, err, s.Who)
		}
	}
	known("made", right.Technician)
	var all struct{ People []personShown }
	if got := ada.ask("GET", "/people", nil, &all); got != 200 || len(all.People) != 2 {
		t.Errorf("people: %d %+v", got, all)
	}
	for _, p := range all.People {
		if p.SignIn == "" || p.Person == id && (p.Roles[0] != right.Technician || p.State != account.Active) {
			t.Errorf("%+v", p)
		}
	}
	all.People = nil
	if got := in.ask("GET", "/people", nil, &all); got != 200 || len(all.People) != 2 || all.People[0].SignIn+all.People[1].SignIn != "" {
		t.Errorf("what others sign in with is told to a technician: %d %+v", got, all)
	}
	var tokens struct{ Tokens []tokenShown }
	if got := in.ask("GET", "/tokens", nil, &tokens); got != 200 || len(tokens.Tokens) != 1 || tokens.Tokens[0].Token != token.ID {
		t.Errorf("tokens: %d %+v", got, tokens)
	}
	for _, c := range []struct {
		what, method, path string
		body               any
		want               int
	}{
		{"the same name to sign in with", "POST", "/people", map[string]any{"name": "Else", "sign_in": "TIM", "roles": []right.Role{right.Planner}}, 409},
		{"a role that is none", "PUT", "/people/" + id + "/roles", map[string]any{"roles": []string{"owner"}}, 422},
		{"a technician is disabled", "PUT", "/people/" + id + "/state", map[string]any{"active": false}, 204},
		{"nothing is said", "PUT", "/people/" + id + "/state", map[string]any{}, 422},
		{"nobody", "PUT", "/people/x/state", map[string]any{"active": true}, 404},
		{"a list of others", "GET", "/tokens?of=all", nil, 422},
		{"a token without an end", "POST", "/tokens", map[string]any{"name": "long"}, 422},
		{"a token for too long", "POST", "/tokens", map[string]any{"name": "long", "days": 366}, 422},
		{"a token whose days go round", "POST", "/tokens", map[string]any{"name": "long", "days": 1 << 53}, 422},
		{"half a setting", "PUT", "/shops/north", map[string]any{"name": "North", "alone": true}, 422},
		{"another's shop", "PUT", "/shops/south", map[string]any{"name": "South", "alone": true, "everybody": true}, 404},
	} {
		if got := ada.ask(c.method, c.path, c.body, nil); got != c.want {
			t.Errorf("%s: %d, want %d", c.what, got, c.want)
		}
	}
	known("disabled")
	if got := in.ask("GET", "/people", nil, nil); got != 401 {
		t.Errorf("who is disabled is told of people: %d", got)
	}
}

// Each of these routes for each role, in person, with an old proof and as a program: what the matrix says.
func TestPeopleAreLookedAfterByWhoMay(t *testing.T) {
	w, ada := begun(t)
	other, _ := ada.added("other", right.Technician)
	m, wrong, answers := right.Shipped(), 0, map[bool]int{}
	for _, role := range []right.Role{right.Technician, right.Planner, right.Reviewer, right.Administrator} {
		_, in := ada.added(string(role), role)
		var token secretShown
		if got := in.ask("POST", "/tokens", map[string]any{"name": "p", "days": 1}, &token); got != 201 {
			t.Fatalf("%s makes no token: %d", role, got)
		}
		for _, how := range []string{"fresh", "program", "stale"} {
			who := right.Who{Person: "x", Shop: "north", Roles: []right.Role{role}, Fresh: how == "fresh"}
			if how == "program" {
				who.Token = "t"
			}
			if how == "stale" {
				w.mu.Lock()
				w.now = w.now.Add(6 * time.Minute)
				w.mu.Unlock()
			}
			for _, c := range []struct {
				act          right.Act
				method, path string
				body         any
			}{
				{right.SeePeople, "GET", "/people", nil},
				{right.ManagePeople, "POST", "/people", map[string]any{"name": "N", "sign_in": string(role) + how, "roles": []right.Role{right.Planner}}},
				{right.GiveRoles, "PUT", "/people/" + other + "/roles", map[string]any{"roles": []right.Role{right.Technician, right.Planner}}},
				{right.ManagePeople, "PUT", "/people/" + other + "/state", map[string]any{"active": true}},
				{right.ManagePeople, "POST", "/people/" + other + "/link", map[string]any{"lost": false}},
				{right.SeeAccount, "GET", "/tokens", nil},
				{right.ManageTokens, "GET", "/tokens?of=everybody", nil},
				{right.MakeToken, "POST", "/tokens", map[string]any{"name": "q", "days": 1}},
				{right.SeePeople, "GET", "/shops", nil},
				{right.ChangeSettings, "PUT", "/shops/north", map[string]any{"name": "North", "everybody": true, "alone": false}},
				{right.ChangeGroup, "POST", "/shops", map[string]any{"shop": strings.ToLower(string(role[0])) + how, "name": "S"}},
			} {
				on := right.On{Shop: "north", Person: "x", Stays: true}
				if c.act == right.GiveRoles {
					on.Person = "y"
				}
				may := m.May(who, c.act, on).Answer == right.Allowed
				answers[may]++
				b := in
				if how == "program" {
					b = w.browser(in.base, in.from)
					b.token = token.Secret
				}
				got := b.ask(c.method, c.path, c.body, nil)
				if refused := got == http.StatusForbidden || got == http.StatusNotFound; may == refused || !refused && got >= 400 {
					wrong++
					t.Errorf("%s %s, %s %s: %d, and the matrix says %v", role, how, c.method, c.path, got, may)
				}
			}
		}
		ada = w.browser(ada.base, ada.from) // a proof of five minutes ago is none
		if got := ada.ask("POST", "/session", map[string]any{"name": "ada", "password": bossWord}, nil); got != 200 {
			t.Fatal(got)
		}
	}
	if answers[true]+answers[false] != 4*3*11 || answers[true] < 30 || answers[false] < 60 {
		t.Errorf("of 4 roles, 3 ways and 11 routes the matrix says %v", answers)
	}
	if got := w.browser(ada.base, ada.from).ask("GET", "/people", nil, nil); got != 401 || wrong > 0 {
		t.Errorf("nobody is told of people: %d", got)
	}
}
