package tlsfile

import (
	"bytes"
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"time"

	"fettle/internal/diag"
)

// makeAuthority makes an authority. Its name constraints are critical (RFC 5280, 4.2.1.10): whoever gets hold of its key can vouch for
// the names of this server, and a device that trusts it trusts it with nothing else. It can make no other authority, and
// nothing but certificates of servers.
func makeAuthority(n Names, now time.Time) ([]byte, error) {
	key, serial, err := drawn()
	if err != nil {
		return nil, err
	}
	called := own.DNS[0]
	if more := len(own.DNS); len(n.DNS) > more {
		called = n.DNS[more]
	} else if more := len(own.IP); len(n.IP) > more {
		called = n.IP[more].String()
	}
	c := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "fettle, " + called}, NotBefore: now.Add(-backdated), NotAfter: now.AddDate(authorityYears, 0, 0),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: n.DNS, PermittedIPRanges: n.permitted(),
	}
	return encoded(c, c, key, key)
}

// makeLeaf makes a certificate of the server.
func makeLeaf(by pair, n Names, now time.Time) ([]byte, error) {
	key, serial, err := drawn()
	if err != nil {
		return nil, err
	}
	ends := now.Add(leafTime)
	if last := by.cert.NotAfter; ends.After(last) {
		ends = last
	}
	c := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "fettle"}, NotBefore: now.Add(-backdated), NotAfter: ends,
		BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames: n.DNS, IPAddresses: n.ips(),
	}
	signer, ok := by.tls.PrivateKey.(crypto.Signer)
	if !ok {
		return nil, &diag.Error{Kind: diag.Integrity, Op: "tls", Subject: authorityFile, Msg: "has a key that cannot sign", Hint: "take it away: a new one is made"}
	}
	return encoded(c, by.cert, key, signer)
}

// drawn is a new key, and a serial number of 127 random bits (RFC 5280, 4.1.2.2: positive, 20 octets at most).
func drawn() (*ecdsa.PrivateKey, *big.Int, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	return key, serial, err
}

// encoded is a certificate and its key as PEM.
func encoded(c, by *x509.Certificate, key *ecdsa.PrivateKey, signer crypto.Signer) ([]byte, error) {
	der, err := x509.CreateCertificate(rand.Reader, c, by, key.Public(), signer)
	if err != nil {
		return nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	for _, b := range []*pem.Block{{Type: "CERTIFICATE", Bytes: der}, {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := pem.Encode(&out, b); err != nil {
			return nil, err
		}
	}
	return out.Bytes(), nil
}
