package cli

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/store/datafolder"
	"fettle/internal/store/safefile"
	"fettle/internal/web"
	"fettle/internal/web/api"
	"fettle/internal/web/entry"
	"fettle/internal/web/tlsfile"
)

type serveCmd struct {
	Listen       string   `help:"Address to listen at; 127.0.0.1:8420 unless given, and :8443 with --lan or --certificate; FETTLE_LISTEN." placeholder:"HOST:PORT"`
	Lan          []string `help:"Name or address by which other machines of a network reach this one: over TLS, with an authority of its own; FETTLE_LAN." placeholder:"NAME"`
	Local        string   `help:"With --lan: address for this machine alone; 127.0.0.1:8420 unless given; FETTLE_LOCAL." placeholder:"HOST:PORT"`
	Certificate  string   `help:"File of a certificate, as PEM; read anew when it changes; FETTLE_CERTIFICATE." placeholder:"FILE"`
	Key          string   `help:"File of its key, as PEM; FETTLE_KEY." placeholder:"FILE"`
	InsecureHTTP bool     `name:"insecure-http" help:"Listen for other machines without TLS: whoever is between may read and change everything."`
	Host         []string `help:"Another name that it answers to, as that of a proxy before it; FETTLE_HOST." placeholder:"NAME"`
	Proxy        []string `help:"Address or network of a proxy whose word about clients is believed; FETTLE_PROXY." placeholder:"ADDRESS"`
	Metrics      string   `help:"Address of this machine at which figures can be read; none unless given; FETTLE_METRICS." placeholder:"HOST:PORT"`
	Workers      int      `help:"So many pieces of work in the background at once; 1 unless given; FETTLE_WORKERS." default:"-1" placeholder:"N"`
	Log          string   `help:"What is logged: debug, info, warn or error; info unless given, and warn at a terminal." enum:",debug,info,warn,error" default:"" placeholder:"LEVEL"`
}

func (serveCmd) Help() string {
	return `Serves a data folder, which is made where there is none: fettle-data unless given. It listens on this machine alone unless it is told to serve a network, and then over TLS. With --lan it makes an authority of its own, which can vouch for those names and nothing else; every device has to be told once to trust it, by the page that it prints. What is asked for in the background is done by the same program. Options are taken from the command line, from variables of the environment, and from 'serve' in settings.yaml, in this order. It ends by SIGTERM or Ctrl-C, once it has finished what runs.

Examples:

  fettle serve
  fettle serve --lan workshop.local --data fettle-data
`
}

// fillsData: it makes a data folder where there is none.
func (serveCmd) fillsData() {}

// retryAfter is when whoever cannot be served for the moment may come back.
const retryAfter = time.Second

// usualData is the data folder where none is named.
func (serveCmd) usualData() string { return "fettle-data" }

func (c serveCmd) run(env Env, _ *app.App) (int, error) {
	set, err := c.settled(env)
	if err != nil {
		return exitCode(err), err
	}
	s := &serving{env: env, set: set, log: env.logger(c.Log)}
	if err := s.serve(); err != nil {
		return Refused, err
	}
	return Done, nil
}

// serving is a server that runs.
type serving struct {
	env    Env
	set    serveSet
	log    *slog.Logger
	server *web.Server
	own    *tlsfile.Own // nil: none
	ends   func() time.Time
	on     []web.Listener
	hub    *web.Hub
	people *account.Accounts
	greet  func(ctx context.Context, people *account.Accounts, url string) (string, error) // says who may sign in; nil: how somebody becomes the first

	turns   *halt.Turns // of what computes
	service app.Service
	worked  figuresOfWork
}

func (env Env) logger(level string) *slog.Logger {
	at := slog.LevelInfo
	if env.Terminal {
		at = slog.LevelWarn
	}
	if level != "" {
		_ = at.UnmarshalText([]byte(level)) // one of those that the command line takes
	}
	return slog.New(slog.NewJSONHandler(env.Stderr, &slog.HandlerOptions{Level: at}))
}

