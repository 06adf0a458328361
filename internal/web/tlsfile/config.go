package tlsfile

import "crypto/tls"

// Config is how a server talks TLS: 1.2 (RFC 9325, 3.1.1) or newer, with the ciphers of the library.
func Config(certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)) *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: certificate}
}
