package entry

import (
	"bytes"
	"context"
	_ "embed"
	"html/template"
	"net/http"
	"net/url"
	"strings"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
	"fettle/internal/web"
)

// Links for readers from outside: whoever opens one gets a session that is good for one revision of one job, and for nothing else.

// Sealed is a job as it stands now, for a link to it.
type Sealed struct {
	On        right.On
	To        int64  // number of its newest event
	Day, Seal string // the day it is judged on, and the hash of what is shown of it
}

// Jobs knows what has to be known of a job before a link to it is made, told of or revoked.
type Jobs interface {
	Seal(ctx context.Context, s account.Session, job string) (Sealed, error)
	On(ctx context.Context, s account.Session, job string) (right.On, error)
}

// Cookies of readers from outside. They are looked at by the routes of revisions alone.
const (
	secureReader cookie = "__Host-fettle-link"
	localReader  cookie = "fettle-link"
)

func readerCookie(ctx context.Context) cookie {
	if web.Secure(ctx) {
		return secureReader
	}
	return localReader
}

// ofRevision says that a path is one of a revision: …/jobs/{job}/revisions/{event}/…
func ofRevision(path string) bool {
	parts := strings.Split(path, "/")
	n := len(parts)
	return n >= 5 && parts[n-5] == "jobs" && parts[n-3] == "revisions"
}

// readerFor is for how long a browser shows what it was given by a link; the session itself ends no later.
const readerFor = 30 * time.Minute

type links struct {
	ways
	jobs Jobs
}

// MountLinks has the routes of links answered below a prefix.
func MountLinks(m *http.ServeMux, prefix string, in *account.Accounts, jobs Jobs) {
	for _, x := range (links{ways{in}, jobs}).all() {
		m.HandleFunc(x.Method+" "+prefix+x.Path, x.serve)
	}
}

type newLinkAsked struct {
	Days  int  `json:"days,omitempty" minimum:"0" maximum:"180" doc:"How long it is good for; 30 unless given."`
	Files bool `json:"files,omitempty" doc:"All that is shown may be taken along in one file."`
	Code  bool `json:"code,omitempty" doc:"A code is asked for besides, which is told by another way."`
	Most  int  `json:"most,omitempty" minimum:"0" maximum:"200" doc:"How often it may be opened; 100 times unless given."`
}

type madeLinkShown struct {
	Link    string    `json:"link" doc:"Its name, by which it is revoked."`
	Address string    `json:"address" doc:"What is handed on; its secret stands behind the # and is told now alone."`
	Code    string    `json:"code,omitempty" doc:"To be told by another way; told now alone."`
	Event   int64     `json:"event" doc:"Number of the newest event that is shown."`
	Day     string    `json:"day" format:"date" doc:"The day it is judged on, whenever it is opened."`
	Ends    time.Time `json:"ends"`
}

type linkShown struct {
	Link     string            `json:"link"`
	Event    int64             `json:"event" doc:"Number of the newest event that is shown."`
	Day      string            `json:"day" format:"date"`
	Files    bool              `json:"files"`
	Code     bool              `json:"code" doc:"A code is asked for besides."`
	By       string            `json:"by" doc:"Who made it, by the opaque name."`
	Made     time.Time         `json:"made"`
	Ends     time.Time         `json:"ends"`
	Revoked  bool              `json:"revoked"`
	Most     int               `json:"most" doc:"How often it may be opened."`
	Openings []account.Opening `json:"openings"`
}

type linksShown struct {
	Links []linkShown `json:"links"`
}

type openLinkAsked struct {
	Secret string `json:"secret" doc:"What stands behind the # of the address."`
	Code   string `json:"code,omitempty"`
}

type openedShown struct {
	Job   string    `json:"job"`
	Event int64     `json:"event" doc:"Number of the newest event that is shown."`
	Day   string    `json:"day" format:"date"`
	Files bool      `json:"files"`
	Ends  time.Time `json:"ends" doc:"When the session ends; the link may be opened again."`
}

