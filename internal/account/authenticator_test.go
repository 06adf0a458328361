package account_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"testing"

	"github.com/go-webauthn/webauthn/protocol/webauthncbor"
)

// authenticator is a passkey and the browser before it, as Web Authentication, level 3, sections 5 and 6, has them: it reads what a page is given and
// answers what a page sends. Each field makes it another, or a hostile one.
type authenticator struct {
	t       *testing.T
	origin  string // of the page
	site    string // the RP id that is signed; empty: the one that was asked for
	counter uint32
	step    uint32 // by which the counter goes on
	flags   byte   // 0x01 user present, 0x04 user verified
	typ     string // of the ceremony; empty: the right one
	cross   bool

	key    *ecdsa.PrivateKey
	id     []byte
	handle []byte // as it was given
}

const present, verified, attested = 0x01, 0x04, 0x40

func newAuthenticator(t *testing.T) *authenticator {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return &authenticator{t: t, origin: "https://fettle.example:8443", step: 1, flags: present | verified, key: key, id: make32(t)}
}

func b64(b []byte) string { return base64.RawURLEncoding.EncodeToString(b) }

func (a *authenticator) must(err error) {
	a.t.Helper()
	if err != nil {
		a.t.Fatal(err)
	}
}

// asked is what a page is given, through JSON.
func (a *authenticator) asked(options any) (out struct {
	PublicKey struct {
		Challenge              string
		RPID                   string
		RP                     struct{ ID string }
		User                   struct{ ID string }
		UserVerification       string
		AllowCredentials       []any
		AuthenticatorSelection struct{ UserVerification, ResidentKey string }
	}
}) {
	b, err := json.Marshal(options)
	a.must(err)
	a.must(json.Unmarshal(b, &out))
	return out
}

func (a *authenticator) client(typ, challenge string) []byte {
	if a.typ != "" {
		typ = a.typ
	}
	b, err := json.Marshal(map[string]any{"type": typ, "challenge": challenge, "origin": a.origin, "crossOrigin": a.cross})
	a.must(err)
	return b
}

// data is the authenticator data (section 6.1).
func (a *authenticator) data(site string, flags byte) []byte {
	if a.site != "" {
		site = a.site
	}
	hash := sha256.Sum256([]byte(site))
	return binary.BigEndian.AppendUint32(append(hash[:], flags), a.counter)
}

// creates answers the question for a new passkey.
func (a *authenticator) creates(options any) []byte {
	a.t.Helper()
	o := a.asked(options).PublicKey
	handle, err := base64.RawURLEncoding.DecodeString(o.User.ID)
	a.must(err)
	a.handle = handle
	pub, err := a.key.PublicKey.Bytes() // 4, x, y
	a.must(err)
	cose, err := webauthncbor.Marshal(map[int]any{1: 2, 3: -7, -1: 1, -2: pub[1:33], -3: pub[33:]})
	a.must(err)
	data := append(a.data(o.RP.ID, a.flags|attested), make([]byte, 16)...)
	data = append(binary.BigEndian.AppendUint16(data, uint16(len(a.id))), a.id...)
	object, err := webauthncbor.Marshal(map[string]any{"fmt": "none", "attStmt": map[string]any{}, "authData": append(data, cose...)})
	a.must(err)
	out, err := json.Marshal(map[string]any{"id": b64(a.id), "rawId": b64(a.id), "type": "public-key", "clientExtensionResults": map[string]any{},
		"response": map[string]any{"clientDataJSON": b64(a.client("webauthn.create", o.Challenge)), "attestationObject": b64(object), "transports": []string{"internal"}}})
	a.must(err)
	return out
}

// signs answers the question for the passkey.
func (a *authenticator) signs(options any) []byte {
	a.t.Helper()
	o := a.asked(options).PublicKey
	a.counter += a.step
	client, data := a.client("webauthn.get", o.Challenge), a.data(o.RPID, a.flags)
	hash := sha256.Sum256(client)
	sum := sha256.Sum256(append(append([]byte{}, data...), hash[:]...))
	sig, err := ecdsa.SignASN1(rand.Reader, a.key, sum[:])
	a.must(err)
	out, err := json.Marshal(map[string]any{"id": b64(a.id), "rawId": b64(a.id), "type": "public-key", "clientExtensionResults": map[string]any{},
		"response": map[string]any{"clientDataJSON": b64(client), "authenticatorData": b64(data), "signature": b64(sig), "userHandle": b64(a.handle)}})
	a.must(err)
	return out
}
