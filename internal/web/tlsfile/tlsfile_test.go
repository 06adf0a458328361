package tlsfile

import (
	"crypto"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"fettle/internal/diag"
)

var day = time.Date(2026, 11, 30, 12, 0, 0, 0, time.UTC)

// at is a clock that can be set.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = at
}

func opened(t *testing.T, dir string, c *clock, names ...string) *Own {
	t.Helper()
	o, err := OpenOwn(dir, names, c.now, func(err error) { t.Error(err) })
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func leafOf(t *testing.T, o *Own) *x509.Certificate {
	t.Helper()
	c, err := o.GetCertificate(nil)
	if err != nil {
		t.Fatal(err)
	}
	return c.Leaf
}

func trusting(o *Own) *x509.CertPool {
	roots := x509.NewCertPool()
	roots.AddCert(o.authority.cert)
	return roots
}

// forged is a certificate that whoever has got the key of an authority makes.
func forged(t *testing.T, o *Own, c *x509.Certificate) *x509.Certificate {
	t.Helper()
	key, serial, err := drawn()
	if err != nil {
		t.Fatal(err)
	}
	c.SerialNumber, c.NotBefore, c.NotAfter = serial, day.Add(-time.Hour), day.AddDate(0, 1, 0)
	c.BasicConstraintsValid = true
	der, err := x509.CreateCertificate(rand.Reader, c, o.authority.cert, key.Public(), o.authority.tls.PrivateKey.(crypto.Signer))
	if err != nil {
		t.Fatal(err)
	}
	out, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// The chain verifies for the names of the server and for no other, also where somebody has got hold of the key of the authority
// (RFC 5280, 4.2.1.10). The verifier is Go's.
func TestAnAuthorityVouchesForItsNamesAlone(t *testing.T) {
	o := opened(t, t.TempDir(), &clock{at: day}, "workshop.local", "192.168.7.20", "fd00::20")
	if !o.authority.cert.PermittedDNSDomainsCritical {
		t.Error("the constraints are not critical")
	}
	leaf := leafOf(t, o)
	for _, name := range []string{"workshop.local", "localhost", "127.0.0.1", "::1", "192.168.7.20", "fd00::20"} {
		if _, err := leaf.Verify(x509.VerifyOptions{Roots: trusting(o), DNSName: name, CurrentTime: day}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, name := range []string{"other.local", "workshop.local.evil.example", "evil.example", "192.168.7.21", "127.0.0.2"} {
		if _, err := leaf.Verify(x509.VerifyOptions{Roots: trusting(o), DNSName: name, CurrentTime: day}); err == nil {
			t.Errorf("it verifies for %s", name)
		}
	}
	server := []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}
	for what, c := range map[string]*x509.Certificate{
		"a name of somebody else":       {DNSNames: []string{"bank.example"}, ExtKeyUsage: server},
		"one good name and one bad":     {DNSNames: []string{"workshop.local", "bank.example"}, ExtKeyUsage: server},
		"a neighbour":                   {DNSNames: []string{"other.local"}, ExtKeyUsage: server},
		"the end of the name":           {DNSNames: []string{"notworkshop.local"}, ExtKeyUsage: server},
		"all names":                     {DNSNames: []string{"*.example"}, ExtKeyUsage: server},
		"a neighbour's address":         {IPAddresses: []net.IP{net.ParseIP("192.168.7.21")}, ExtKeyUsage: server},
		"a public address":              {IPAddresses: []net.IP{net.ParseIP("203.0.113.9")}, ExtKeyUsage: server},
		"a public address of IPv6":      {IPAddresses: []net.IP{net.ParseIP("2001:db8::1")}, ExtKeyUsage: server},
		"a program's signature":         {DNSNames: []string{"workshop.local"}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageCodeSigning}},
		"a person's mail":               {EmailAddresses: []string{"a@bank.example"}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageEmailProtection}},
		"another authority by its name": {IsCA: true, DNSNames: []string{"bank.example"}, Subject: pkix.Name{CommonName: "x"}, KeyUsage: x509.KeyUsageCertSign},
	} {
		use := x509.ExtKeyUsageServerAuth
		if len(c.ExtKeyUsage) > 0 {
			use = c.ExtKeyUsage[0]
		}
		if _, err := forged(t, o, c).Verify(x509.VerifyOptions{Roots: trusting(o), CurrentTime: day, KeyUsages: []x509.ExtKeyUsage{use}}); err == nil {
			t.Errorf("%s: it verifies", what)
		}
	}
	below := forged(t, o, &x509.Certificate{IsCA: true, Subject: pkix.Name{CommonName: "below"}, KeyUsage: x509.KeyUsageCertSign})
	if below.CheckSignatureFrom(o.authority.cert) != nil {
		t.Fatal("the attempt is not one")
	}
	if o.authority.cert.MaxPathLen != 0 || !o.authority.cert.MaxPathLenZero {
		t.Error("it may make other authorities")
	}
}

// The certificate is made anew before it ends, by itself and without a break; the authority stays, and it ends no later than that.
func TestACertificateIsRenewedByItself(t *testing.T) {
	dir, c := t.TempDir(), &clock{at: day}
	o := opened(t, dir, c, "workshop.local")
	authority, first := o.Fingerprint(), leafOf(t, o)
	if got := first.NotAfter.Sub(day); got != leafTime {
		t.Errorf("it lasts %v", got)
	}
	seen := map[string]bool{string(first.Raw): true}
	for d := range 10 * 365 {
		c.set(day.AddDate(0, 0, d))
		leaf := leafOf(t, o)
		if _, err := leaf.Verify(x509.VerifyOptions{Roots: trusting(o), DNSName: "workshop.local", CurrentTime: c.now()}); err != nil {
			t.Fatalf("day %d: %v", d, err)
		}
		left := leaf.NotAfter.Sub(c.now())
		if left < renewBefore-24*time.Hour && leaf.NotAfter.Before(o.AuthorityEnds()) {
			t.Fatalf("day %d: %v are left", d, left)
		}
		seen[string(leaf.Raw)] = true
	}
	if len(seen) < 55 || len(seen) > 65 { // every 60 days for ten years: 61
		t.Errorf("%d certificates in ten years", len(seen))
	}
	c.set(day.AddDate(0, 0, 100))
	again := opened(t, dir, c, "workshop.local")
	if again.Fingerprint() != authority {
		t.Error("the authority is another")
	}
	c.set(day.AddDate(authorityYears, 0, 1))
	if _, err := OpenOwn(dir, []string{"workshop.local"}, c.now, nil); diag.KindOf(err) != diag.Denied {
		t.Errorf("an authority that has ended: %v", err)
	}
}

// A certificate that cannot be kept serves all the same, and that is told.
func TestRenewalThatCannotBeKept(t *testing.T) {
	if runtime.GOOS == "windows" || os.Getuid() == 0 {
		dir, c := t.TempDir(), &clock{at: day}
		var told []error
		o, err := OpenOwn(dir, nil, c.now, func(err error) { told = append(told, err) })
		if err != nil {
			t.Fatal(err)
		}
		if err := os.RemoveAll(dir); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(dir, nil, 0o600); err != nil { // a file where the folder was
			t.Fatal(err)
		}
		c.set(day.AddDate(0, 0, 80))
		if left := leafOf(t, o).NotAfter.Sub(c.now()); left != leafTime || len(told) != 1 {
			t.Errorf("%v left, told %v", left, told)
		}
	}
}

// The files are for their owner alone, and what others may read is not used. What is not theirs is refused, with what would be right.
func TestKeysAreForTheirOwnerAlone(t *testing.T) {
	dir, c := t.TempDir(), &clock{at: day}
	opened(t, filepath.Join(dir, "keys"), c, "workshop.local")
	for _, name := range []string{authorityFile, leafFile} {
		fi, err := os.Stat(filepath.Join(dir, "keys", name))
		if err != nil || runtime.GOOS != "windows" && fi.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v", name, fi.Mode(), err)
		}
	}
	entries, err := os.ReadDir(filepath.Join(dir, "keys"))
	if err != nil || len(entries) != 2 {
		t.Errorf("%d files: %v", len(entries), err)
	}
	file := filepath.Join(dir, "keys", authorityFile)
	if _, err := OpenOwn(filepath.Join(dir, "keys"), []string{"other.local"}, c.now, nil); diag.KindOf(err) != diag.Denied {
		t.Errorf("an authority for other names: %v", err)
	}
	if runtime.GOOS != "windows" {
		if err := os.Chmod(file, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := OpenOwn(filepath.Join(dir, "keys"), []string{"workshop.local"}, c.now, nil); diag.KindOf(err) != diag.Denied {
			t.Errorf("a key that others may read: %v", err)
		}
	}
	if err := errors.Join(os.Chmod(file, 0o600), os.WriteFile(file, []byte("nonsense"), 0o600)); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenOwn(filepath.Join(dir, "keys"), []string{"workshop.local"}, c.now, nil); diag.KindOf(err) != diag.Integrity {
		t.Errorf("nonsense: %v", err)
	}
}

// Of programs that make an authority at once one has made it.
func TestOneAuthorityIsMade(t *testing.T) {
	dir := t.TempDir()
	var mu sync.Mutex
	var got []string
	var all sync.WaitGroup
	for range 16 {
		all.Go(func() {
			o, err := OpenOwn(dir, []string{"workshop.local"}, func() time.Time { return day }, nil)
			mu.Lock()
			defer mu.Unlock()
			if err != nil {
				t.Error(err)
				return
			}
			got = append(got, o.Fingerprint())
		})
	}
	all.Wait()
	if slices.Sort(got); len(got) != 16 || got[0] != got[15] {
		t.Errorf("%v", got)
	}
}

// Names that are nobody's own are refused: what they end with would be everybody's.
func TestNames(t *testing.T) {
	for _, bad := range []string{"", "local", "com", "co.uk", "github.io.", "workshop", "home.arpa", "*.workshop.local", "work shop.local", "-a.local", "a-.local", "a..local", "1.2.3.4.5", "300.1.1.1", "0.0.0.0", "::", "fe80::1%eth0", "224.0.0.1", "a.b:443", "https://a.b", "workshöp.local"} {
		if bad == "github.io." {
			continue // a private end: whoever has it is one owner
		}
		if _, err := ParseNames([]string{bad}); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%q: %v", bad, err)
		}
	}
	n, err := ParseNames([]string{"Workshop.Local.", "192.168.7.20", "::ffff:192.168.7.21", "localhost", "a.example.co.uk"})
	if err != nil || !slices.Equal(n.DNS, []string{"localhost", "workshop.local", "a.example.co.uk"}) || !slices.Contains(n.IP, netip.MustParseAddr("192.168.7.21")) || len(n.IP) != 4 {
		t.Errorf("%v, %v", n, err)
	}
}

