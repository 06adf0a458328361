package tlsfile

import (
	"crypto/tls"
	"os"
	"sync"
	"time"
)

// lookEvery is how often files that were given are looked at.
const lookEvery = time.Second

// Given is a certificate that somebody gives, in files that are read anew when they have changed.
type Given struct {
	cert, key string
	now       func() time.Time
	told      func(error)

	mu     sync.Mutex
	pair   pair
	seen   [2]version
	looked time.Time
}

// version tells a file from what it was before.
type version struct {
	at   time.Time
	size int64
}

// OpenGiven reads a certificate, with those between it and its authority, and its key. Told is told of what goes wrong later: the last good ones
// go on being used.
func OpenGiven(cert, key string, now func() time.Time, told func(error)) (*Given, error) {
	g := &Given{cert: cert, key: key, now: now, told: told}
	if err := g.read(); err != nil {
		return nil, err
	}
	if now().After(g.pair.cert.NotAfter) {
		return nil, denied(cert, "has a certificate that ended on "+g.pair.cert.NotAfter.UTC().Format(time.DateOnly), "have a new one made")
	}
	return g, nil
}

func (g *Given) read() error {
	seen := g.versions()
	cert, err := os.ReadFile(g.cert)
	if err != nil {
		return denied(g.cert, "cannot be read", "give the file of the certificate, as PEM")
	}
	key, err := readSecret(g.key, 0o007) // a group of those who may read keys is common
	if err != nil {
		return err
	}
	p, err := madePair(g.cert+" with "+g.key, cert, key)
	if err != nil {
		return err
	}
	g.pair, g.seen = p, seen
	return nil
}

func (g *Given) versions() (v [2]version) {
	for i, name := range []string{g.cert, g.key} {
		if fi, err := os.Stat(name); err == nil {
			v[i] = version{fi.ModTime(), fi.Size()}
		}
	}
	return v
}

// GetCertificate is for tls.Config.
func (g *Given) GetCertificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if now := g.now(); now.Sub(g.looked) >= lookEvery || now.Before(g.looked) {
		g.looked = now
		if g.versions() != g.seen {
			if err := g.read(); err != nil {
				g.told(err) // one of them is there before the other: the next look finds both
			}
		}
	}
	return g.pair.tls, nil
}

// Ends is when the certificate ends.
func (g *Given) Ends() time.Time {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.pair.cert.NotAfter
}
