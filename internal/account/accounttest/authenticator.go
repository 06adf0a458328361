package accounttest

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

// Authenticator is a passkey and the browser before it, as Web Authentication, level 3, sections 5 and 6, has them: it reads what a page is given and
// answers what a page sends. Each field makes it another, or a hostile one.
type Authenticator struct {
	t       *testing.T
	Origin  string // of the page
	Site    string // the RP id that is signed; empty: the one that was asked for
	Counter uint32
	Step    uint32 // by which the counter goes on
	Flags   byte   // 0x01 user present, 0x04 user verified
	Type    string // of the ceremony; empty: the right one
	Cross   bool

	key    *ecdsa.PrivateKey
	id     []byte
	Handle []byte // as it was given
}

// Flags of an authenticator.
const UserPresent, UserVerified, attested = 0x01, 0x04, 0x40

// NewAuthenticator is one before a page of an origin.
func NewAuthenticator(t *testing.T, origin string) *Authenticator {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	id := make([]byte, 32)
	if err == nil {
		_, err = rand.Read(id)
	}
	if err != nil {
		t.Fatal(err)
	}
	return &Authenticator{t: t, Origin: origin, Step: 1, Flags: UserPresent | UserVerified, key: key, id: id}
}

func b64(b []byte) string { return base64.RawURLEncoding.EncodeToString(b) }

func (a *Authenticator) must(err error) {
	a.t.Helper()
	if err != nil {
		a.t.Fatal(err)
	}
}

// Asked is what a page is given, through JSON.
func (a *Authenticator) Asked(options any) (out struct {
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

func (a *Authenticator) client(typ, challenge string) []byte {
	if a.Type != "" {
		typ = a.Type
	}
	b, err := json.Marshal(map[string]any{"type": typ, "challenge": challenge, "origin": a.Origin, "crossOrigin": a.Cross})
	a.must(err)
	return b
}

// data is the authenticator data (section 6.1).
func (a *Authenticator) data(site string, flags byte) []byte {
	if a.Site != "" {
		site = a.Site
	}
	hash := sha256.Sum256([]byte(site))
	return binary.BigEndian.AppendUint32(append(hash[:], flags), a.Counter)
}

// Creates answers the question for a new passkey.
func (a *Authenticator) Creates(options any) []byte {
	a.t.Helper()
	o := a.Asked(options).PublicKey
	handle, err := base64.RawURLEncoding.DecodeString(o.User.ID)
	a.must(err)
	a.Handle = handle
	pub, err := a.key.PublicKey.Bytes() // 4, x, y
	a.must(err)
	cose, err := webauthncbor.Marshal(map[int]any{1: 2, 3: -7, -1: 1, -2: pub[1:33], -3: pub[33:]})
	a.must(err)
	data := append(a.data(o.RP.ID, a.Flags|attested), make([]byte, 16)...)
	data = append(binary.BigEndian.AppendUint16(data, uint16(len(a.id))), a.id...)
	object, err := webauthncbor.Marshal(map[string]any{"fmt": "none", "attStmt": map[string]any{}, "authData": append(data, cose...)})
	a.must(err)
	out, err := json.Marshal(map[string]any{"id": b64(a.id), "rawId": b64(a.id), "type": "public-key", "clientExtensionResults": map[string]any{},
		"response": map[string]any{"clientDataJSON": b64(a.client("webauthn.create", o.Challenge)), "attestationObject": b64(object), "transports": []string{"internal"}}})
	a.must(err)
	return out
}

// Signs answers the question for the passkey.
func (a *Authenticator) Signs(options any) []byte {
	a.t.Helper()
	o := a.Asked(options).PublicKey
	a.Counter += a.Step
	client, data := a.client("webauthn.get", o.Challenge), a.data(o.RPID, a.Flags)
	hash := sha256.Sum256(client)
	sum := sha256.Sum256(append(append([]byte{}, data...), hash[:]...))
	sig, err := ecdsa.SignASN1(rand.Reader, a.key, sum[:])
	a.must(err)
	out, err := json.Marshal(map[string]any{"id": b64(a.id), "rawId": b64(a.id), "type": "public-key", "clientExtensionResults": map[string]any{},
		"response": map[string]any{"clientDataJSON": b64(client), "authenticatorData": b64(data), "signature": b64(sig), "userHandle": b64(a.Handle)}})
	a.must(err)
	return out
}
