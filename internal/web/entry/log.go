package entry

import (
	"net/http"
	"strconv"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/web"
)

// The security log.

// entryShown is a line of the security log.
type entryShown struct {
	Entry   string           `json:"entry" doc:"Its name; the next page begins behind it."`
	At      time.Time        `json:"at"`
	What    account.Happened `json:"what"`
	Person  string           `json:"person,omitempty" doc:"Who did it, by the opaque name; nothing: nobody knows, or somebody at the machine."`
	About   string           `json:"about,omitempty" doc:"Whom or what, by the opaque name."`
	Address string           `json:"address,omitempty" doc:"From where."`
	More    string           `json:"more,omitempty" doc:"Roles, a way to sign in."`
}

type logShown struct {
	Entries []entryShown `json:"entries"`
	After   string       `json:"after,omitempty" doc:"Ask with it for the next page; nothing: there is none."`
}

func (e ways) logWays() []way {
	return []way{{web.Way{Group: "people", Method: "GET", Path: "/security-log", ID: "security-log", Says: "What happened in the shop to people, sessions, tokens and links, the oldest first.", Gives: logShown{}, Status: http.StatusOK, Refuses: []int{forbidden, notSound},
		Query: map[string]string{"after": "Only lines behind the one of that name, as the page before has it.", "since": "Or those from a moment on (RFC 3339).", "most": "So many, to 500; 50 unless given.", "failures": "true: the sign-ins that failed, instead."}}, e.securityLog}}
}

func (e ways) securityLog(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	q, bad := logQuery(r)
	page, err := e.in.SecurityLog(r.Context(), s.Who, q)
	if err == nil {
		err = bad // whoever may not read it is told nothing of how
	}
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := logShown{[]entryShown{}, page.After}
	for _, x := range page.Entries {
		out.Entries = append(out.Entries, entryShown{x.ID, x.At, x.What, x.Person, x.About, x.Address, x.More})
	}
	tell(w, out)
}

func logQuery(r *http.Request) (q account.LogQuery, err error) {
	in := r.URL.Query()
	q.After, q.Most = in.Get("after"), 50
	wrong := func(subject, hint string) error {
		return &diag.Error{Kind: diag.Invalid, Op: "read the security log", Subject: subject, Msg: subject + " cannot be that", Hint: hint}
	}
	if text := in.Get("most"); text != "" {
		if q.Most, err = strconv.Atoi(text); err != nil || q.Most < 1 || q.Most > 500 {
			return q, wrong("most", "give a number from 1 to 500")
		}
	}
	if text := in.Get("since"); text != "" {
		if q.Since, err = time.Parse(time.RFC3339, text); err != nil {
			return q, wrong("since", "give a moment, as 2026-11-26T12:00:00Z")
		}
	}
	switch in.Get("failures") {
	case "", "false":
	case "true":
		q.Failures = true
	default:
		return q, wrong("failures", "give true or false")
	}
	return q, nil
}
