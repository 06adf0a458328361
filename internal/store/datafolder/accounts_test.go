package datafolder

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// TestAccountsKey: the key is made once, for its owner alone; one that others may read, or that is none, is refused, and one that is given is used.
func TestAccountsKey(t *testing.T) {
	none := func(string) (string, bool) { return "", false }
	given := func(value string) func(string) (string, bool) {
		return func(name string) (string, bool) { return value, name == accountsKeyVar }
	}
	dir := t.TempDir()
	s, err := Open(t.Context(), dir, true, World{Lookup: none, Now: time.Now, Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	file := filepath.Join(dir, "keys", "accounts.key")
	key, err := s.accountsKey(none)
	again, err2 := s.accountsKey(none)
	fi, err3 := os.Stat(file)
	if err != nil || err2 != nil || err3 != nil || len(key) != 32 || !bytes.Equal(key, again) || fi.Mode().Perm() != 0o600 {
		t.Errorf("%x %x %v %v %v %v", key, again, fi, err, err2, err3)
	}
	own, err := s.accountsKey(given(strings.Repeat("0f", 32)))
	if err != nil || !bytes.Equal(own, bytes.Repeat([]byte{15}, 32)) {
		t.Errorf("given: %x %v", own, err)
	}
	for _, bad := range []string{"", "0f", strings.Repeat("0f", 33), strings.Repeat("xy", 32)} {
		if _, err := s.accountsKey(given(bad)); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if _, err := s.Accounts(none, time.Now, account.Site{Name: "fettle.example", Title: "fettle", Origins: []string{"https://fettle.example"}}); err != nil {
		t.Error(err)
	}
	if _, err := s.Accounts(none, time.Now, account.Site{Name: "https://fettle.example", Title: "fettle", Origins: []string{"https://fettle.example"}}); diag.KindOf(err) != diag.Invalid {
		t.Errorf("a site that is none: %v", err)
	}
	for what, p := range map[string]Provider{"not encrypted": {Issuer: "http://id.example", Client: "fettle"}, "no client": {Issuer: "https://id.example"}, "no issuer": {Client: "fettle"}, "no address": {Issuer: "id.example", Client: "fettle"},
		"by e-mail": {Issuer: "https://id.example", Client: "fettle", Subject: "email"}, "roles of no claim": {Issuer: "https://id.example", Client: "fettle", Roles: []ProviderRole{{"g", "a", right.Planner}}},
		"administrators": {Issuer: "https://id.example", Client: "fettle", Groups: "groups", Roles: []ProviderRole{{"g", "a", right.Administrator}}}, "half a domain": {Issuer: "https://id.example", Client: "fettle", Domain: "x"},
		"an authority that is not there": {Issuer: "https://id.example", Client: "fettle", Authority: filepath.Join(t.TempDir(), "x")}, "an authority that is none": {Issuer: "https://id.example", Client: "fettle", Authority: file},
		"back without TLS": {Issuer: "https://id.example", Client: "fettle", Back: "http://fettle.example/"}} {
		s.Settings.Provider = p
		if _, err := s.Accounts(none, time.Now, account.Site{Back: "https://fettle.example/back"}); diag.KindOf(err) != diag.Invalid {
			t.Errorf("a provider that is none, %s: %v", what, err)
		}
	}
	s.Settings.Provider = Provider{Issuer: "https://id.example", Client: "fettle", Groups: "groups", Roles: []ProviderRole{{"chiefs", "a", right.Reviewer}}}
	a, err := s.Accounts(func(name string) (string, bool) { return "word", name == providerVar }, time.Now, account.Site{Back: "https://fettle.example/back"})
	if err != nil || a.Provider.Issuer() != "https://id.example" || len(a.Groups) != 1 || a.Groups[0] != (account.ByGroup{Group: "chiefs", Shop: "a", Role: right.Reviewer}) {
		t.Errorf("%v", err)
	}
	if err := os.WriteFile(file, []byte("short"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := s.accountsKey(none); diag.KindOf(err) != diag.Invalid {
		t.Errorf("a damaged file: %v", err)
	}
	if err := os.Chmod(file, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := s.accountsKey(none); diag.KindOf(err) != diag.Denied {
		t.Errorf("a file that others may read: %v", err)
	}
}

// TestDoctorLooksAtPeople: a key that is gone, or another one, is said before anybody is refused; nothing is made by looking.
func TestDoctorLooksAtPeople(t *testing.T) {
	none := func(string) (string, bool) { return "", false }
	w := World{Lookup: none, Now: time.Now, Program: "test"}
	dir := t.TempDir()
	s, err := Open(t.Context(), dir, true, w)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "keys", "accounts.key")
	says := func(want string, fine bool) {
		t.Helper()
		f := s.people(t.Context(), w)
		if !strings.Contains(f.Is, want) || (f.ToDo == "") != fine {
			t.Errorf("%+v, want %q", f, want)
		}
	}
	says("nobody may sign in yet", true)
	if _, err := os.Stat(file); err == nil {
		t.Error("looking has made a key")
	}
	a, err := s.Accounts(none, time.Now, account.Site{})
	if err == nil {
		err = a.Check(t.Context())
	}
	if err != nil {
		t.Fatal(err)
	}
	says("fits", true)
	key, err := os.ReadFile(file)
	if err == nil {
		err = os.Remove(file)
	}
	if err != nil {
		t.Fatal(err)
	}
	says("is not there", false)
	if _, err := os.Stat(file); err == nil {
		t.Error("looking has made a key")
	}
	given := func(key string) {
		w.Lookup = func(name string) (string, bool) {
			if name != accountsKeyVar {
				return "", false
			}
			return key, true
		}
	}
	given(strings.Repeat("0f", 32))
	says("not the one of this store", false)
	given(string(key))
	says("fits", true)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	all := ""
	for _, f := range Look(t.Context(), dir, w) {
		all += f.What + " "
	}
	if !strings.Contains(all, "people") {
		t.Errorf("looked at: %s", all)
	}
}

// TestProviderSettings: what docs/store.md shows is read, and what is misspelt says where.
func TestProviderSettings(t *testing.T) {
	dir := t.TempDir()
	none := func(string) (string, bool) { return "", false }
	read := func(text string) (Settings, error) {
		if err := os.WriteFile(filepath.Join(dir, settingsFile), []byte("format: fettle-settings 1\n"+text), 0o600); err != nil {
			t.Fatal(err)
		}
		return readSettings(dir, none)
	}
	s, err := read("provider:\n  issuer: https://id.group.example   # as the provider writes it\n  client: fettle\n  groups: groups\n  private: yes\n  roles:\n    - {group: workshop north, shop: north, role: technician}\n")
	if err != nil || s.Provider.Issuer != "https://id.group.example" || s.Provider.Client != "fettle" || !s.Provider.Private || len(s.Provider.Roles) != 1 || s.Provider.Roles[0] != (ProviderRole{"workshop north", "north", right.Technician}) {
		t.Errorf("%+v %v", s.Provider, err)
	}
	for text, want := range map[string]string{
		"provider:\n  issuer: https://x\n  secret: word\n": ":4:", "provider:\n  private: perhaps\n": ":3:", "provider:\n  roles:\n    - {group: g, shop: s}\n": ":4:",
		"provider:\n  roles:\n    - {group: g, role: planner}\n": ":4:", "provider: https://x\n": ":2:",
	} {
		if _, err := read(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}
