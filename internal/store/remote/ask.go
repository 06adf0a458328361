package remote

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"fettle/internal/diag"
)

const (
	prefix     = "/api/v1"
	asksFirst  = 64 << 10  // bytes of a body that are not sent before the server wants them
	mostJSON   = 4 << 20   // bytes of an answer that is read as one
	mostList   = 128 << 20 // bytes of an answer that is read one after the other: all events of a job, and what JSON adds
	mostItem   = 64 << 20  // bytes of one of them
	mostFiles  = 96 << 20  // bytes of an answer with files in it
	slowest    = 16 << 10  // bytes a second that a body has to move by
	firstPause = 200 * time.Millisecond
	lastPause  = 5 * time.Second
)

// call is one request.
type call struct {
	op, method, path string
	query            url.Values
	key              string // of a change: sent again with it, it is made once
	kind             string // media type of the body
	body             func() (io.ReadCloser, error)
	size             int64
	from             int64 // first byte that is wanted of those that are answered
	repeats          bool  // it may be sent again where nobody knows whether it was done
	most             int64 // bytes of the answer; zero: mostJSON
	lost             *bool // becomes true where an answer did not come; nil: nobody wants to know
}

// noteLost notes that nobody knows whether it was done.
func (c call) noteLost(is bool) {
	if is && c.lost != nil {
		*c.lost = true
	}
}

// get asks for an answer in JSON.
func (s *Store) get(ctx context.Context, op, path string, query url.Values, out any) error {
	return s.answered(ctx, call{op: op, method: http.MethodGet, path: path, query: query, repeats: true}, out)
}

// send sends JSON.
func (s *Store) send(ctx context.Context, c call, in, out any) error {
	if in != nil {
		data, err := json.Marshal(in)
		if err != nil {
			return &diag.Error{Kind: diag.Internal, Op: c.op, Msg: "what is to be sent cannot be written", Err: err}
		}
		c.kind, c.size = "application/json", int64(len(data))
		c.body = func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(data)), nil }
	}
	return s.answered(ctx, c, out)
}

// answered sends a request and reads the answer, of which nil says that there is none. One that breaks off is asked for again, as one that does
// not come.
func (s *Store) answered(ctx context.Context, c call, out any) error {
	if out == nil {
		_, err := s.ask(ctx, c, func(a *answer) (bool, error) { return false, a.Close() })
		return err
	}
	return s.reading(ctx, c, func(in *upTo) error {
		data, err := io.ReadAll(in)
		if err != nil {
			return err
		}
		return json.Unmarshal(data, out)
	})
}

// reading has an answer in JSON read, and again where it breaks off.
func (s *Store) reading(ctx context.Context, c call, read func(*upTo) error) error {
	_, err := s.ask(ctx, c, func(a *answer) (lost bool, err error) {
		defer func() { err = errors.Join(err, a.Close()) }()
		if kind, _, err := mime.ParseMediaType(a.header.Get("Content-Type")); err != nil || kind != "application/json" {
			return false, s.strange("it is no JSON")
		}
		in := &upTo{from: a, left: cmp.Or(c.most, mostJSON)}
		in.item = in.left
		err = read(in)
		switch {
		case in.err != nil:
			return true, s.lost(ctx, c, in.err)
		case in.over():
			return false, s.strange("it is too long")
		case err != nil:
			return false, s.strange(err.Error())
		}
		return false, nil
	})
	return err
}

// upTo reads so many bytes, and remembers whether there were more, and why it broke off.
type upTo struct {
	from io.Reader
	left int64 // below zero: there were more
	item int64 // of what is read now, likewise
	err  error // nil: it did not break off
}

func (u *upTo) Read(p []byte) (int, error) {
	if u.over() {
		return 0, io.ErrUnexpectedEOF
	}
	n, err := u.from.Read(p[:min(int64(len(p)), u.left+1, u.item+1)])
	u.left -= int64(n)
	u.item -= int64(n)
	if err != nil && !errors.Is(err, io.EOF) {
		u.err = err
	}
	if u.over() {
		return n, io.ErrUnexpectedEOF
	}
	return n, err
}

