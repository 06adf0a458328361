package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
)

// Aside is a text that stands beside an entry: a name, a remark of a person. The payload
// holds its seal in its place. Without the text the chain still verifies, and nobody can
// guess the text from the seal: the salt that was hashed with it goes with it.
type Aside struct {
	Salt string `json:"salt"` // drawn for this text alone: 32 bytes in hexadecimal
	Text string `json:"text"`
}

// sealForm is hashed with every text.
const sealForm = "fettle-aside 1"

const (
	sealMark = "sealed:"
	saltLen  = 64 // digits
)

// Seal is what stands in the payload for the text: SHA-256 over the canonical form of
// the text, its salt and the form.
func (a Aside) Seal() (string, error) {
	if len(a.Salt) != saltLen || strings.Trim(a.Salt, "0123456789abcdef") != "" {
		return "", fmt.Errorf("the salt of a text has %d digits 0 to 9 and a to f", saltLen)
	}
	b, err := Canonical(map[string]any{"format": sealForm, "salt": a.Salt, "text": a.Text})
	h := sha256.Sum256(b)
	return sealMark + hex.EncodeToString(h[:]), err
}

// IsSeal says that a text of a payload is a seal.
func IsSeal(s string) bool {
	digits, ok := strings.CutPrefix(s, sealMark)
	return ok && len(digits) == 2*sha256.Size && strings.Trim(digits, "0123456789abcdef") == ""
}

// Unsealed is the texts beside an entry by their seals. What is not there was erased.
func (e Entry) Unsealed() map[string]string {
	out := map[string]string{}
	for _, a := range e.Beside {
		if seal, err := a.Seal(); err == nil {
			out[seal] = a.Text
		}
	}
	return out
}
