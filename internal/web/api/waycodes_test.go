package api

import (
	"go/ast"
	"net/http"
	"regexp"
	"strings"
	"testing"
)

// wayCodes is what the ways in and the server itself refuse with, whatever route is asked: status and when.
var wayCodes = map[string]Problem{
	"entry.changed":           {Status: http.StatusPreconditionFailed, Detail: "somebody else has changed it since its `ETag` was read"},
	"entry.conflict":          {Status: http.StatusConflict, Detail: "what is there of people, shops and tokens speaks against it"},
	"entry.elsewhere":         {Status: http.StatusBadRequest, Detail: "what comes after the sign-in is no page of this server"},
	"entry.first-in-the-open": {Status: http.StatusForbidden, Detail: "nobody is made the first administrator where others could listen"},
	"entry.invalid":           {Status: http.StatusUnprocessableEntity, Detail: "a name, a password, a role or a time is not right"},
	"entry.method":            {Status: http.StatusMethodNotAllowed, Detail: "a browser comes back from a provider by GET"},
	"entry.no-json":           {Status: http.StatusUnsupportedMediaType, Detail: "the body is not said to be JSON"},
	"entry.no-provider":       {Status: http.StatusNotFound, Detail: "nobody signs in by a provider here"},
	"entry.not-found":         {Status: http.StatusNotFound, Detail: "there is no such person, shop, token or secret, or it is not for who asks"},
	"entry.provider":          {Status: http.StatusServiceUnavailable, Detail: "the provider does not answer; `Retry-After` says when to try again"},
	"entry.refused":           {Status: http.StatusForbidden, Detail: "the sign-in or the proof was not right, or it may not be done"},
	"entry.too-large":         {Status: http.StatusRequestEntityTooLarge, Detail: "the body is too long"},
	"entry.unreadable":        {Status: http.StatusBadRequest, Detail: "the body or the address is not what the route takes"},
	"entry.unsupported":       {Status: http.StatusNotFound, Detail: "this server has no such way in"},
	"entry.wait":              {Status: http.StatusTooManyRequests, Detail: "there were too many wrong tries; `Retry-After` says when to try again"},
	"web.body-broke-off":      {Status: http.StatusRequestTimeout, Detail: "the body did not come whole in time"},
	"web.busy":                {Status: http.StatusServiceUnavailable, Detail: "the server has all it can do"},
	"web.connections":         {Status: http.StatusServiceUnavailable, Detail: "there are too many connections: one more is closed without an answer, and counted among the figures"},
	"web.cross-site":          {Status: http.StatusForbidden, Detail: "a page of another site sent the request"},
	"web.fault":               {Status: http.StatusInternalServerError, Detail: "the program has a fault; the log says which, by the `id`"},
	"web.method":              {Status: http.StatusMethodNotAllowed, Detail: "the address can only be read"},
	"web.not-ready":           {Status: http.StatusServiceUnavailable, Detail: "the server cannot reach its store now, or is stopping"},
	"web.nothing-here":        {Status: http.StatusNotFound, Detail: "nothing is served at the address"},
	"web.other-host":          {Status: http.StatusMisdirectedRequest, Detail: "the server does not answer to the name"},
	"web.streams":             {Status: http.StatusServiceUnavailable, Detail: "there are too many streams"},
	"web.too-much-at-once":    {Status: http.StatusTooManyRequests, Detail: "the client asks too much at once"},
}

var wayCode = regexp.MustCompile(`^(entry|web)\.[a-z-]+$`)

// TestCodesOfWaysAreDocumented: each code that the ways in and the server refuse with has a meaning, and no other is told of; where it stands
// beside a status in the source, that is the status told.
func TestCodesOfWaysAreDocumented(t *testing.T) {
	statuses := map[string]int{}
	for status := 400; status < 600; status++ {
		if words := http.StatusText(status); words != "" {
			statuses["Status"+strings.NewReplacer(" ", "", "-", "", "'", "").Replace(words)] = status
		}
	}
	seen := map[string]bool{}
	for file, f := range source(t) {
		if !strings.HasPrefix(file, "web/") {
			continue
		}
		note := func(code string, beside []ast.Expr) {
			seen[code] = true
			want, is := wayCodes[code]
			if !is {
				t.Errorf("%s: %s says nothing: give it a meaning in wayCodes", file, code)
			}
			for _, e := range beside {
				if status := statuses[called(e)]; status != 0 && want.Status != status {
					t.Errorf("%s: %s is told with %d, and documented with %d", file, code, status, want.Status)
				}
			}
		}
		ast.Inspect(f, func(n ast.Node) bool {
			var beside []ast.Expr
			switch n := n.(type) {
			case *ast.CompositeLit:
				for _, e := range n.Elts {
					if kv, is := e.(*ast.KeyValueExpr); is {
						beside = append(beside, kv.Value)
					}
				}
			case *ast.AssignStmt:
				beside = n.Rhs
			case *ast.CallExpr:
				beside = n.Args
			case *ast.ValueSpec:
				beside = n.Values
			}
			for _, e := range beside {
				if code, is := literal(e); is && wayCode.MatchString(code) {
					note(code, beside)
				}
			}
			return true
		})
	}
	for code := range wayCodes {
		if !seen[code] {
			t.Errorf("%s is documented, and nothing says it", code)
		}
	}
}
