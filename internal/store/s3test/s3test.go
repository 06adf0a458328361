// Package s3test starts S3 stores for tests: one in memory, and a server of others that checks who asks, which
// scripts/setup.sh builds.
package s3test

import (
	"bytes"
	"errors"
	"log"
	"net"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// Region is that of all stores here.
const Region = "us-east-1"

// Server is a store with one bucket.
type Server struct {
	Endpoint, Bucket, KeyID, Secret string
	Stop                            func() // ends it before the test does
}

// Double is an S3 store in memory, which does not look at who asks.
func Double(t testing.TB) Server {
	t.Helper()
	backend := s3mem.New()
	if err := backend.CreateBucket("shop"); err != nil {
		t.Fatal(err)
	}
	server := httptest.NewUnstartedServer(gofakes3.New(backend).Server())
	server.Config.ErrorLog = log.New(nothingWritten{}, "", 0)
	server.Start()
	stop := func() { server.CloseClientConnections(); server.Close() }
	t.Cleanup(stop)
	return Server{server.URL, "shop", "id", "a-secret", stop}
}

type nothingWritten struct{}

func (nothingWritten) Write(p []byte) (int, error) { return len(p), nil }

// Real is a server that checks who asks, on a folder.
func Real(t testing.TB) Server {
	t.Helper()
	program := built(t)
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := free.Addr().String()
	dir := t.TempDir()
	if err := errors.Join(free.Close(), os.MkdirAll(filepath.Join(dir, "top", "shop"), 0o755), os.Mkdir(filepath.Join(dir, "side"), 0o755)); err != nil {
		t.Fatal(err)
	}
	s := Server{Endpoint: "http://" + address, Bucket: "shop", KeyID: "invented-id", Secret: "invented-secret-0123456789"}
	server := exec.Command(program, "--quiet", "--keep-alive", "--port", address, "posix", "--sidecar", filepath.Join(dir, "side"), filepath.Join(dir, "top"))
	server.Env = append(os.Environ(), "ROOT_ACCESS_KEY="+s.KeyID, "ROOT_SECRET_KEY="+s.Secret)
	var said bytes.Buffer
	server.Stdout, server.Stderr = &said, &said
	if err := server.Start(); err != nil {
		t.Fatal(err)
	}
	stopped := false
	s.Stop = func() {
		if !stopped {
			stopped = true
			_ = server.Process.Kill() // it may have ended by itself
			_ = server.Wait()         // the error says that it was killed
		}
	}
	t.Cleanup(s.Stop)
	for began := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		conn, err := net.Dial("tcp", address)
		if err == nil {
			if err := conn.Close(); err != nil {
				t.Error(err)
			}
			return s
		}
		if time.Since(began) > time.Minute {
			s.Stop()
			t.Fatalf("%v\n%s", err, said.String())
		}
	}
}

// built is the program of the server, beside the module that the test is of.
func built(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for ; dir != filepath.Dir(dir); dir = filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
	}
	program := filepath.Join(dir, "build", "s3server")
	if _, err := os.Stat(program); err != nil {
		t.Fatalf("%v: run scripts/setup.sh", err)
	}
	return program
}
