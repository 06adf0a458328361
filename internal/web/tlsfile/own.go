// Package tlsfile owns the certificates of a server, which lie in files: those of an authority of its own, which can vouch for the
// names of this server and for nothing else, and those that somebody gives.
package tlsfile

import (
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// How long certificates last, and when a new one is made. Devices are told to trust the authority by hand, so it lasts.
const (
	authorityYears = 10
	leafTime       = 90 * 24 * time.Hour
	renewBefore    = 30 * 24 * time.Hour
	backdated      = time.Hour   // clocks of devices differ
	tryAgain       = time.Minute // after a new one could not be made
)

// Files of an authority of its own: each has a certificate and its key.
const (
	authorityFile = "authority.pem"
	leafFile      = "server.pem"
)

// Own is an authority of its own with the certificate of the server, which it makes anew before it ends.
type Own struct {
	dir       string
	names     Names
	now       func() time.Time
	told      func(error)
	authority pair

	mu    sync.Mutex
	leaf  pair
	after time.Time // not before, a new one is made
}

// OpenOwn is the authority in a folder, for the names of this server; it is made where there is none. Told is told of what goes
// wrong later.
func OpenOwn(dir string, names []string, now func() time.Time, told func(error)) (*Own, error) {
	of, err := ParseNames(names)
	if err != nil {
		return nil, err
	}
	o := &Own{dir: dir, names: of, now: now, told: told}
	file := filepath.Join(dir, authorityFile)
	o.authority, err = readOrMake(file, func() ([]byte, error) { return makeAuthority(of, now()) })
	if err != nil {
		return nil, err
	}
	if err := o.fits(file); err != nil {
		return nil, err
	}
	if o.leaf, err = readPair(filepath.Join(dir, leafFile)); err != nil || !o.good(o.leaf) {
		return o, o.renew()
	}
	return o, nil
}

// fits refuses an authority that cannot vouch for the names, or not any more.
func (o *Own) fits(file string) error {
	if o.now().After(o.authority.cert.NotAfter) {
		return denied(file, "has ended", "take it away: a new one is made, which every device has to be told to trust")
	}
	for _, n := range o.names.all() {
		if !permits(o.authority.cert, n) {
			return denied(file, "may not vouch for "+n, "serve the names it was made for, or take it away: a new one is made, which every device has to be told to trust")
		}
	}
	return nil
}

// good says of a certificate that it is one of this authority for these names, and has time left.
func (o *Own) good(p pair) bool {
	now := o.now()
	if p.cert == nil || now.Add(renewBefore).After(p.cert.NotAfter) && p.cert.NotAfter.Before(o.authority.cert.NotAfter) || now.After(p.cert.NotAfter) || now.Before(p.cert.NotBefore) {
		return false
	}
	for _, n := range o.names.all() {
		if p.cert.VerifyHostname(n) != nil {
			return false
		}
	}
	return p.cert.CheckSignatureFrom(o.authority.cert) == nil
}

// renew makes a new certificate of the server and keeps it.
func (o *Own) renew() error {
	text, err := makeLeaf(o.authority, o.names, o.now())
	if err != nil {
		return err
	}
	leaf, err := parsePair(leafFile, text)
	if err != nil {
		return err
	}
	o.leaf = leaf // it serves also where it cannot be kept
	return writePair(filepath.Join(o.dir, leafFile), text)
}

// GetCertificate is for tls.Config.
func (o *Own) GetCertificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if now := o.now(); !o.good(o.leaf) && now.After(o.after) {
		o.after = now.Add(tryAgain)
		if err := o.renew(); err != nil {
			o.told(err)
		}
	}
	return o.leaf.tls, nil
}

// Ends is when the certificate of the server ends.
func (o *Own) Ends() time.Time {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.leaf.cert.NotAfter
}

// Authority is the certificate of the authority, for devices that are to trust it, as DER.
func (o *Own) Authority() []byte { return o.authority.cert.Raw }

// AuthorityEnds is when the authority itself ends.
func (o *Own) AuthorityEnds() time.Time { return o.authority.cert.NotAfter }

// Fingerprint is the SHA-256 of the authority's certificate, as devices show it.
func (o *Own) Fingerprint() string { return fingerprint(o.authority.cert) }

func fingerprint(c *x509.Certificate) string {
	sum := sha256.Sum256(c.Raw)
	return strings.ReplaceAll(fmt.Sprintf("% X", sum[:]), " ", ":")
}