func (u *upTo) over() bool { return u.left < 0 || u.item < 0 }

// list reads an answer of which one member is a long list, an item at a time, so that what is none ends it at once; the
// other members are as they are given.
func (s *Store) list(ctx context.Context, c call, name string, begin func(), item func(*json.Decoder) error, other map[string]any) error {
	c.most, c.method, c.repeats = mostList, http.MethodGet, true
	return s.reading(ctx, c, func(in *upTo) error {
		begin()
		next := func(d *json.Decoder) error {
			in.item = mostItem
			return item(d)
		}
		in.item = mostItem
		d := json.NewDecoder(in)
		if err := delimited(d, '{'); err != nil {
			return err
		}
		for d.More() {
			key, err := d.Token()
			if err != nil {
				return err
			}
			if key == name {
				err = items(d, next)
			} else if into := other[key.(string)]; into != nil {
				err = d.Decode(into)
			} else {
				var unknown json.RawMessage
				err = d.Decode(&unknown)
			}
			if err != nil {
				return err
			}
		}
		return delimited(d, '}')
	})
}

// items reads a list; null is one without items.
func items(d *json.Decoder, item func(*json.Decoder) error) error {
	switch got, err := d.Token(); {
	case err != nil || got == nil:
		return err
	case got != json.Delim('['):
		return fmt.Errorf("%v stands where a list has to", got)
	}
	for d.More() {
		if err := item(d); err != nil {
			return err
		}
	}
	return delimited(d, ']')
}

// delimited reads a bracket.
func delimited(d *json.Decoder, want json.Delim) error {
	got, err := d.Token()
	if err == nil && got != want {
		err = fmt.Errorf("%v stands where %v has to", got, want)
	}
	return err
}

// answer is the body of an answer as it comes.
type answer struct {
	io.ReadCloser
	header http.Header
	length int64 // of what comes; -1: nobody knows
}

// ask sends a request, and again while the server cannot be reached or is busy or its answer breaks off, for as long as it is patient. What may
// have been done is sent again only where that does it once. Take reads the answer, and says where it was lost; nil: whoever asks reads it.
func (s *Store) ask(ctx context.Context, c call, take func(*answer) (lost bool, err error)) (*answer, error) {
	if c.lost == nil {
		c.lost = new(bool)
	}
	ends := time.Now().Add(s.o.Patience)
	for pause := s.pause; ; pause = min(2*pause, lastPause) {
		a, again, after, err := s.once(ctx, c)
		if err == nil && take != nil {
			lost := false
			lost, err = take(a)
			again = lost && c.repeats
			c.noteLost(lost)
		}
		if err == nil || !again || ctx.Err() != nil {
			return a, err
		}
		wait := max(pause, after)
		if time.Now().Add(wait).After(ends) {
			return nil, err
		}
		t := time.NewTimer(wait)
		select {
		case <-t.C:
		case <-ctx.Done():
			t.Stop()
			return nil, ctx.Err()
		}
	}
}

// once sends a request once. Again says that it may be sent again, and after when the server asks for that.
func (s *Store) once(ctx context.Context, c call) (_ *answer, again bool, after time.Duration, err error) {
	if err := ctx.Err(); err != nil {
		return nil, false, 0, err
	}
	within, cancel := context.WithCancel(ctx)
	quiet := time.AfterFunc(s.o.Quiet+time.Duration(c.size/slowest)*time.Second, cancel)
	stop := func() { quiet.Stop(); cancel() }
	r, err := s.request(within, c)
	if err != nil {
		stop()
		return nil, false, 0, err
	}
	got, err := s.client.Do(r)
	if err != nil {
		stop()
		var dial *net.OpError
		never := errors.As(err, &dial) && dial.Op == "dial"
		c.noteLost(!never)
		return nil, (c.repeats || never) && !hopeless(err), 0, s.lost(ctx, c, err)
	}
	quiet.Reset(s.o.Quiet)
	body := &moving{got.Body, quiet, time.Now(), s.o.Quiet, 0, stop}
	if got.StatusCode/100 == 2 {
		return &answer{body, got.Header, got.ContentLength}, false, 0, nil
	}
	defer body.Close() // it was only read from
	p, lost, err := s.problem(got, body)
	if lost {
		c.noteLost(true)
		return nil, c.repeats, 0, s.lost(ctx, c, err)
	}
	if err != nil {
		c.noteLost(got.StatusCode >= 500)
		return nil, c.repeats && got.StatusCode >= 500, 0, cancelled(ctx, err)
	}
	if secs, err := strconv.Atoi(got.Header.Get("Retry-After")); err == nil && secs > 0 {
		after = time.Duration(min(secs, 3600)) * time.Second
	}
	return nil, p.passes() && (c.repeats || p.undone()), after, p.err(s, c)
}

