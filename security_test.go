package fettle_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The page of attacks has each of its 24 promises once, and each names tests that are there. Of two it says that there is none, and why.
func TestSecurityPageNamesTests(t *testing.T) {
	there := map[string]bool{}
	decl := regexp.MustCompile(`(?m)^func (Test\w+)\(t `)
	for _, src := range tracked(t, "_test.go") {
		for _, m := range decl.FindAllStringSubmatch(src, -1) {
			there[m[1]] = true
		}
	}
	text, err := os.ReadFile("docs/security.md")
	if err != nil {
		t.Fatal(err)
	}
	rows := regexp.MustCompile(`(?m)^\| (S\d+) \|.*$`).FindAllStringSubmatch(string(text), -1)
	var found []string
	for i, row := range rows {
		if row[1] != fmt.Sprint("S", i+1) {
			t.Errorf("row %d is %s", i+1, row[1])
		}
		if !testName.MatchString(row[0]) {
			found = append(found, row[1])
		}
	}
	if len(rows) != 24 || !slices.Equal(found, []string{"S20"}) {
		t.Errorf("%d promises, of which no test is named by %v", len(rows), found)
	}
	for _, m := range testName.FindAllStringSubmatch(string(text), -1) {
		if !there[m[1]] {
			t.Errorf("docs/security.md: the test %s does not exist", m[1])
		}
	}
}

// The program connects to others in these places alone: the provider, a service manager, a server that the command line asks, S3 and PostgreSQL.
// Whoever adds one has to say here what looks at the address.
func TestOnlyTheseDial(t *testing.T) {
	dials := regexp.MustCompile(`\bhttp\.(Client|Transport)\{|\bhttp\.(Get|Post|PostForm|Head|DefaultClient|DefaultTransport)\b|\bnet\.(Dial\w*|Dialer)\b|\btls\.(Dial\w*|Dialer)\b|\bminio\.New\(|\bpgx(pool)?\.(Connect|New)\w*\(`)
	known := map[string]bool{"internal/account/openid/guard.go": true, "internal/cli/notify.go": true, "internal/store/remote/remote.go": true}
	n := 0
	for file, src := range tracked(t, ".go") {
		if strings.HasSuffix(file, "_test.go") || strings.Contains(file, "test/") || !strings.HasPrefix(file, "internal/") && !strings.HasPrefix(file, "cmd/") || filepath.Base(file) == "doc.go" {
			continue
		}
		if !dials.MatchString(src) {
			continue
		}
		n++
		if !known[file] && !strings.HasPrefix(file, "internal/store/") {
			t.Errorf("%s connects to somebody: %s", file, dials.FindString(src))
		}
	}
	if n < len(known) {
		t.Errorf("%d places were found", n)
	}
}
