package datafolder

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/x509"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"fettle/internal/account"
	"fettle/internal/account/openid"
	"fettle/internal/diag"
	"fettle/internal/store/blobs"
	"fettle/internal/store/safefile"
)

// The key with which secrets about people are sealed that have to be read again: 32 bytes in hexadecimal. Servers of one database have
// the same, so it may come from the environment.
const (
	accountsKeyVar  = "FETTLE_ACCOUNTS_KEY"
	accountsKeyFile = "accounts.key"
	accountsKeySize = 32
)

// providerVar is the secret of this program at a provider.
const providerVar = "FETTLE_PROVIDER_SECRET"

// Accounts are the people of a data folder, for a site that passkeys are made for (none: no passkeys), and to which the provider of
// the settings sends people back. Who serves them asks Check first.
func (s *Store) Accounts(lookup func(string) (string, bool), now func() time.Time, site account.Site) (*account.Accounts, error) {
	key, err := s.accountsKey(lookup)
	if err != nil {
		return nil, err
	}
	set := account.Settings{Store: s.Database.Accounts(), Now: now, Random: rand.Reader, Key: key, Site: site}
	if p := s.Settings.Provider; site.Back != "" && p.Issuer+p.Client != "" {
		if set.Provider, err = p.client(lookup, now, site); err != nil {
			return nil, err
		}
		for _, r := range p.Roles {
			set.Groups = append(set.Groups, account.ByGroup(r))
		}
	}
	return account.New(set)
}

// client is one of the provider that is written.
func (p Provider) client(lookup func(string) (string, bool), now func() time.Time, site account.Site) (*openid.Client, error) {
	secret, _, err := blobs.Given(providerVar, lookup, os.ReadFile)
	if err != nil {
		return nil, err
	}
	fault := func(subject, msg, hint string, err error) error {
		return &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: "provider." + subject, Msg: msg, Hint: hint, Err: err}
	}
	if len(p.Roles) > 0 && p.Groups == "" {
		return nil, fault("roles", "are given by groups, and no claim says those", "write groups: with the name of the claim", nil)
	}
	set := openid.Settings{Issuer: p.Issuer, Client: p.Client, Secret: secret, Back: cmp.Or(p.Back, site.Back), SignedOut: p.SignedOut, Subject: p.Subject,
		Groups: p.Groups, Scopes: p.Scopes, DomainClaim: p.DomainClaim, Domain: p.Domain, Private: p.Private, Now: now}
	if p.Authority != "" {
		text, err := os.ReadFile(p.Authority)
		if err != nil {
			return nil, fault("authority", "names a file that cannot be read", "name a file that this program may read", err)
		}
		if set.Authority = x509.NewCertPool(); !set.Authority.AppendCertsFromPEM(text) {
			return nil, fault("authority", "has no certificate", "give a file of certificates as PEM", nil)
		}
	}
	return openid.New(set)
}

// accountsKey is the key that is given, or that of the folder, made on first use.
func (s *Store) accountsKey(lookup func(string) (string, bool)) ([]byte, error) {
	text, given, err := blobs.Given(accountsKeyVar, lookup, os.ReadFile)
	if err != nil {
		return nil, err
	}
	if given {
		return keyOfText(accountsKeyVar, text)
	}
	name := filepath.Join(s.Keys(), accountsKeyFile)
	key, err := readAccountsKey(name)
	if !errors.Is(err, fs.ErrNotExist) {
		return key, err
	}
	if err := makeSecret(s.Dir, accountsKeyFile, []byte(safefile.Drawn(accountsKeySize)+"\n")); err != nil {
		return nil, safefile.Unusable(name, err)
	}
	return readAccountsKey(name) // of two programs that make one at once, one has made it
}

func keyOfText(subject, text string) ([]byte, error) {
	key, err := hex.DecodeString(strings.TrimSpace(text))
	if err != nil || len(key) != accountsKeySize {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "key", Subject: subject, Msg: "is no key of 32 bytes in hexadecimal", Hint: "give 64 digits from 0 to f, drawn by chance, the same on every server of the database"}
	}
	return key, nil
}

func readAccountsKey(name string) ([]byte, error) {
	fi, err := os.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !fi.Mode().IsRegular() || fi.Size() > mostKey || runtime.GOOS != "windows" && fi.Mode().Perm()&0o077 != 0 {
		return nil, &diag.Error{Kind: diag.Denied, Op: "key", Subject: name, Msg: "is no file that only its owner may read", Hint: "chmod 600 it; if somebody else may have read it, renew it"}
	}
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, safefile.Unusable(name, err)
	}
	return keyOfText(name, string(text))
}

// people: the key is the one of the store. Nothing is made where none is.
func (s *Store) people(ctx context.Context, w World) Finding {
	is := "the key that secrets about people are sealed with fits"
	keyed, err := account.Keyed(ctx, s.Database.Accounts())
	if err != nil || !keyed {
		return found("people", "nobody may sign in yet", err)
	}
	if _, given, err := blobs.Given(accountsKeyVar, w.Lookup, os.ReadFile); err != nil || !given {
		name := filepath.Join(s.Keys(), accountsKeyFile)
		if _, gone := os.Lstat(name); err == nil && errors.Is(gone, fs.ErrNotExist) {
			return Finding{"people", name + " is not there, so nobody can use one-time codes or begin to use a passkey", "bring it back from where you kept a copy; if it is lost for good, renew it at the console"}
		}
		if err != nil {
			return found("people", is, err)
		}
	}
	a, err := s.Accounts(w.Lookup, w.Now, account.Site{})
	if err == nil {
		err = a.Check(ctx)
	}
	return found("people", is, err)
}
