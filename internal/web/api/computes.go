package api

import (
	"net/http"
	"strings"
)

// computing are what is asked of a job that is computed, and routes that compute by themselves.
var computing = map[string]bool{}

func init() {
	for _, x := range strings.Fields("assessment check decisions explain expose expose-sheet inspection lengths lengths-page measurement order owner plan recompute release report routes sheets") {
		computing["/jobs//"+x] = true
	}
	for _, x := range strings.Fields("/replay /times /week") {
		computing[x] = true
	}
}

// Computes says which requests may take a processor for long. Whoever floods them keeps nobody waiting who reads or writes.
func Computes(r *http.Request) bool {
	path, is := strings.CutPrefix(r.URL.Path, Prefix)
	if !is {
		return false
	}
	if parts := strings.SplitN(path, "/", 4); len(parts) == 4 && parts[1] == "jobs" {
		path = "/jobs//" + parts[3]
	}
	return computing[path] || strings.HasPrefix(path, "/tools/")
}
