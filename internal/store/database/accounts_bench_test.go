package database

import (
	"path/filepath"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/store/postgrestest"
)

// BenchmarkSession is what every request of somebody who is signed in costs.
func BenchmarkSession(b *testing.B) {
	for name, address := range map[string]func(b *testing.B) string{
		"SQLite":     func(b *testing.B) string { return filepath.Join(b.TempDir(), "sessions.db") },
		"PostgreSQL": func(b *testing.B) string { return postgrestest.Shared(b).Schema(b) },
	} {
		b.Run(name, func(b *testing.B) {
			now := func() time.Time { return monday() }
			a := server(b, opened(b, at(b, address(b), now)), now)
			link := must(a.FirstUse(b.Context()))
			in := must(a.ClaimFirst(b.Context(), link.Text, account.First{Shop: "a", ShopName: "A", NewPerson: account.NewPerson{Name: "Boss", SignIn: "boss"}, Password: "violet anchors hum below"}, account.From{}))
			for b.Loop() {
				must(a.Session(b.Context(), in.Session))
			}
		})
	}
}