func (e links) all() []way {
	ok, created, none := http.StatusOK, http.StatusCreated, http.StatusNoContent
	return []way{
		{web.Way{Group: "revisions", Method: "POST", Path: "/jobs/{job}/links", ID: "make-link", Says: "Makes a link for a reader from outside to a job as it stands now.", Takes: newLinkAsked{}, Gives: madeLinkShown{}, Status: created, Refuses: []int{forbidden, notThere, notSound}}, e.make},
		{web.Way{Group: "revisions", Method: "GET", Path: "/jobs/{job}/links", ID: "links", Says: "The links of a job, with every time one was opened.", Gives: linksShown{}, Status: ok, Refuses: []int{forbidden, notThere}}, e.list},
		{web.Way{Group: "revisions", Method: "DELETE", Path: "/jobs/{job}/links/{link}", ID: "revoke-link", Says: "Ends a link, and with it the sessions of all who have opened it.", Status: none, Refuses: []int{forbidden, notThere}}, e.revoke},
		{web.Way{Group: "revisions", Method: "POST", Path: "/link", ID: "open-link", Says: "Opens a link: a session of half an hour for the routes of its revision, in a cookie.", Anybody: true, Takes: openLinkAsked{}, Gives: openedShown{}, Status: ok, Refuses: []int{forbidden}}, e.open},
	}
}

func (e links) make(w http.ResponseWriter, r *http.Request) {
	var ask newLinkAsked
	s, ok := e.asked(w, r, &ask)
	if !ok {
		return
	}
	sealed, err := e.jobs.Seal(r.Context(), s, r.PathValue("job"))
	if err != nil {
		refuse(w, r, err)
		return
	}
	const day = 24 * time.Hour
	days := min(max(ask.Days, -1), int(account.LinkMost/day)+1) // more is refused, and no number of days goes round
	l, secret, err := e.in.MakeLink(r.Context(), s.Who, sealed.On, account.NewLink{To: sealed.To, Day: sealed.Day, Seal: sealed.Seal, Files: ask.Files, For: time.Duration(days) * day, Most: ask.Most, Coded: ask.Code})
	scheme := "http"
	if web.Secure(r.Context()) {
		scheme = "https"
	}
	at := url.URL{Scheme: scheme, Host: r.Host, Path: LinkPage, Fragment: secret.Text}
	made(w, r, madeLinkShown{l.ID, at.String(), l.Code, l.To, l.Day, secret.Ends}, err)
}

func (e links) list(w http.ResponseWriter, r *http.Request) {
	s, ok := e.asked(w, r, nil)
	if !ok {
		return
	}
	on, err := e.jobs.On(r.Context(), s, r.PathValue("job"))
	var all []account.Link
	if err == nil {
		all, err = e.in.Links(r.Context(), s.Who, on)
	}
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := []linkShown{}
	for _, l := range all {
		out = append(out, linkShown{l.ID, l.To, l.Day, l.Files, l.Coded, l.By, l.Made, l.Ends, l.Revoked, l.Most, append([]account.Opening{}, l.Openings...)})
	}
	tell(w, linksShown{out})
}

func (e links) revoke(w http.ResponseWriter, r *http.Request) {
	s, ok := e.asked(w, r, nil)
	if !ok {
		return
	}
	on, err := e.jobs.On(r.Context(), s, r.PathValue("job"))
	if err == nil {
		err = e.in.RevokeLink(r.Context(), s.Who, on, r.PathValue("link"))
	}
	done(w, r, err)
}

func (e links) open(w http.ResponseWriter, r *http.Request) {
	var ask openLinkAsked
	if !take(w, r, &ask) {
		return
	}
	in, l, err := e.in.OpenLink(r.Context(), ask.Secret, ask.Code, from(r))
	if err != nil {
		refuse(w, r, err)
		return
	}
	give(w, r, readerCookie(r.Context()), in.Session, readerFor)
	tell(w, openedShown{l.Job, l.To, l.Day, l.Files, in.Ends})
}

// LinkPage is where a link for a reader from outside leads.
const LinkPage = "/link"

const linkPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; frame-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'"

var (
	//go:embed link.html
	linkText string
	//go:embed link.js
	linkScript []byte
	//go:embed link.css
	linkStyle []byte

	linkTemplate = template.Must(template.New("link").Parse(linkText))
)

// MountLinkPage gives the page that links for readers from outside lead to.
func MountLinkPage(m *http.ServeMux, prefix string) {
	var out bytes.Buffer
	if err := linkTemplate.Execute(&out, prefix); err != nil {
		panic(err) // a template of this package
	}
	m.HandleFunc("GET "+LinkPage, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Security-Policy", linkPolicy)
		w.Header().Set("X-Robots-Tag", "noindex, nofollow")
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write(out.Bytes()) // whoever asked has left
	})
	m.HandleFunc("GET /link.js", fixed("text/javascript; charset=utf-8", linkScript))
	m.HandleFunc("GET /link.css", fixed("text/css; charset=utf-8", linkStyle))
}
