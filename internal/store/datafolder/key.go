package datafolder

import (
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base32"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/ledger"
	"fettle/internal/store/safefile"
)

// The key that signs checkpoints of the log: of Ed25519, as PKCS #8 in PEM, which other programs read too.
const (
	keysDir = "keys"
	keyFile = "log.key"
	mostKey = 4096
)

// pemBlock is what a block of PEM is of, keyName the name of a key in signatures.
type (
	pemBlock string
	keyName  string
)

const (
	keyBlock pemBlock = "PRIVATE KEY"
	signer   keyName  = "fettle"
)

// logKey is the key of the folder, made on first use.
func (s *Store) logKey() (ed25519.PrivateKey, error) {
	key, err := readKey(s.keyPath())
	if !errors.Is(err, fs.ErrNotExist) {
		return key, err
	}
	if err := makeKey(s.Dir); err != nil {
		return nil, safefile.Unusable(s.keyPath(), err)
	}
	return readKey(s.keyPath()) // of two programs that make one at once, one has made it
}

// Keys is the folder of what is secret.
func (s *Store) Keys() string { return filepath.Join(s.Dir, keysDir) }

func (s *Store) keyPath() string { return filepath.Join(s.Keys(), keyFile) }

func makeKey(dir string) error {
	_, key, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return err
	}
	coded, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	return makeSecret(dir, keyFile, pem.EncodeToMemory(&pem.Block{Type: string(keyBlock), Bytes: coded}))
}

// makeSecret makes a file among the keys that nobody else may read, and not over one that is there.
func makeSecret(dir, name string, data []byte) error {
	in := filepath.Join(dir, keysDir)
	if err := safefile.MakeDirs(in, 0o700); err != nil {
		return err
	}
	temp := filepath.Join(in, name+"."+safefile.Drawn(8))
	if err := writeSafe(temp, data); err != nil {
		return err
	}
	err := os.Link(temp, filepath.Join(in, name))
	if errors.Is(err, fs.ErrExist) {
		err = nil
	}
	return errors.Join(err, os.Remove(temp), syncDir(in))
}

// writeSafe writes a new file that nobody else may read; its name is not safe yet.
func writeSafe(name string, data []byte) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Sync(), f.Close())
}

func syncDir(name string) error {
	d, err := safefile.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(d.SyncDir("."), d.Close())
}

func readKey(name string) (ed25519.PrivateKey, error) {
	fi, err := os.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !fi.Mode().IsRegular() || fi.Size() > mostKey || runtime.GOOS != "windows" && fi.Mode().Perm()&0o077 != 0 {
		return nil, &diag.Error{Kind: diag.Denied, Op: "key", Subject: name, Msg: "is no file that only its owner may read", Hint: "chmod 600 it; if somebody else may have read it, take it away: a new one is made"}
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, safefile.Unusable(name, err)
	}
	block, rest := pem.Decode(data)
	if block != nil && pemBlock(block.Type) == keyBlock && len(rest) == 0 {
		if key, err := x509.ParsePKCS8PrivateKey(block.Bytes); err == nil {
			if ed, ok := key.(ed25519.PrivateKey); ok {
				return ed, nil
			}
		}
	}
	return nil, &diag.Error{Kind: diag.Integrity, Op: "key", Subject: name, Msg: "is no key of Ed25519 as PKCS #8 in PEM", Hint: "bring it back from where you kept a copy, or take it away: a new one is made, and older checkpoints are verified with the public key that stands in them alone"}
}

// origin says which log a checkpoint is of: that of a key.
func origin(key ed25519.PublicKey) string {
	sum := sha256.Sum256(key)
	return fmt.Sprintf("fettle-log/%x", sum[:8])
}

// Printed is a checkpoint as it is given to people.
type Printed struct {
	Note string // signed, as C2SP tlog-checkpoint has it
	Code string // short, for people to compare
	Key  string // public, to verify it with
	Size int64
}

// Text is all of it as lines.
func (p Printed) Text() string {
	return p.Note + "\n" + "Leaves: " + fmt.Sprint(p.Size) + "\nCode:   " + p.Code + "\nKey:    " + p.Key + "\n"
}