// serve listens, says where, and answers until it is stopped.
func (s *serving) serve() (err error) {
	ctx, stop := context.WithCancel(s.env.context())
	defer stop()
	atOnce := runtime.GOMAXPROCS(0)
	if s.env.Serving != nil {
		s.env.Serving(ctx)
	}
	s.turns = halt.NewTurns(atOnce)
	if err := s.listen(ctx); err != nil {
		return err
	}
	defer s.closeAll()
	if s.people, err = s.env.data.Accounts(s.env.lookup, s.env.Now, s.site()); err != nil {
		return err
	}
	if err := s.people.Check(ctx); err != nil {
		return err
	}
	routes, err := s.routes(ctx)
	if err != nil {
		return err
	}
	first, err := s.first(ctx)
	if err != nil {
		return err
	}
	notify := s.env.notifier()
	s.server, err = web.New(web.Config{
		API: routes, Pages: s.pages(), Lane: laneOf, Ready: s.env.data.Ready, Log: s.log, Proxies: s.set.proxies, Hosts: s.set.answersTo(),
		Stages: func(is web.Stage) {
			if is == web.Serving {
				s.say(first)
			}
			notify.stage(is)
		},
	})
	if err != nil {
		return err
	}
	s.server.Figures().Add(s.figures)
	var beside sync.WaitGroup
	defer beside.Wait() // after stop, which is called before it
	defer stop()
	if err := s.beside(ctx, &beside, notify); err != nil {
		return err
	}
	return s.server.Serve(ctx, s.on...)
}

// beside is what runs beside the server: work in the background, figures, the watchdog.
func (s *serving) beside(ctx context.Context, all *sync.WaitGroup, n *notifier) error {
	if s.set.metrics != "" {
		l, err := web.Listen(ctx, s.set.metrics)
		if err != nil {
			return err
		}
		all.Go(func() {
			if err := s.server.ServeFigures(ctx, l); err != nil {
				s.log.Error("figures cannot be read any more", "why", err.Error())
			}
		})
	}
	do := s.env.allWork(s.service.App) // which has the bodies that requests have made ready
	for range s.set.workers {
		all.Go(func() { s.work(ctx, do) })
	}
	all.Go(func() { s.hub.Run(ctx) })
	all.Go(func() { n.watch(ctx, s.alive) })
	return nil
}

// alive says that the server answers at all.
func (s *serving) alive(ctx context.Context) error { return s.server.Alive(ctx) }

// work does what is asked for in the background until it is stopped. The log names no person and nothing of a job but its
// name; why something failed stands with the task.
func (s *serving) work(ctx context.Context, do map[app.TaskKind]app.Doing) {
	w := &app.Worker{
		Name: "fettle-" + safefile.Drawn(6), Tasks: s.env.data, Do: do, Now: s.env.Now, Behind: []app.TaskKind{app.TaskNext}, Lease: taskLease, Look: taskLook, Tries: taskTries,
		Told: func(t app.Task, err error) {
			s.worked.tell(err)
			if err != nil && ctx.Err() == nil {
				s.log.Warn("work in the background failed", "task", t.ID, "kind", string(t.Kind), "about", t.About)
				return
			}
			s.log.Info("work in the background", "task", t.ID, "kind", string(t.Kind), "about", t.About)
		},
	}
	if err := w.Run(ctx); !errors.Is(err, context.Canceled) {
		s.log.Error("work in the background ended", "why", err.Error())
	}
}

// movesOf is what was written into a data folder, by whichever program.
type movesOf struct{ in *datafolder.Store }

func (m movesOf) Newest(ctx context.Context) (int64, error) { return m.in.Newest(ctx) }

func (m movesOf) After(ctx context.Context, n int64, most int) ([]web.Move, error) {
	moves, err := m.in.Moved(ctx, n, most)
	out := make([]web.Move, len(moves))
	for i, x := range moves {
		out[i] = web.Move(x)
	}
	return out, err
}

// figuresOfWork is how much was done in the background.
type figuresOfWork struct {
	mu           sync.Mutex
	done, failed int
}

func (f *figuresOfWork) tell(err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err != nil {
		f.failed++
		return
	}
	f.done++
}

func (s *serving) figures(w io.Writer) {
	s.worked.mu.Lock()
	defer s.worked.mu.Unlock()
	web.Counter(w, "fettle_tasks_done_total", "Work in the background that was done.", float64(s.worked.done))
	web.Counter(w, "fettle_tasks_failed_total", "Tries of work in the background that failed.", float64(s.worked.failed))
	web.Gauge(w, "fettle_streams", "Streams of events.", float64(s.hub.Open()))
	if s.ends != nil {
		web.Gauge(w, "fettle_certificate_ends_seconds", "When the certificate ends, as Unix time.", float64(s.ends().Unix()))
	}
}

// listen begins to listen everywhere.
func (s *serving) listen(ctx context.Context) (err error) {
	defer func() {
		if err != nil {
			s.closeAll()
		}
	}()
	conf, err := s.tls()
	if err != nil {
		return err
	}
	addresses := []string{s.set.listen}
	if s.own != nil {
		addresses = append(addresses, s.set.local)
	}
	for i, address := range addresses {
		l, err := web.Listen(ctx, address)
		if err != nil {
			return err
		}
		if i > 0 {
			conf = nil // this machine alone
		}
		s.on = append(s.on, web.Listener{On: l, TLS: conf})
	}
	return nil
}

