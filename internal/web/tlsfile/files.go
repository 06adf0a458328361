package tlsfile

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// pair is a certificate with its key.
type pair struct {
	tls  *tls.Certificate
	cert *x509.Certificate
}

const mostPair = 1 << 20

func denied(file, msg, hint string) error {
	return &diag.Error{Kind: diag.Denied, Op: "tls", Subject: file, Msg: msg, Hint: hint}
}

// readOrMake is what a file has; where there is none it is made, once also where two programs do so.
func readOrMake(file string, make func() ([]byte, error)) (pair, error) {
	p, err := readPair(file)
	if !errors.Is(err, fs.ErrNotExist) {
		return p, err
	}
	text, err := make()
	if err != nil {
		return pair{}, err
	}
	err = writeWith(file, text, func(temp string) error {
		err := os.Link(temp, file) // and not over one that is there
		if errors.Is(err, fs.ErrExist) {
			err = nil
		}
		return errors.Join(err, os.Remove(temp))
	})
	if err != nil {
		return pair{}, err
	}
	return readPair(file)
}

// writePair puts a file in the place of the one that is there.
func writePair(file string, text []byte) error {
	return writeWith(file, text, func(temp string) error { return os.Rename(temp, file) })
}

// writeWith writes a file that nobody else may read and has it named once it is safe.
func writeWith(file string, text []byte, name func(temp string) error) error {
	dir := filepath.Dir(file)
	if err := safefile.MakeDirs(dir, 0o700); err != nil {
		return safefile.Unusable(dir, err)
	}
	temp := file + "." + safefile.Drawn(8)
	f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return safefile.Unusable(file, err)
	}
	_, err = f.Write(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		err = name(temp)
	} else {
		err = errors.Join(err, os.Remove(temp))
	}
	if err != nil {
		return safefile.Unusable(file, err)
	}
	d, err := safefile.Open(dir)
	if err == nil {
		err = errors.Join(d.SyncDir("."), d.Close())
	}
	if err != nil {
		return safefile.Unusable(dir, err)
	}
	return nil
}

// readPair reads a certificate and its key from one file, which nobody else may read.
func readPair(file string) (pair, error) {
	text, err := readSecret(file, 0o077)
	if err != nil {
		return pair{}, err
	}
	return parsePair(file, text)
}

// readSecret reads a regular file; whoever may not is given by bits of its mode.
func readSecret(file string, others fs.FileMode) (text []byte, err error) {
	fi, err := os.Stat(file)
	if err != nil {
		return nil, err
	}
	if !fi.Mode().IsRegular() || fi.Size() > mostPair {
		return nil, denied(file, "is no file of a key", "give the file that holds it, as PEM")
	}
	if runtime.GOOS != "windows" && fi.Mode().Perm()&others != 0 {
		return nil, denied(file, "has a key, and others may read it", "chmod 600 it; if somebody else may have read it, have a new one made")
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, safefile.Unusable(file, err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return io.ReadAll(io.LimitReader(f, mostPair))
}

func parsePair(file string, text []byte) (pair, error) { return madePair(file, text, text) }

func madePair(file string, cert, key []byte) (pair, error) {
	c, err := tls.X509KeyPair(cert, key)
	if err != nil {
		return pair{}, &diag.Error{Kind: diag.Integrity, Op: "tls", Subject: file, Msg: "has no certificate and the key of it, as PEM", Hint: "give both; of an authority of its own, take the file away: a new one is made", Err: err}
	}
	return pair{&c, c.Leaf}, nil
}
