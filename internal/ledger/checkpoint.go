package ledger

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Checkpoint is what a log was at some moment: whoever keeps it elsewhere finds out when anything before it was
// changed, left out or made anew.
type Checkpoint struct {
	Origin string // which log it is of
	Size   int64  // how many leaves
	Root   Hash
}

// Text is the checkpoint as lines: origin, size, root. It is the form that logs of other programs have too
// (C2SP tlog-checkpoint; from memory).
func (c Checkpoint) Text() string {
	return fmt.Sprintf("%s\n%d\n%s\n", c.Origin, c.Size, base64.StdEncoding.EncodeToString(c.Root[:]))
}

// ParseCheckpoint reads what Text writes.
func ParseCheckpoint(text string) (Checkpoint, error) {
	var c Checkpoint
	parts := strings.Split(text, "\n")
	if len(parts) != 4 {
		return c, errors.New("a checkpoint has three lines: origin, size, root")
	}
	size, err := strconv.ParseInt(parts[1], 10, 64)
	root, bad := base64.StdEncoding.Strict().DecodeString(parts[2])
	if err != nil || bad != nil || size < 0 || len(root) != len(c.Root) {
		return c, errors.New("it does not say how many leaves the log has, and its root")
	}
	c = Checkpoint{Origin: parts[0], Size: size}
	copy(c.Root[:], root)
	if c.Origin == "" || c.Text() != text {
		return Checkpoint{}, errors.New("it is not written as a checkpoint is")
	}
	return c, nil
}

// A signed note is a text, an empty line, and lines with signatures: the dash, the name of the key, and the
// number of the key with the signature in base64. The form is that of package golang.org/x/mod/sumdb/note, against
// which it is tested; only keys of Ed25519 are taken.

const (
	sigMark = "— "
	algEd   = 1 // the byte that stands before a key of Ed25519
)

// keyNumber tells keys of one name apart.
func keyNumber(name string, key ed25519.PublicKey) uint32 {
	h := sha256.New()
	h.Write([]byte(name + "\n"))
	h.Write([]byte{algEd})
	h.Write(key)
	return binary.BigEndian.Uint32(h.Sum(nil))
}

// KeyText is a public key as it is given to whoever verifies: name, number, key.
func KeyText(name string, key ed25519.PublicKey) string {
	return fmt.Sprintf("%s+%08x+%s", name, keyNumber(name, key), base64.StdEncoding.EncodeToString(append([]byte{algEd}, key...)))
}

// ParseKey reads what KeyText writes.
func ParseKey(text string) (name string, key ed25519.PublicKey, err error) {
	name, rest, _ := strings.Cut(text, "+")
	number, coded, _ := strings.Cut(rest, "+")
	data, err := base64.StdEncoding.DecodeString(coded)
	if err != nil || len(data) != 1+ed25519.PublicKeySize || data[0] != algEd || checkKeyName(name) != nil {
		return "", nil, errors.New("it is no public key: a name, a number and the key, with + between them")
	}
	key = data[1:]
	if n, err := hex.DecodeString(number); err != nil || len(n) != 4 || binary.BigEndian.Uint32(n) != keyNumber(name, key) {
		return "", nil, errors.New("the number of the key is not that of its name and content")
	}
	return name, key, nil
}

func checkKeyName(name string) error {
	if name == "" || !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsSpace) || strings.Contains(name, "+") {
		return errors.New("the name of a key is a text without blanks and +")
	}
	return nil
}

// checkNoteText: a text of lines without control characters, so that nothing in it can be taken for something else.
func checkNoteText(text string) error {
	if !strings.HasSuffix(text, "\n") || !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return r < ' ' && r != '\n' }) {
		return errors.New("a text that is signed consists of whole lines without control characters")
	}
	return nil
}

// Sign makes a signed note.
func Sign(text, name string, key ed25519.PrivateKey) (string, error) {
	if err := errors.Join(checkNoteText(text), checkKeyName(name)); err != nil {
		return "", err
	}
	if len(key) != ed25519.PrivateKeySize {
		return "", errors.New("this is no key of Ed25519")
	}
	data := binary.BigEndian.AppendUint32(nil, keyNumber(name, ed25519.PublicKey(key[ed25519.PrivateKeySize-ed25519.PublicKeySize:])))
	data = append(data, ed25519.Sign(key, []byte(text))...)
	return text + "\n" + sigMark + name + " " + base64.StdEncoding.EncodeToString(data) + "\n", nil
}

// OpenNote is the text of a note that a key has signed; signatures of others are passed over.
func OpenNote(note, name string, key ed25519.PublicKey) (string, error) {
	if len(key) != ed25519.PublicKeySize {
		return "", errors.New("this is no key of Ed25519")
	}
	at := strings.LastIndex(note, "\n\n")
	if at < 0 || !strings.HasSuffix(note, "\n") {
		return "", errors.New("it is no signed note: a text, an empty line and lines with signatures")
	}
	text := note[:at+1]
	if err := checkNoteText(text); err != nil {
		return "", err
	}
	for line := range strings.Lines(note[at+2:]) {
		who, coded, ok := strings.Cut(strings.TrimSuffix(strings.TrimPrefix(line, sigMark), "\n"), " ")
		data, err := base64.StdEncoding.DecodeString(coded)
		if !ok || !strings.HasPrefix(line, sigMark) || err != nil || len(data) < 5 {
			return "", errors.New("a line behind the text is no signature")
		}
		if who != name || binary.BigEndian.Uint32(data) != keyNumber(name, key) {
			continue
		}
		if !ed25519.Verify(key, []byte(text), data[4:]) {
			return "", errors.New("the signature is not one of this text with this key")
		}
		return text, nil
	}
	return "", errors.New("this key has not signed it")
}
