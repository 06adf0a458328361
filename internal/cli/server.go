package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/remote"
)

// How a server is named, and who asks it.
const (
	serverVar    = "FETTLE_SERVER"
	tokenVar     = "FETTLE_TOKEN"
	tokenFileVar = "FETTLE_TOKEN_FILE"
	authorityVar = "FETTLE_CA"
)

const (
	mostToken     = 4 << 10 // bytes of the file of a token
	mostAuthority = 1 << 20 // bytes of the file of an authority
)

// where is which data folder or server the command line names.
type where struct {
	Data      string `help:"Work on the jobs of this data folder; FETTLE_DATA unless given. Without one, and without a server, a job is a folder." placeholder:"DIR"`
	Server    string `help:"Work on the jobs of this server, as whom the token in FETTLE_TOKEN, or in the file that FETTLE_TOKEN_FILE names, is of; FETTLE_SERVER unless given." placeholder:"URL"`
	CA        string `name:"ca" help:"File with the certificate of the authority that vouches for the server, where the system does not know it; FETTLE_CA unless given." placeholder:"FILE"`
	PlainHTTP bool   `name:"plain-http" help:"Talk to a server on another machine without TLS: whoever is between reads the token and everything else."`
}

// settled is what holds: what the command line names, before what the environment does.
func (w where) settled(env Env) (where, error) {
	both := &diag.Error{Kind: diag.Usage, Op: "fettle", Subject: "--data and --server", Msg: "a command works on a data folder or on a server", Hint: "give one of them"}
	switch {
	case w.Data != "" && w.Server != "":
		return w, both
	case w.Data == "" && w.Server == "":
		w.Data, _ = env.lookup(dataVar)
		w.Server, _ = env.lookup(serverVar)
		if w.Data != "" && w.Server != "" {
			both.Subject, both.Hint = dataVar+" and "+serverVar, "take one of them out of the environment, or give --data or --server"
			return w, both
		}
	}
	if w.Server == "" && w.PlainHTTP {
		return w, &diag.Error{Kind: diag.Usage, Op: "fettle", Subject: "--plain-http", Msg: "is about a server, and none is named", Hint: "give --server URL, or leave it out"}
	}
	return w, nil
}

// openServer is the server that is named, which has answered and knows the token.
func (env Env) openServer(w where) (jobsAt, error) {
	token, err := env.token()
	if err != nil {
		return nil, err
	}
	authority, err := env.authority(w.CA)
	if err != nil {
		return nil, err
	}
	s, err := remote.Open(remote.Options{URL: w.Server, Token: token, Authority: authority, Program: env.Version, PlainHTTP: w.PlainHTTP, Patience: env.patience, Quiet: env.quiet})
	if err != nil {
		return nil, err
	}
	if _, err := s.Me(env.context()); err != nil {
		return nil, errors.Join(env.otherRelease(s, err), s.Close())
	}
	return atServer{s}, nil
}

// token is who asks the server. It comes from the environment or from a file of its owner's, and never from the command line, which others see.
func (env Env) token() (string, error) {
	given, _ := env.lookup(tokenVar)
	file, _ := env.lookup(tokenFileVar)
	no := func(subject, msg, hint string) error {
		return &diag.Error{Kind: diag.Usage, Op: "token", Subject: subject, Msg: msg, Hint: hint}
	}
	switch {
	case given != "" && file != "":
		return "", no(tokenVar+" and "+tokenFileVar, "both are set", "take one of them out of the environment")
	case given != "":
		return given, nil
	case file == "":
		return "", no(tokenFileVar, "a server asks for a token, and none is named", "write the token into a file of yours, chmod 600 it, and set "+tokenFileVar+" to its name; an administrator or you yourself make one on the server")
	}
	text, err := readPrivate(file)
	return strings.TrimSpace(string(text)), err
}

// readPrivate reads a file that has a secret: a regular one, which its owner alone may read.
func readPrivate(name string) (_ []byte, err error) {
	fi, err := os.Lstat(name)
	if err != nil {
		return nil, &diag.Error{Kind: diag.NotFound, Op: "token", Subject: name, Msg: "cannot be read", Hint: "set " + tokenFileVar + " to a file with the token in it", Err: err}
	}
	if err := private(name, fi); err != nil {
		return nil, err
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &diag.Error{Kind: diag.Denied, Op: "token", Subject: name, Msg: "cannot be read", Hint: "it has to be yours", Err: err}
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	open, err := f.Stat() // the file that is read, whatever has taken its place since
	if err == nil {
		err = private(name, open)
	}
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(f, mostToken))
}

func private(name string, fi os.FileInfo) error {
	no := func(msg, hint string) error {
		return &diag.Error{Kind: diag.Denied, Op: "token", Subject: name, Msg: msg, Hint: hint}
	}
	switch {
	case !fi.Mode().IsRegular():
		return no("is no regular file", "write the token into a file, and chmod 600 it")
	case runtime.GOOS != "windows" && fi.Mode().Perm()&0o077 != 0:
		return no("may be read by others than its owner", "chmod 600 it; if somebody else may have read it, revoke the token and have a new one made")
	case fi.Size() >= mostToken:
		return no("is too long to be a token", "write the token alone into it")
	}
	return nil
}

// authority is the certificates of a file that is named, by the command line or else by the environment; none is nil.
func (env Env) authority(named string) (_ []byte, err error) {
	given, _ := env.lookup(authorityVar)
	if named = cmp.Or(named, given); named == "" {
		return nil, nil
	}
	no := func(msg string, err error) error {
		return &diag.Error{Kind: diag.Usage, Op: "connect", Subject: named, Msg: msg, Hint: "give the file with the certificate of the authority, in PEM; the page /authority of the server has it", Err: err}
	}
	fi, err := os.Stat(named)
	if err != nil {
		return nil, no("cannot be read", err)
	}
	if !fi.Mode().IsRegular() || fi.Size() > mostAuthority {
		return nil, no("is no file of a certificate", nil)
	}
	text, err := os.ReadFile(named)
	if err != nil {
		return nil, no("cannot be read", err)
	}
	return append([]byte{}, text...), nil // an empty file is one without a certificate
}

// versioned is an error of a command on a server of another release.
type versioned struct {
	error
	theirs, ours string
}

func (v *versioned) Unwrap() error { return v.error }

func (v *versioned) note() string {
	return fmt.Sprintf("note: the server is fettle %s, and this program is %s: what one of them knows the other may not; use the same release on both sides", diag.Plain(v.theirs), v.ours)
}

// mostVersion is how much of what a server says of itself is told.
const mostVersion = 100

// versionWait is how long a server is asked for its version after something went wrong.
const versionWait = 5 * time.Second

// otherRelease adds to an error which release the server is, where it is another one and the error may come of that.
func (env Env) otherRelease(s *remote.Store, err error) error {
	switch diag.KindOf(err) {
	case diag.Denied, diag.NotFound, diag.Unavailable, diag.Conflict:
		return err
	}
	if errors.Is(err, context.Canceled) {
		return err
	}
	ctx, stop := context.WithTimeout(env.context(), versionWait)
	defer stop()
	theirs, failed := s.Version(ctx)
	if failed != nil || theirs == env.Version || theirs == "" {
		return err
	}
	if len(theirs) > mostVersion {
		theirs = theirs[:mostVersion]
	}
	return &versioned{err, theirs, env.Version}
}