func (s *serving) closeAll() {
	for _, l := range s.on {
		_ = l.On.Close() // or the server has
	}
}

// tls is how it talks TLS; nil where it does not.
func (s *serving) tls() (*tls.Config, error) {
	told := func(err error) { s.log.Error("the certificate cannot be read or made anew", "why", err.Error()) }
	if s.set.certificate != "" {
		g, err := tlsfile.OpenGiven(s.set.certificate, s.set.key, s.env.Now, told)
		if err != nil {
			return nil, err
		}
		s.ends = g.Ends
		return tlsfile.Config(g.GetCertificate), nil
	}
	if len(s.set.lan) == 0 {
		return nil, nil
	}
	own, err := tlsfile.OpenOwn(s.env.data.Keys(), s.set.lan, s.env.Now, told)
	if err != nil {
		return nil, err
	}
	s.own, s.ends = own, own.Ends
	return tlsfile.Config(own.GetCertificate), nil
}

// pages is everything but the routes.
func (s *serving) pages() http.Handler {
	m := http.NewServeMux()
	m.Handle("GET /{$}", http.RedirectHandler(api.Prefix+"/", http.StatusSeeOther))
	entry.MountPages(m, api.Prefix)
	entry.MountLinkPage(m, api.Prefix)
	entry.MountProvider(m, s.people)
	if s.own != nil {
		s.own.Mount(m)
	}
	return m
}

// say says where it serves, and what to do first.
func (s *serving) say(first string) {
	var out strings.Builder // told at once: whoever waits for it has all of it
	fmt.Fprintf(&out, "Serving %s at %s\n", s.env.data.Dir, s.url(s.on[0]))
	if s.own != nil {
		fmt.Fprintf(&out, "On this machine: %s\n", s.url(s.on[1]))
		fmt.Fprintf(&out, "First: every device has to trust its authority, once: %sauthority\n       It shows this SHA-256: %s\n", s.url(s.on[1]), s.own.Fingerprint())
	}
	if first != "" {
		fmt.Fprintln(&out, first)
	}
	if s.set.metrics != "" {
		fmt.Fprintf(&out, "Figures: http://%s/metrics\n", s.set.metrics)
	}
	if _, err := io.WriteString(s.env.Stdout, out.String()); err != nil {
		s.log.Warn("nobody can be told where it serves", "why", err.Error())
	}
}

// first is what is said of people when it begins.
func (s *serving) first(ctx context.Context) (string, error) {
	if s.greet != nil {
		return s.greet(ctx, s.people, s.url(s.on[0]))
	}
	return s.firstUse(ctx)
}

// firstUse is how somebody becomes the first administrator, where there is none: by a link that is printed anew each time it begins,
// to a person at a terminal; elsewhere what is printed is kept, and a secret does not belong there.
func (s *serving) firstUse(ctx context.Context) (string, error) {
	used, err := s.people.Used(ctx)
	if err != nil || used {
		return "", err
	}
	at := s.on[0]
	if !s.env.Terminal || at.TLS == nil && !loopback(at.On.Addr().String()) {
		return "Nobody can sign in yet: fettle people first --at " + strings.TrimSuffix(s.url(at), "/") + " --data " + forShell(s.env.data.Dir) + " prints a link to the first administrator.", nil
	}
	secret, err := s.people.FirstUse(ctx)
	if err != nil {
		return "", err
	}
	link, err := toldLink(s.url(at), "first", secret)
	return "Nobody can sign in yet. Whoever opens this becomes the first administrator:\n" + link, err
}

// url is where a listener is reached.
func (s *serving) url(l web.Listener) string {
	host, port, err := net.SplitHostPort(l.On.Addr().String())
	if err != nil {
		return l.On.Addr().String()
	}
	scheme := "http"
	if l.TLS != nil {
		scheme = "https"
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "localhost"
	}
	if l.TLS != nil && len(s.set.lan) > 0 {
		host = s.set.lan[0]
	} else if l.TLS != nil && len(s.set.hosts) > 0 {
		host = s.set.hosts[0]
	}
	return scheme + "://" + net.JoinHostPort(host, port) + "/"
}

func refusedHTTP(address string) error {
	return &diag.Error{Kind: diag.Usage, Op: "serve", Subject: address, Msg: "other machines reach it there, and without TLS whoever is between may read and change everything",
		Hint: "give --lan NAME, or --certificate and --key; behind a proxy that talks TLS, listen at 127.0.0.1; --insecure-http to do it all the same"}
}

// laneOf is which turns a request has.
func laneOf(r *http.Request) web.Lane {
	switch {
	case hashes(r):
		return web.Hashing
	case api.Computes(r):
		return web.Computing
	}
	return web.Wide
}

var hashes = entry.Hashes(api.Prefix)
