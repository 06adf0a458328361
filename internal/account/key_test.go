package account_test

import (
	"bytes"
	"testing"

	"fettle/internal/account"
	"fettle/internal/diag"
)

// TestKeyOfTheStore: servers of one store have one key; with another nothing is served, and one that is lost is renewed, after which nobody with one-time codes
// gets in by the password alone.
func TestKeyOfTheStore(t *testing.T) {
	w := newWorld(t)
	must(t, w.Check(t.Context()))
	must(t, w.Check(t.Context()))
	w.withCodes(w.annaIn())
	other := emptyWorld(t, func(s *account.Settings) { s.Store, s.Key = w.store, bytes.Repeat([]byte{1}, 32) })
	if err := other.Check(t.Context()); diag.KindOf(err) != diag.Denied {
		t.Errorf("another key: %v", err)
	}
	must(t, other.AtConsole().RenewKey(t.Context()))
	must(t, other.Check(t.Context()))
	if err := w.Check(t.Context()); diag.KindOf(err) != diag.Denied {
		t.Errorf("the lost key: %v", err)
	}
	in, err := other.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord}, home)
	if err != nil || in.Session != "" || !in.NeedCode {
		t.Errorf("by the password alone: %+v %v", in, err)
	}
	if in, err = other.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord, Code: "123456"}, home); diag.KindOf(err) != diag.Integrity || in.Session != "" {
		t.Errorf("with a code of the lost key: %+v %v", in, err)
	}
	link := got(other.AtConsole().ResetLink(t.Context(), "anna", true))(t)
	must(t, other.SetPassword(t.Context(), link.Text, otherWord, home))
	got(other.SignIn(t.Context(), account.Try{Name: "anna", Password: otherWord}, home))(t)
}
