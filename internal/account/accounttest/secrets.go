package accounttest

import (
	"encoding/base32"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
)

// Secrets makes a person with everything they can have, and returns all that was told or shown once, by what it is; and beside that "name", which is none.
func Secrets(t *testing.T, a *account.Accounts, pass func(time.Duration)) map[string]string {
	t.Helper()
	ctx, out := t.Context(), map[string]string{"name": "Boss Person", "password": "violet anchors hum below", "wrong password": "tin ladders lean on moss", "new password": "seven dull kettles argue"}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	from := account.From{Address: "192.0.2.7"}
	first, err := a.FirstUse(ctx)
	must(err)
	out["link of first use"] = first.Text
	in, err := a.ClaimFirst(ctx, first.Text, account.First{Shop: "a", ShopName: "Shop A", NewPerson: account.NewPerson{Name: out["name"], SignIn: "boss", Roles: right.Roles()[:3]}, Password: out["password"]}, from)
	must(err)
	out["session"] = in.Session
	if _, err := a.SignIn(ctx, account.Try{Name: "boss", Password: out["wrong password"]}, from); err == nil {
		t.Fatal("a wrong password fits")
	}
	s, err := a.Session(ctx, in.Session)
	must(err)
	_, invited, err := a.AddPerson(ctx, s.Who, account.NewPerson{Name: "Anna Person", SignIn: "anna", Roles: []right.Role{right.Planner}})
	must(err)
	out["link for a password"] = invited.Text
	_, token, err := a.MakeToken(ctx, s.Who, account.NewToken{Name: "program", For: time.Hour})
	must(err)
	out["token"] = token.Text
	_, link, err := a.MakeLink(ctx, s.Who, right.On{Shop: "a", Job: "J", Everybody: true, Stage: right.Approved}, account.NewLink{To: 3})
	must(err)
	out["link"] = link.Text
	reader, _, err := a.OpenLink(ctx, link.Text, "", from)
	must(err)
	out["session of a reader"] = reader.Session
	codes, err := a.BeginCodes(ctx, s.Who)
	must(err)
	raw, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(codes.Secret)
	must(err)
	out["secret of one-time codes"], out["its bytes"] = codes.Secret, string(raw)
	again, err := a.ChangePassword(ctx, s, out["new password"], from)
	must(err)
	out["session after"], out["device"] = again.Session, again.Device
	reset, err := a.AtConsole().ResetLink(ctx, "anna", true)
	must(err)
	out["link to reset"] = reset.Text
	pass(2 * time.Minute)
	_, err = a.Session(ctx, again.Session)
	must(err)
	for what, secret := range out {
		if len(secret) < 10 {
			t.Fatalf("%s is %q", what, secret)
		}
	}
	return out
}
