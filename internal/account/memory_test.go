package account_test

import (
	"testing"

	"fettle/internal/account"
	"fettle/internal/account/accounttest"
)

func TestMemory(t *testing.T) {
	accounttest.TestStore(t, func(*testing.T) func() account.Store {
		m := account.NewMemory()
		return func() account.Store { return m }
	})
}
