//go:build !linux

// Package postgrestest starts a private PostgreSQL server for tests; on this system it leaves them out.
package postgrestest

import "testing"

// Server is a server that is not there.
type Server struct{}

// Run runs the tests of a package.
func Run(m *testing.M) int { return m.Run() }

// Start leaves the test out.
func Start(t testing.TB, _ ...string) *Server {
	t.Helper()
	t.Skip("a private PostgreSQL is started on Linux only")
	return nil
}

// Shared leaves the test out.
func Shared(t testing.TB) *Server { return Start(t) }

// Database is no address.
func (*Server) Database(testing.TB) string { return "" }

// Schema is no address.
func (*Server) Schema(testing.TB) string { return "" }

// Kill does nothing.
func (*Server) Kill(testing.TB) {}

// KillFirst does nothing.
func (*Server) KillFirst(testing.TB) {}

// StopAtOnce does nothing.
func (*Server) StopAtOnce(testing.TB) {}

// KillOne does nothing.
func (*Server) KillOne(testing.TB) {}

// Launch does nothing.
func (*Server) Launch(testing.TB) {}

// Answers does nothing.
func (*Server) Answers(testing.TB) {}

// Again does nothing.
func (*Server) Again(testing.TB) {}

// Stop does nothing.
func (*Server) Stop(testing.TB) {}
