package account

import (
	"context"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"io"
	"math"
	"strings"
	"sync/atomic"
	"unicode"
	"unicode/utf8"

	"github.com/trustelem/zxcvbn"
	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"

	"fettle/internal/diag"
)

// Cost is what one hash of a password takes (Argon2id, RFC 9106).
type Cost struct {
	KiB    uint32 // of memory
	Passes uint32
	Lanes  uint8
}

// DefaultCost is the memory and passes of the second recommended option of RFC 9106, section 4, with one lane: two
// hashes at once are to leave processors for others.
var DefaultCost = Cost{KiB: 64 << 10, Passes: 3, Lanes: 1}

// safe says whether it is not below the floor of the OWASP Password Storage Cheat Sheet: 19 MiB, two passes.
func (c Cost) safe() bool { return c.KiB >= 19<<10 && c.Passes >= 2 && c.Lanes >= 1 }

// A password has so many characters at least, and bytes at most.
const (
	LeastCharacters = 12
	MostBytes       = 256
)

// How many hashes are made at once, and how many may wait for that. The memory of a hash is what bounds them.
const (
	hashesAtOnce = 2
	mostWaiting  = 64
	saltBytes    = 16 // RFC 9106, section 3.1: recommended
	hashBytes    = 32
)

type hasher struct {
	cost    Cost
	slots   chan struct{}
	waiting *atomic.Int64
	nobody  string                    // the hash of what nobody knows: as much work for who is not known
	begun   func(running, made int64) // is told of each hash, in tests
	counts  *struct{ run, made atomic.Int64 }
}

func newHasher(c Cost, random io.Reader) (hasher, error) {
	h := hasher{cost: c, slots: make(chan struct{}, hashesAtOnce), waiting: new(atomic.Int64), counts: new(struct{ run, made atomic.Int64 })}
	b := make([]byte, saltBytes+hashBytes)
	if _, err := io.ReadFull(random, b); err != nil {
		return h, &diag.Error{Kind: diag.Unavailable, Op: "draw a secret", Msg: "the machine gives no random bytes", Err: err}
	}
	h.nobody = phc(c, b[:saltBytes], b[saltBytes:])
	return h, nil
}

// key is the hash of a password, once it is its turn.
func (h *hasher) key(ctx context.Context, password string, salt []byte, c Cost) ([]byte, error) {
	if h.waiting.Add(1) > mostWaiting+hashesAtOnce {
		h.waiting.Add(-1)
		return nil, &diag.Error{Kind: diag.Unavailable, Op: "sign in", Msg: "too many are signing in at once", Hint: "try again in a few seconds"}
	}
	defer h.waiting.Add(-1)
	select {
	case h.slots <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-h.slots }()
	running, made := h.counts.run.Add(1), h.counts.made.Add(1)
	defer h.counts.run.Add(-1)
	if h.begun != nil {
		h.begun(running, made)
	}
	return argon2.IDKey([]byte(norm.NFC.String(password)), salt, c.Passes, c.KiB, c.Lanes, hashBytes), nil
}

// made is the hash of a new password, as it is kept: the form of the PHC string format.
func (a *Accounts) made(ctx context.Context, password string) (string, error) {
	salt, err := a.drawn(saltBytes)
	if err != nil {
		return "", err
	}
	key, err := a.hashes.key(ctx, password, salt, a.hashes.cost)
	return phc(a.hashes.cost, salt, key), err
}

func phc(c Cost, salt, key []byte) string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, c.KiB, c.Passes, c.Lanes, base64.RawStdEncoding.EncodeToString(salt), base64.RawStdEncoding.EncodeToString(key))
}

