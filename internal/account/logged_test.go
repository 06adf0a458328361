package account_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
)

// happenings are the words of the security log, as the program declares them.
func happenings(t *testing.T) []account.Happened {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), "entry.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []account.Happened
	ast.Inspect(f, func(n ast.Node) bool {
		if v, is := n.(*ast.ValueSpec); is {
			if of, is := v.Type.(*ast.Ident); is && of.Name == "Happened" {
				for _, value := range v.Values {
					word, err := strconv.Unquote(value.(*ast.BasicLit).Value)
					if err != nil {
						t.Fatal(err)
					}
					out = append(out, account.Happened(word))
				}
			}
		}
		return true
	})
	return out
}

// TestEveryEventIsInTheLog has everything happen that the security log has a word for. After each deed there is a line more, which says when, what, who or whom, and, of the ways in, from where.
// A word that is declared and that no deed here brings about is a fault.
func TestEveryEventIsInTheLog(t *testing.T) {
	w, p := tied(t)
	ctx := t.Context()
	boss := func() right.Who { return w.bossIn().Who }
	rita := func() right.Who { return w.session(w.signedIn("rita", otherWord)).Who }
	w.added(w.bossIn(), "rita", otherWord, right.Reviewer)
	carl := w.added(w.bossIn(), "carl", otherWord, right.Technician)
	var phone telephone
	var link account.Link
	var token, linkSecret string
	var key account.Passkey
	seen := map[string]bool{}
	lines := func() (out []account.Entry) {
		for _, failures := range []bool{false, true} {
			for after := ""; ; {
				page := got(w.SecurityLog(ctx, boss(), account.LogQuery{Failures: failures, After: after, Most: 500}))(t)
				for _, e := range page.Entries {
					if !seen[e.ID] {
						seen[e.ID] = true
						out = append(out, e)
					}
				}
				if after = page.After; after == "" {
					break
				}
			}
		}
		return out
	}
	old := lines()
	happened := map[account.Happened]bool{}
	for _, e := range old {
		happened[e.What] = e.What == account.FirstUsed || e.What == account.ProviderTied || happened[e.What]
	}
	far := account.From{Address: "203.0.113.77"}
	shopB := ""
	for _, d := range []struct {
		what account.Happened
		from bool // the line says from where
		do   func()
	}{
		{account.SignedInBy, true, func() { got(w.SignIn(ctx, account.Try{Name: "anna", Password: annaWord}, far))(t) }},
		{account.SignInFailed, true, func() { _, _ = w.SignIn(ctx, account.Try{Name: "anna", Password: "wrong"}, far) }},
		{account.SignedOut, true, func() { must(t, w.SignOut(ctx, w.signedIn("anna", annaWord).Session, far)) }},
		{account.ShopMade, false, func() { shopB = got(w.AddShop(ctx, boss(), "b", "Shop B"))(t).ID }},
		{account.PersonAdded, false, func() { got2(w.AddPerson(ctx, boss(), account.NewPerson{Name: "New", SignIn: "new"}))(t) }},
		{account.RolesGiven, false, func() { must(t, w.GiveRoles(ctx, boss(), carl.ID, []right.Role{right.Planner})) }},
		{account.Disabled, false, func() { must(t, w.SetState(ctx, boss(), carl.ID, false)) }},
		{account.Enabled, false, func() { must(t, w.SetState(ctx, boss(), carl.ID, true)) }},
		{account.Disabled, false, func() { must(t, w.AtConsole().SetState(ctx, "carl", false)) }},
		{account.Enabled, false, func() { must(t, w.AtConsole().SetState(ctx, "carl", true)) }},
		{account.TicketMade, false, func() { token = got(w.ResetLink(ctx, boss(), carl.ID, false))(t).Text }},
		{account.PasswordSet, true, func() { must(t, w.SetPassword(ctx, token, "nine patient saws wait", far)) }},
		{account.PersonErased, false, func() { must(t, w.ErasePerson(ctx, boss(), carl.ID)) }},
		{account.TokenMade, false, func() { got2(w.MakeToken(ctx, rita(), account.NewToken{Name: "arm", For: time.Hour}))(t) }},
		{account.TokenRevoked, false, func() {
			must(t, w.RevokeToken(ctx, rita(), got(w.Tokens(ctx, rita(), false))(t)[0].ID))
		}},
		{account.LinkMade, false, func() {
			l, s, err := w.MakeLink(ctx, rita(), onJob, account.NewLink{To: 3})
			must(t, err)
			link, linkSecret = l, s.Text
		}},
		{account.LinkOpened, true, func() { w.openedLink(linkSecret, far) }},
		{account.LinkRevoked, false, func() { must(t, w.RevokeLink(ctx, rita(), onJob, link.ID)) }},
		{account.ProviderUntied, false, func() { must(t, w.UntieProvider(ctx, w.annaIn().Who)) }},
		{account.ProviderTied, false, func() { must(t, w.tie(w.annaIn(), p)) }},
		{account.PasskeyAdded, false, func() { w.withKey(w.annaIn()) }},
		{account.PasskeyRemoved, false, func() {
			key = got(w.Passkeys(ctx, w.annaIn().Who))(t)[0]
			must(t, w.RemovePasskey(ctx, w.annaIn().Who, key.ID))
		}},
		{account.PasskeyCopied, true, func() {
			a := w.withKey(w.annaIn())
			got(w.byKey(a))(t)
			copied := *a
			got(w.byKey(a))(t)
			_, _ = w.byKey(&copied)
		}},
		{account.SessionsEnded, false, func() { must(t, w.EndSessions(ctx, w.annaIn().Who, "")) }},
		{account.SettingsMade, false, func() {
			s := w.bossIn()
			must(t, w.SetShop(ctx, s.Who, s.Shop))
		}},
		{account.InvitationMade, false, func() { got2(w.Invite(ctx, boss(), []right.Role{right.Planner}))(t) }},
		{account.InvitationGone, false, func() { must(t, w.TakeBack(ctx, boss(), got(w.Invitations(ctx, boss()))(t)[0].ID)) }},
		{account.ShopJoined, false, func() {
			in := got(w.SignIn(ctx, account.Try{Name: "boss", Password: bossWord, Shop: shopB}, home))(t)
			_, secret := got2(w.Invite(ctx, w.session(in).Who, []right.Role{right.Planner}))(t)
			got(w.Join(ctx, w.annaIn().Who, secret.Text))(t)
		}},
		{account.ShopLeft, false, func() { must(t, w.Leave(ctx, w.annaIn().Who, shopB)) }},
		{account.KeyRenewed, false, func() { must(t, w.AtConsole().RenewKey(ctx)) }},
		{account.CodesAdded, false, func() { phone = w.withCodes(w.annaIn()) }},
		{account.CodesRemoved, false, func() {
			in := got(w.byCode(phone.at(0)))(t)
			must(t, w.RemoveCodes(ctx, w.session(in).Who))
		}},
	} {
		lines()
		d.do()
		begun := w.clock.now()
		noted := false
		for _, e := range append(lines(), ofShop(t, w, shopB, seen)...) {
			if e.What != d.what {
				continue
			}
			noted, happened[d.what] = true, true
			if age := begun.Sub(e.At); age < 0 || age > time.Hour || e.Person+e.About == "" && e.More == "" || d.from && e.Address == "" {
				t.Errorf("%s: %+v", d.what, e)
			}
		}
		if !noted {
			t.Errorf("%s: there is no line of it", d.what)
		}
		w.clock.pass(6 * time.Minute)
	}
	all := happenings(t)
	for _, h := range all {
		if !happened[h] {
			t.Errorf("%s: nothing here brings it about", h)
		}
	}
	if len(all) < 25 {
		t.Errorf("%d words were found", len(all))
	}
}

// ofShop is what is new in the log of another shop of the boss.
func ofShop(t *testing.T, w *world, shop string, seen map[string]bool) (out []account.Entry) {
	t.Helper()
	if shop == "" {
		return nil
	}
	in := got(w.SignIn(t.Context(), account.Try{Name: "boss", Password: bossWord, Shop: shop}, home))(t)
	for _, e := range got(w.SecurityLog(t.Context(), w.session(in).Who, account.LogQuery{Most: 500}))(t).Entries {
		if id := fmt.Sprint("b ", e.ID); !seen[id] {
			seen[id] = true
			out = append(out, e)
		}
	}
	return out
}

// got2 is two values, where there is no error.
func got2[A, B any](a A, b B, err error) func(t *testing.T) (A, B) {
	return func(t *testing.T) (A, B) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return a, b
	}
}
