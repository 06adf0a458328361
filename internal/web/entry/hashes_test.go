package entry

import (
	"net/http/httptest"
	"reflect"
	"testing"
)

// Every way that takes a password is one that hashes, and no other is: a new one that is forgotten would hold up who is signed in.
func TestWaysThatHashAreKnown(t *testing.T) {
	is, n := Hashes("/api/v1"), 0
	for _, x := range Ways() {
		takes := false
		if x.Takes != nil {
			_, takes = reflect.TypeOf(x.Takes).FieldByName("Password")
		}
		if takes {
			n++
		}
		if got := is(httptest.NewRequest(x.Method, "/api/v1"+x.Path, nil)); got != takes {
			t.Errorf("%s %s takes a password: %v, and hashes: %v", x.Method, x.Path, takes, got)
		}
	}
	if n < 5 {
		t.Errorf("%d ways take a password", n)
	}
}