// fits says whether a password is the one of a hash, and whether that was made at another cost than is used now. With an
// empty hash it takes as long, and does not fit.
func (h *hasher) fits(ctx context.Context, password, hash string) (fits, old bool, err error) {
	none := hash == ""
	if none {
		hash = h.nobody
	}
	var version int
	var c Cost
	parts := strings.Split(hash, "$")
	if len(parts) != 6 {
		return false, false, damaged("password")
	}
	_, err = fmt.Sscanf(parts[1]+" "+parts[2]+" "+parts[3], "argon2id v=%d m=%d,t=%d,p=%d", &version, &c.KiB, &c.Passes, &c.Lanes)
	salt, err1 := base64.RawStdEncoding.DecodeString(parts[4])
	want, err2 := base64.RawStdEncoding.DecodeString(parts[5])
	if err != nil || err1 != nil || err2 != nil || version != argon2.Version || len(want) != hashBytes || c.KiB > 1<<20 || c.Passes > 16 || c.Passes < 1 || c.Lanes < 1 {
		return false, false, damaged("password")
	}
	if len(password) > MostBytes {
		password = "" // which fits none
	}
	key, err := h.key(ctx, password, salt, c)
	return err == nil && subtle.ConstantTimeCompare(key, want) == 1 && !none && password != "", c != h.cost, err
}

// leastGuesses is how many guesses a password has to withstand, as the estimate of zxcvbn has it: common passwords, names, words, dates,
// sequences and walks over a keyboard are known to it. It looks at so many bytes from the beginning; what stands behind
// can only make it better.
const (
	leastGuesses = 1e8
	lookedAt     = 48
)

// CheckPassword refuses a password that is too short, too long, or guessed soon by whoever knows the words that go
// with a person: names, shop, what they sign in with.
func CheckPassword(password string, words ...string) error {
	refuse := func(msg, hint string) error {
		return &diag.Error{Kind: diag.Invalid, Op: "set a password", Subject: "password", Msg: msg, Hint: hint}
	}
	switch n := utf8.RuneCountInString(password); {
	case !utf8.ValidString(password) || strings.ContainsRune(password, 0):
		return refuse("the password has bytes that are no characters", "type it anew")
	case n < LeastCharacters:
		return refuse(fmt.Sprintf("the password has %d characters", n), fmt.Sprintf("give at least %d; a sentence is well remembered", LeastCharacters))
	case len(password) > MostBytes:
		return refuse(fmt.Sprintf("the password has %d bytes", len(password)), fmt.Sprintf("give at most %d", MostBytes))
	}
	folded := strings.ToLower(norm.NFKC.String(password))
	known := append(pieces("fettle"), pieces(words...)...)
	rest := folded
	for _, w := range known {
		rest = strings.ReplaceAll(rest, w, "")
	}
	if left := strings.Map(lettersAndOthers, rest); len(rest) < len(folded) && utf8.RuneCountInString(left) < LeastCharacters-4 {
		return refuse("the password is little more than names that go with the account", "take words that have nothing to do with it")
	}
	if beginning := cut(folded, lookedAt); guesses(beginning, known) < leastGuesses {
		return refuse("the password is guessed soon: a common one, or repeated, or a sequence", "take several words that have nothing to do with one another")
	}
	return nil
}

// guesses is an estimate, of the text as it is and without what stands between its words: marks hide nothing.
func guesses(text string, known []string) float64 {
	bare := strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || unicode.IsPunct(r) {
			return -1
		}
		return r
	}, text)
	n := zxcvbn.PasswordStrength(text, known).Guesses
	if bare == "" || bare == text {
		return n
	}
	return math.Min(n, zxcvbn.PasswordStrength(bare, known).Guesses)
}

func cut(s string, most int) string {
	for i := range s {
		if i > most {
			return s[:i]
		}
	}
	return s
}

// lettersAndOthers leaves digits, blanks and marks out.
func lettersAndOthers(r rune) rune {
	if unicode.IsDigit(r) || unicode.IsSpace(r) || unicode.IsPunct(r) {
		return -1
	}
	return r
}

// pieces are words in small letters, whole and in parts, of at least three characters.
func pieces(words ...string) (out []string) {
	for _, w := range words {
		w = strings.ToLower(norm.NFKC.String(w))
		parts := strings.FieldsFunc(w, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
		for _, p := range append([]string{w}, parts...) {
			if utf8.RuneCountInString(p) >= 3 {
				out = append(out, p)
			}
		}
	}
	return out
}
