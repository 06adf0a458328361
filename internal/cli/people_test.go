package cli

import (
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
	"fettle/internal/store/datafolder"
)

// secretIn is the secret of a link that was printed, which stands behind the #.
func secretIn(t *testing.T, printed, before string) string {
	t.Helper()
	link, _, _ := strings.Cut(printed, "\n")
	u, err := url.Parse(link)
	if err != nil || !strings.HasPrefix(link, before+"#") || len(u.Fragment) != 43 || strings.Contains(u.RequestURI(), u.Fragment) {
		t.Fatalf("printed: %s", printed)
	}
	return u.Fragment
}

// TestPeople: who sits at the machine begins, lists people, gives links, disables; nobody gives or sees a password.
func TestPeople(t *testing.T) {
	dir, now := t.TempDir(), time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	first := secretIn(t, does(t, dir, now, "people", "first", "--data", "d"), "http://127.0.0.1:8420/first")
	if out := does(t, dir, now, "people", "--data", "d"); out != "Nobody yet.\n" {
		t.Error(out)
	}
	accounts := func(do func(*account.Accounts) error) {
		t.Helper()
		none := func(string) (string, bool) { return "", false }
		s, err := datafolder.Open(t.Context(), filepath.Join(dir, "d"), false, datafolder.World{Lookup: none, Now: func() time.Time { return now }, Program: "test"})
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		key, err := os.ReadFile(filepath.Join(dir, "d", "keys", "accounts.key"))
		if err != nil || len(key) != 65 {
			t.Fatalf("%q %v", key, err)
		}
		a, err := s.Accounts(none, func() time.Time { return now }, account.Site{})
		if err == nil {
			err = a.Check(t.Context())
		}
		if err == nil {
			err = do(a)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	const word, after = "violet anchors hum below", "seven dull kettles argue"
	var in account.SignedIn
	accounts(func(a *account.Accounts) (err error) {
		in, err = a.ClaimFirst(t.Context(), first, account.First{Shop: "a", ShopName: "A", NewPerson: account.NewPerson{Name: "Anna Person", SignIn: "anna", Roles: right.Roles()[:3]}, Password: word}, account.From{})
		return err
	})
	if code, _, errs := at(t, dir, now, "people", "first", "--data", "d"); code != Refused || !strings.Contains(errs, "an administrator already") {
		t.Errorf("first use once more: %d %s", code, errs)
	}
	out := does(t, dir, now, "people", "list", "--data", "d")
	if !strings.Contains(out, "anna") || !strings.Contains(out, "technician, planner, reviewer, administrator") || !strings.Contains(out, "active") || strings.Contains(out, "argon2") {
		t.Error(out)
	}
	for _, wrong := range [][]string{{"disable", "anna"}, {"roles", "anna", "a"}, {"link", "nobody"}, {"roles", "anna", "b", "planner"}, {"roles", "anna", "a", "reader"}, {"roles", "anna", "a", "king"}} {
		if code, out, _ := at(t, dir, now, append([]string{"people", "--data", "d"}, wrong...)...); code != Refused || out != "" {
			t.Errorf("%v: %d %s", wrong, code, out)
		}
	}
	if code, _, errs := at(t, dir, now, "people", "link", "anna", "--at", "workshop", "--data", "d"); code != Usage {
		t.Errorf("an address that is none: %d %s", code, errs)
	}
	if code, _, errs := at(t, dir, now, "people"); code != Usage {
		t.Errorf("without a data folder: %d %s", code, errs)
	}
	link := secretIn(t, does(t, dir, now, "people", "link", "ANNA", "--at", "https://workshop.local:8443/x?y", "--data", "d"), "https://workshop.local:8443/password")
	accounts(func(a *account.Accounts) error {
		if _, err := a.Session(t.Context(), in.Session); err != nil {
			t.Errorf("the link alone has signed somebody out: %v", err)
		}
		return a.SetPassword(t.Context(), link, after, account.From{})
	})
	accounts(func(a *account.Accounts) error {
		if _, err := a.Session(t.Context(), in.Session); err == nil {
			t.Error("still signed in after a new password")
		}
		_, err := a.SignIn(t.Context(), account.Try{Name: "anna", Password: after}, account.From{})
		return err
	})
	if out := does(t, dir, now, "verify-store", "--data", "d"); strings.Contains(out, "damaged") {
		t.Error(out)
	}
	if out := does(t, dir, now.Add(48*time.Hour), "sweep", "--data", "d"); !strings.Contains(out, "Of people: ") {
		t.Error(out)
	}
	if out := does(t, dir, now.Add(48*time.Hour), "sweep", "--data", "d"); strings.Contains(out, "Of people: ") {
		t.Errorf("a second time: %s", out)
	}
	if out := does(t, dir, now, "verify-store", "--data", "d"); strings.Contains(out, "damaged") {
		t.Error(out)
	}
	// the key is lost, and another is there
	if err := os.WriteFile(filepath.Join(dir, "d", "keys", "accounts.key"), []byte(strings.Repeat("ab", 32)+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, _, errs := at(t, dir, now, "people", "link", "anna", "--data", "d"); code != Refused || !strings.Contains(errs, "not the one of this store") {
		t.Errorf("another key: %d %s", code, errs)
	}
	does(t, dir, now, "people", "renew-key", "--data", "d")
	does(t, dir, now, "people", "link", "anna", "--data", "d")
}
