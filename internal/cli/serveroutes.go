package cli

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"net"
	"net/http"
	"strings"
	"sync/atomic"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/right"
	"fettle/internal/store/datafolder"
	"fettle/internal/web"
	"fettle/internal/web/api"
	"fettle/internal/web/entry"
)

// routes are everything under /api/, for those who are signed in.
func (s *serving) routes(ctx context.Context) (http.Handler, error) {
	data, env := s.env.data, s.env
	s.hub = web.NewHub(web.HubSettings{From: movesOf{data}, Woken: data.Woken(ctx), Failed: func(err error) { s.log.Warn("what moved cannot be read", "why", err.Error()) }})
	bodies := env.Bodies
	if bodies == nil {
		bodies = &app.Bodies{}
	}
	a := app.New(nowhere{}, env.Version).WithBodies(bodies).WithBuild(env.Build).WithPace(app.Calm).WithTurns(s.turns)
	s.service = app.Service{
		App: a, In: data, Keeping: datafolder.Keeper{Store: data}, Uploads: a.Uploader(data, data.Uploads(), app.UsualUploads), Rights: right.Shipped(), Now: env.Now, IsShop: s.people.IsShop,
	}
	all, err := api.New(api.Config{Version: env.Version, Now: env.Now, Service: s.service, Who: s.who, Stream: http.HandlerFunc(s.stream), Noted: web.Noted, Ways: entry.Ways()})
	if err != nil {
		return nil, err
	}
	m := http.NewServeMux()
	entry.Mount(m, api.Prefix, s.people)
	entry.MountLinks(m, api.Prefix, s.people, linkedJobs{s})
	m.Handle("/", all)
	return m, nil
}

// who is who a request is from: by a token where there is one, else by the session.
func (s *serving) who(r *http.Request) (right.Who, app.Shop, error) {
	return known(entry.Session(s.people, r))
}

func known(found account.Session, err error) (right.Who, app.Shop, error) {
	if err != nil {
		return right.Who{}, app.Shop{}, err
	}
	of := found.Shop
	return found.Who, app.Shop{ID: of.ID, First: of.First, Several: of.Several, Everybody: of.Everybody, Alone: of.Alone}, nil
}

// linkedJobs is what links are made of.
type linkedJobs struct{ *serving }

func (l linkedJobs) as(s account.Session) *app.As {
	who, of, _ := known(s, nil)
	return l.service.As(who, of)
}

// Seal is a job as it stands now.
func (l linkedJobs) Seal(ctx context.Context, s account.Session, job string) (entry.Sealed, error) {
	x, err := l.as(s).Seal(ctx, job)
	return entry.Sealed{On: x.On, To: x.To, Day: x.Day, Seal: x.Seal}, err
}

// On is a job of the shop as the matrix is asked about it.
func (l linkedJobs) On(ctx context.Context, s account.Session, job string) (right.On, error) {
	return l.as(s).OnJob(ctx, job)
}

// stream tells who is signed in of the jobs of their shop that moved. Who they are is asked anew before anything is told.
func (s *serving) stream(w http.ResponseWriter, r *http.Request) {
	var now atomic.Pointer[app.As]
	still := func(context.Context) error {
		who, of, err := known(entry.Look(s.people, r))
		if err != nil {
			return err
		}
		web.Noted(r.Context(), "", who.Person)
		now.Store(s.service.As(who, of))
		return nil
	}
	if err := still(r.Context()); err != nil {
		p := web.Problem{Status: http.StatusUnauthorized, Code: "signed-out", Detail: "nobody is signed in", Hint: "sign in, or send a token that has not expired"}
		if diag.KindOf(err) == diag.Unavailable {
			p = web.Problem{Status: http.StatusServiceUnavailable, Code: "web.not-ready", Detail: "the server is not ready", After: retryAfter}
		}
		web.Tell(w, r, p)
		return
	}
	s.hub.Serve(w, r, web.Stream{Only: func(m web.Move) bool { return now.Load().Hears(m.Shop) }, Still: still})
}

// site is the one that passkeys are made for, and to which a provider sends people back.
func (s *serving) site() account.Site {
	site := s.named()
	at := strings.TrimSuffix(s.url(s.on[0]), "/")
	if n := len(site.Origins); n > 0 {
		at = site.Origins[n-1]
	}
	site.Back = at + entry.ProviderBack
	return site
}

// named is the site by the first name that is no address, else this machine.
func (s *serving) named() account.Site {
	for _, name := range append(append([]string(nil), s.set.lan...), s.set.hosts...) {
		if name = web.HostOf(name); net.ParseIP(name) == nil {
			origins := []string{"https://" + name}
			if _, port, err := net.SplitHostPort(s.set.listen); err == nil && port != "443" {
				origins = append(origins, "https://"+net.JoinHostPort(name, port))
			}
			return account.Site{Name: name, Title: "fettle", Origins: origins}
		}
	}
	_, port, err := net.SplitHostPort(s.on[0].On.Addr().String())
	if err != nil || s.on[0].TLS != nil {
		return account.Site{}
	}
	return account.Site{Name: web.Loopback()[0], Title: "fettle", Origins: []string{"http://" + net.JoinHostPort(web.Loopback()[0], port)}}
}

// nowhere is the disk as those see it whom a server serves: there is nothing.
type nowhere struct{}

var errNowhere = errors.Join(fs.ErrNotExist, errors.New("a server reads no files that somebody names"))

func (nowhere) Copy(string, string, int64, io.Writer) (int64, error) { return 0, errNowhere }
func (nowhere) List(string) ([]string, error)                        { return nil, errNowhere }
func (nowhere) IsDir(string) bool                                    { return false }
func (nowhere) Exists(string) bool                                   { return false }
func (nowhere) Real(string) (string, error)                          { return "", errNowhere }
