//go:build outside

package tlsfile

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// OpenSSL, curl and Chromium, told to trust the authority, talk to the server by its name; and to a certificate for another name that
// whoever has got the key of the authority has made, none of them does.
func TestOutsideNamesAreRefused(t *testing.T) {
	dir := t.TempDir()
	o, err := OpenOwn(dir, []string{"workshop.local"}, time.Now, nil)
	if err != nil {
		t.Fatal(err)
	}
	ca := filepath.Join(dir, "ca.pem")
	if err := os.WriteFile(ca, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: o.Authority()}), 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := makeLeaf(o.authority, Names{DNS: []string{"bank.example"}, IP: own.IP}, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	bad, err := parsePair("forged", text)
	if err != nil {
		t.Fatal(err)
	}
	fine := served(t, o.leaf.tls)
	forged := served(t, bad.tls)
	for _, c := range []struct {
		name, port string
		leaf       *x509.Certificate
		ok         bool
	}{{"workshop.local", fine, o.leaf.cert, true}, {"bank.example", forged, bad.cert, false}, {"other.local", fine, o.leaf.cert, false}} {
		file := filepath.Join(dir, "leaf.pem")
		if err := os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.leaf.Raw}), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("openssl", "verify", "-CAfile", ca, "-purpose", "sslserver", "-verify_hostname", c.name, file).CombinedOutput()
		if (err == nil) != c.ok {
			t.Errorf("openssl, %s: %v %s", c.name, err, out)
		}
		out, err = exec.Command("curl", "-sS", "--noproxy", "*", "--cacert", ca, "--resolve", c.name+":"+c.port+":127.0.0.1", "https://"+c.name+":"+c.port+"/").CombinedOutput()
		if (err == nil && strings.Contains(string(out), greeting)) != c.ok {
			t.Errorf("curl, %s: %v %s", c.name, err, out)
		}
		page := inChromium(t, ca, c.name, c.port)
		if strings.Contains(page, greeting) != c.ok {
			t.Errorf("Chromium, %s: %.600s", c.name, page)
		}
	}
}

const greeting = "it is this server"

// served serves over TLS with a certificate, and is the port.
func served(t *testing.T, c *tls.Certificate) string {
	t.Helper()
	l, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: []tls.Certificate{*c}, NextProtos: []string{"http/1.1"}})
	if err != nil {
		t.Fatal(err)
	}
	s := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		fmt.Fprint(w, "<p>"+greeting+"</p>")
	})}
	go s.Serve(l)
	t.Cleanup(func() { s.Close() })
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return port
}

// inChromium is the page that Chromium shows, with the authority in the store of the person who runs it.
func inChromium(t *testing.T, ca, name, port string) string {
	t.Helper()
	home := t.TempDir()
	store := filepath.Join(home, ".pki", "nssdb")
	if err := os.MkdirAll(store, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"-N", "--empty-password"}, {"-A", "-n", "fettle", "-t", "C,,", "-i", ca}} {
		if out, err := exec.Command("certutil", append([]string{"-d", "sql:" + store}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("certutil: %v %s", err, out)
		}
	}
	cmd := exec.Command("chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--no-proxy-server", "--disable-background-networking", "--disable-component-update", "--disable-sync",
		"--host-resolver-rules=MAP "+name+" 127.0.0.1", "--user-data-dir="+filepath.Join(home, "data"), "--dump-dom", "https://"+name+":"+port+"/")
	cmd.Env = append(os.Environ(), "HOME="+home)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("chromium: %v", err)
	}
	return string(out)
}
