package accounttest

import (
	"errors"
	"fmt"
	"sync"
	"testing"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// TestClaims lets 1,000 claim to be the first administrator at once, on several servers: one is, and nobody else gets in. Each server has the
// records of one empty store.
func TestClaims(t *testing.T, servers ...*account.Accounts) {
	link, err := servers[0].FirstUse(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	const claims = 1000
	ins, errs := make([]account.SignedIn, claims), make([]error, claims)
	var wg sync.WaitGroup
	for i := range claims {
		wg.Add(1)
		go func() {
			defer wg.Done()
			f := account.First{Shop: "a", ShopName: "A", NewPerson: account.NewPerson{Name: "First", SignIn: fmt.Sprint("first", i)}, Password: "some kettles hum below"}
			for { // who is told that too many wait comes again
				ins[i], errs[i] = servers[i%len(servers)].ClaimFirst(t.Context(), link.Text, f, account.From{})
				if diag.KindOf(errs[i]) != diag.Unavailable || errs[i] == nil {
					return
				}
			}
		}()
	}
	wg.Wait()
	won := 0
	for i := range claims {
		s, err := servers[0].Session(t.Context(), ins[i].Session)
		if errs[i] != nil {
			if diag.KindOf(errs[i]) != diag.Denied || !errors.Is(err, account.ErrNobody) {
				t.Fatalf("%v; %v", errs[i], err)
			}
			continue
		}
		if won++; err != nil || s.Who.Roles[0] != right.Administrator || s.Person.SignIn != fmt.Sprint("first", i) {
			t.Errorf("who won is %+v: %v", s, err)
		}
	}
	people, err := servers[0].AtConsole().People(t.Context())
	if won != 1 || len(people) != 1 || err != nil {
		t.Errorf("%d of %d claims won, and there are %d people: %v", won, claims, len(people), err)
	}
}
