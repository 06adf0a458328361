package entry

import (
	"net/http"
	"strings"
)

// hashing are the ways for which a password is hashed, of which two are at once.
var hashing = map[string]bool{"POST /first": true, "POST /session": true, "POST /session/proof": true, "POST /password": true, "PUT /session/password": true}

// Hashes says which requests below a prefix wait for a hash. Whoever floods them keeps nobody waiting who is signed in.
func Hashes(prefix string) func(*http.Request) bool {
	below := map[string]bool{}
	for x := range hashing {
		method, path, _ := strings.Cut(x, " ")
		below[method+" "+prefix+path] = true
	}
	return func(r *http.Request) bool { return below[r.Method+" "+r.URL.Path] }
}