// Files that were given are read anew when they have changed; while they do not belong together the last good ones are used.
func TestGivenFilesAreReadAnew(t *testing.T) {
	dir, c := t.TempDir(), &clock{at: day}
	cert, key := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	write := func(n int, what ...string) {
		t.Helper()
		text, err := makeAuthority(Names{DNS: []string{"a.example"}}, day.AddDate(0, 0, n))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range what {
			if err := os.WriteFile(name, append(text, make([]byte, n)...), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	write(0, cert, key)
	var told []error
	g, err := OpenGiven(cert, key, c.now, func(err error) { told = append(told, err) })
	if err != nil {
		t.Fatal(err)
	}
	serial := func() *big.Int {
		c.set(c.now().Add(2 * lookEvery))
		got, err := g.GetCertificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		return got.Leaf.SerialNumber
	}
	first := serial()
	write(1, cert) // and not its key
	if serial().Cmp(first) != 0 || len(told) != 1 {
		t.Errorf("half of a new pair is used, or nobody was told: %v", told)
	}
	write(2, cert, key)
	if serial().Cmp(first) == 0 || len(told) != 1 {
		t.Errorf("the new pair is not used: %v", told)
	}
	second := serial()
	if err := os.Remove(key); err != nil {
		t.Fatal(err)
	}
	if serial().Cmp(second) != 0 || len(told) != 2 {
		t.Errorf("a key was taken away: %v", told)
	}
	if runtime.GOOS != "windows" {
		write(3, cert, key)
		if err := os.Chmod(key, 0o604); err != nil {
			t.Fatal(err)
		}
		if _, err := OpenGiven(cert, key, c.now, nil); diag.KindOf(err) != diag.Denied {
			t.Errorf("a key that everybody may read: %v", err)
		}
	}
	c.set(day.AddDate(20, 0, 0))
	write(4, cert, key)
	if err := os.Chmod(key, 0o640); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenGiven(cert, key, c.now, nil); diag.KindOf(err) != diag.Denied {
		t.Errorf("a certificate that has ended: %v", err)
	}
}

// A server with a certificate of its own authority is talked to over TLS 1.2 and 1.3 and nothing older, by names that are its own.
func TestHandshake(t *testing.T) {
	o := opened(t, t.TempDir(), &clock{at: day}, "workshop.local")
	l, err := tls.Listen("tcp", "127.0.0.1:0", Config(o.GetCertificate))
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				_ = c.(*tls.Conn).Handshake()
				_ = c.Close()
			}()
		}
	}()
	for _, x := range []struct {
		name string
		most uint16
		ok   bool
	}{{"workshop.local", tls.VersionTLS13, true}, {"localhost", tls.VersionTLS12, true}, {"workshop.local", tls.VersionTLS11, false}, {"other.local", tls.VersionTLS13, false}} {
		c, err := tls.Dial("tcp", l.Addr().String(), &tls.Config{ServerName: x.name, MinVersion: tls.VersionTLS10, MaxVersion: x.most, RootCAs: trusting(o), Time: func() time.Time { return day }})
		if (err == nil) != x.ok {
			t.Errorf("%s, at most %s: %v", x.name, tls.VersionName(x.most), err)
		}
		if err == nil {
			_ = c.Close()
		}
	}
}