func (s *Store) request(ctx context.Context, c call) (*http.Request, error) {
	at := *s.at
	at.Path, at.RawQuery = prefix+c.path, c.query.Encode()
	if raw, err := url.PathUnescape(at.Path); err == nil && raw != at.Path { // an escaped name stays one piece
		at.RawPath, at.Path = at.Path, raw
	}
	var body io.ReadCloser
	if c.body != nil {
		var err error
		if body, err = c.body(); err != nil {
			return nil, err
		}
	}
	r, err := http.NewRequestWithContext(ctx, c.method, at.String(), body)
	if err != nil {
		return nil, &diag.Error{Kind: diag.Internal, Op: c.op, Subject: s.URL(), Msg: "cannot be asked", Err: err}
	}
	if c.body != nil {
		r.ContentLength = c.size
		if c.size == 0 {
			r.Body = http.NoBody
		}
		r.Header.Set("Content-Type", c.kind)
	}
	r.Header.Set("Authorization", "Bearer "+s.o.Token)
	r.Header.Set("User-Agent", "fettle/"+s.o.Program)
	if c.key != "" {
		r.Header.Set("Idempotency-Key", c.key)
	}
	if c.size > asksFirst {
		r.Header.Set("Expect", "100-continue") // else what is refused while it is sent looks as if the server were away
	}
	if c.from > 0 {
		r.Header.Set("Range", fmt.Sprintf("bytes=%d-", c.from))
	}
	return r, nil
}

// moving is a body that breaks off where nothing comes for too long, or hardly anything.
type moving struct {
	io.ReadCloser
	quiet *time.Timer
	began time.Time
	most  time.Duration
	read  int64
	stop  func()
}

func (m *moving) Read(p []byte) (int, error) {
	n, err := m.ReadCloser.Read(p)
	if n > 0 {
		m.read += int64(n)
		m.quiet.Reset(min(m.most, time.Until(m.began.Add(m.most+time.Duration(m.read/slowest)*time.Second))))
	}
	return n, err
}

func (m *moving) Close() error {
	m.stop()
	return m.ReadCloser.Close()
}

// hopeless says that asking again changes nothing: nobody vouches for the server, or there is none of that name.
func hopeless(err error) bool {
	name := (*net.DNSError)(nil)
	return tlsFault(err) || errors.As(err, &name) && name.IsNotFound
}

// lost is the error for a server that cannot be reached, or whose answer did not come.
func (s *Store) lost(ctx context.Context, c call, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if errors.Is(err, context.Canceled) { // by us, and by nobody who asked
		err = errors.New("nothing came for too long")
	}
	hint := "look whether it runs, and at the address"
	if tlsFault(err) {
		return &diag.Error{Kind: diag.Denied, Op: c.op, Subject: s.URL(), Msg: "nobody vouches for the server", Hint: "name the file with the certificate of its authority; the page /authority of the server has it", Err: err}
	}
	if c.method != http.MethodGet && (c.lost == nil || *c.lost) {
		hint += "; whether it was done is not known, look before you ask again"
	}
	return &diag.Error{Kind: diag.Unavailable, Op: c.op, Subject: s.URL(), Msg: "the server cannot be reached, or its answer did not come", Hint: hint, Err: err}
}

func cancelled(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}
