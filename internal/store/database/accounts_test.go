package database

import (
	"bytes"
	"crypto/rand"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/account/accounttest"
	"fettle/internal/store/postgrestest"
)

func accountSuite(t *testing.T, address func(t *testing.T) string) {
	accounttest.TestStore(t, func(t *testing.T) func() account.Store {
		s := at(t, address(t), monday)
		return func() account.Store { return opened(t, s).Accounts() }
	})
}

func TestAccountsSQLite(t *testing.T) {
	accountSuite(t, func(t *testing.T) string { return filepath.Join(t.TempDir(), "accounts.db") })
}

func TestAccountsPostgreSQL(t *testing.T) {
	accountSuite(t, func(t *testing.T) string { return postgrestest.Shared(t).Schema(t) })
}

// server is one of several that have the people of one database.
func server(t testing.TB, d *Database, now func() time.Time) *account.Accounts {
	return must(account.New(account.Settings{Store: d.Accounts(), Now: now, Random: rand.Reader, Key: bytes.Repeat([]byte{7}, 32), Cost: account.Cost{KiB: 64, Passes: 1, Lanes: 1}, Weak: true}))
}

func TestClaimsPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := at(t, address, monday)
		accounttest.TestClaims(t, server(t, opened(t, s), monday), server(t, opened(t, s), monday))
	})
}

// TestNoSecretIsKept: what was shown or told once stands nowhere in the database, its journal or a dump, in whichever of the usual ways it may be written;
// what does not have to be secret is found, so that the search is one.
func TestNoSecretIsKeptPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		ctx, now := t.Context(), monday()
		d := opened(t, at(t, address, func() time.Time { return now }))
		a := server(t, d, func() time.Time { return now })
		secrets := accounttest.Secrets(t, a, func(pass time.Duration) { now = now.Add(pass) })
		var dump bytes.Buffer
		if err := d.Dump(ctx, &dump); err != nil {
			t.Fatal(err)
		}
		kept := map[string][]byte{"dump": dump.Bytes()}
		if !d.kind.postgres {
			for _, ext := range []string{"", "-wal"} {
				kept["file"+ext] = must(os.ReadFile(address + ext))
			}
		}
		for where, text := range kept {
			for what, secret := range secrets {
				for how, form := range map[string][]byte{"plain": []byte(secret), "hex": []byte(hex.EncodeToString([]byte(secret))), "base64": []byte(base64.StdEncoding.EncodeToString([]byte(secret)))} {
					if found := bytes.Contains(text, form); found != (what == "name" && how == "plain") && (where == "dump" || found) {
						t.Errorf("%s, %s: found %v in the %s", what, how, found, where)
					}
				}
			}
		}
		if faults, err := d.Verify(ctx); err != nil || len(faults) > 0 {
			t.Errorf("%v %v", faults, err)
		}
		leaves := ""
		if err := d.Read(ctx, "select kind, name, hash, request from leaves", nil, func(scan func(...any) error) error {
			var kind, name, hash, request string
			err := scan(&kind, &name, &hash, &request)
			leaves += kind + " " + name + " " + hash + " " + request + "\n"
			return err
		}); err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"anna", "boss", "192.0.2"} {
			if strings.Contains(strings.ToLower(leaves), word) || !strings.Contains(leaves, "account person/") {
				t.Errorf("the log says who somebody is: %q", word)
			}
		}
	})
}

// TestServersAgree: of two servers of one database each knows at once whom the other has signed out, and they count guesses together.
func TestServersAgreePostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		ctx, now := t.Context(), func() time.Time { return monday() }
		a, b := server(t, opened(t, at(t, address, now)), now), server(t, opened(t, at(t, address, now)), now)
		const word = "violet anchors hum below"
		link := must(a.FirstUse(ctx))
		in := must(b.ClaimFirst(ctx, link.Text, account.First{Shop: "a", ShopName: "A", NewPerson: account.NewPerson{Name: "Boss", SignIn: "boss"}, Password: word}, account.From{}))
		for range 50 {
			in = must(a.SignIn(ctx, account.Try{Name: "boss", Password: word, Device: in.Device}, account.From{}))
			s := must(b.Session(ctx, in.Session))
			if s.Person.SignIn != "boss" {
				t.Fatalf("%+v", s)
			}
			if err := b.SignOut(ctx, in.Session, account.From{}); err != nil {
				t.Fatal(err)
			}
			if _, err := a.Session(ctx, in.Session); !errors.Is(err, account.ErrNobody) {
				t.Fatalf("signed out at the other, and still there: %v", err)
			}
		}
		looked := make(chan bool, 400)
		for i := range 400 {
			go func() {
				_, err := []*account.Accounts{a, b}[i%2].SignIn(ctx, account.Try{Name: "boss", Password: fmt.Sprint("guess ", i)}, account.From{})
				var wait *account.Wait
				looked <- !errors.As(err, &wait)
			}()
		}
		n := 0
		for range 400 {
			if <-looked {
				n++
			}
		}
		if n > 6 {
			t.Errorf("%d guesses at once were looked at by two servers", n)
		}
	})
}