// Print is a checkpoint that another program has signed, as it is given to people. The key is the one that came with it: it says nothing of
// who that was.
func Print(note, key string) (Printed, error) {
	public, err := keyOf(key)
	if err != nil {
		return Printed{}, err
	}
	content, err := ledger.OpenNote(note, string(signer), public)
	var c ledger.Checkpoint
	if err == nil {
		c, err = ledger.ParseCheckpoint(content)
	}
	if err != nil {
		return Printed{}, &diag.Error{Kind: diag.Integrity, Op: "checkpoint", Subject: "the checkpoint", Msg: err.Error()}
	}
	return Printed{note, Code(c), key, c.Size}, nil
}

// Code is a checkpoint in twenty characters: whoever noted it on paper can compare it.
func Code(c ledger.Checkpoint) string {
	sum := sha256.Sum256([]byte(c.Text()))
	text := base32.StdEncoding.EncodeToString(sum[:])[:20]
	return strings.Join([]string{text[:5], text[5:10], text[10:15], text[15:]}, "-")
}

// Checkpoint signs what the log is now, or was with so many leaves; less than none is now.
func (s *Store) Checkpoint(ctx context.Context, size int64) (Printed, error) {
	now, err := s.Database.Checkpoint(ctx, "")
	if err != nil {
		return Printed{}, err
	}
	if size >= 0 && size != now.Size {
		if size > now.Size {
			return Printed{}, &diag.Error{Kind: diag.NotFound, Op: "checkpoint", Subject: "the log", Msg: fmt.Sprintf("it has %d leaves, and not %d", now.Size, size), Hint: "if it ever had as many, leaves are missing: bring the store back from a backup"}
		}
		if now, err = s.CheckpointAt(ctx, "", size); err != nil {
			return Printed{}, err
		}
	}
	return s.signed(now)
}

func (s *Store) signed(c ledger.Checkpoint) (Printed, error) {
	key, err := s.logKey()
	if err != nil {
		return Printed{}, err
	}
	public := key.Public().(ed25519.PublicKey)
	c.Origin = origin(public)
	note, err := ledger.Sign(c.Text(), string(signer), key)
	return Printed{note, Code(c), ledger.KeyText(string(signer), public), c.Size}, err
}

// OpenCheckpoint verifies a checkpoint that was kept outside, as Text or as the note alone. Key is the public key it has to be signed
// with; without one, that of the folder.
func (s *Store) OpenCheckpoint(text, key string) (ledger.Checkpoint, error) {
	public, err := s.trusted(key)
	if err != nil {
		return ledger.Checkpoint{}, err
	}
	refused := func(err error) error {
		return &diag.Error{Kind: diag.Invalid, Op: "verify-store", Subject: "the checkpoint", Msg: err.Error(), Hint: "give the file as it was printed; if the store had another key then, give the public key that you noted"}
	}
	text = strings.ReplaceAll(text, "\r\n", "\n")
	note, after, found := strings.Cut(text, "\n\nLeaves: ")
	if note += "\n"; !found {
		note = text
	}
	content, err := ledger.OpenNote(note, string(signer), public)
	if err != nil {
		return ledger.Checkpoint{}, refused(err)
	}
	c, err := ledger.ParseCheckpoint(content)
	if err == nil && c.Origin != origin(public) {
		err = errors.New("it is of another log, " + c.Origin)
	}
	if err == nil && found && "\n\nLeaves: "+after != strings.TrimPrefix(Printed{note, Code(c), ledger.KeyText(string(signer), public), c.Size}.Text(), strings.TrimSuffix(note, "\n")) {
		err = errors.New("the lines below its signature are not those of the checkpoint above")
	}
	if err != nil {
		return ledger.Checkpoint{}, refused(err)
	}
	return c, nil
}

// keyOf is a public key that is given as text.
func keyOf(text string) (ed25519.PublicKey, error) {
	name, public, err := ledger.ParseKey(text)
	if err == nil && keyName(name) != signer {
		err = fmt.Errorf("the key is one of %q", name)
	}
	if err != nil {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "verify-store", Subject: "the public key", Msg: err.Error(), Hint: "give the text behind 'Key:' of a checkpoint"}
	}
	return public, nil
}

func (s *Store) trusted(key string) (ed25519.PublicKey, error) {
	if key != "" {
		return keyOf(key)
	}
	own, err := readKey(s.keyPath())
	if errors.Is(err, fs.ErrNotExist) {
		err = &diag.Error{Kind: diag.NotFound, Op: "verify-store", Subject: s.keyPath(), Msg: "there is no key yet, so this store has signed no checkpoint", Hint: "a store that was brought back has a new key: give the public key that you noted"}
	}
	if err != nil {
		return nil, err
	}
	return own.Public().(ed25519.PublicKey), nil
}
