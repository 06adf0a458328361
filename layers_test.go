package fettle_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
)

// row is one line of the layer table: a package, the packages of ours it may
// import, the modules of others, and whether it is pure (no I/O, no clock, no
// unseeded randomness). The table is read from the bottom up: a row may only
// name rows above it.
type row struct {
	pkg    string
	ours   string
	others string
	pure   bool
}

const kernels = "elem unit normal diag halt ledger geom mesh rule sched choose picture doc"

var layers = []row{
	// for tests alone
	{"internal/golden", "", "", false},
	// 1 kernels: no word of the trade inside
	{"internal/elem", "", "", true},
	{"internal/unit", "elem", "", true},
	{"internal/normal", "elem", "", true},
	{"internal/diag", "elem unit", "", true},
	{"internal/halt", "", "", true},
	{"internal/ledger", "diag", "", true},
	{"internal/geom", "elem unit normal diag halt", "", true},
	{"internal/mesh", "elem unit diag halt geom", "", true},
	{"internal/rule", "elem unit normal diag", "", true},
	{"internal/sched", "unit diag halt", "", true},
	{"internal/choose", "halt", "", true},
	{"internal/picture", "unit halt geom mesh", "", true},
	{"internal/doc", "unit diag", "github.com/goccy/go-yaml", true},
	// 2 data
	{"internal/body", kernels, "", true},
	{"internal/shop", kernels + " body", "", true},
	{"internal/job", kernels + " body shop", "", true},
	{"internal/format", kernels + " body shop job", "github.com/xuri/excelize/v2", true},
	{"internal/right", "diag", "", true},
	{"internal/photo", "elem diag", "golang.org/x/image github.com/tetratelabs/wazero", true},
	// 3 pure computing
	{"internal/vehicle", kernels + " body", "", true},
	{"internal/measure", kernels + " body job", "", true},
	{"internal/inspect", kernels + " body shop job vehicle", "", true},
	{"internal/decide", kernels + " body shop job measure inspect", "", true},
	{"internal/plan", kernels + " body shop job vehicle inspect", "", true},
	{"internal/cost", kernels + " body shop job plan", "", true},
	{"internal/compare", kernels + " body shop job vehicle measure inspect decide plan cost", "", true},
	{"internal/revise", kernels + " body job decide", "", true},
	{"internal/decide/fixture", "unit body shop job inspect", "", true},
	{"internal/release", kernels + " body shop job measure inspect decide plan cost compare", "", true},
	{"internal/assess", kernels + " body shop job vehicle measure inspect decide plan cost compare release", "", true},
	{"internal/report", kernels + " body shop job vehicle measure inspect decide plan cost compare", "", true},
	{"internal/explain", kernels + " body shop job vehicle measure inspect decide plan cost compare report", "", true},
	// the invented vehicle: data and the generator of its casting
	{"internal/demo/casting", "geom mesh", "", true},
	{"internal/demo/gen", "mesh format demo/casting", "", false},
	{"internal/demo", "", "", true},
	{"internal/golden/folders", "demo", "", false},                                 // for tests alone
	{"internal/golden/broken", "unit diag doc", "github.com/goccy/go-yaml", false}, // for tests alone
	// 4 service
	{"internal/app", kernels + " body shop job right format photo vehicle measure inspect decide plan cost compare revise release assess report explain demo", "", false},
	{"internal/account/openid", "diag", "github.com/coreos/go-oidc/v3 golang.org/x/oauth2", false},
	{"internal/account", "diag right account/openid", "github.com/go-webauthn/webauthn github.com/trustelem/zxcvbn golang.org/x/crypto golang.org/x/text", false},
	{"internal/account/accounttest", "diag right account", "github.com/go-webauthn/webauthn", false}, // for tests alone
	// 5 edges
	{"internal/store/safefile", "diag", "", false},
	{"internal/store/safefile/simdisk", "diag store/safefile", "", false},
	{"internal/store/blobs", "diag store/safefile store/safefile/simdisk", "github.com/minio/minio-go/v7", false},
	{"internal/store", "diag ledger body job app store/safefile store/blobs", "", false},
	{"internal/store/storetest", "diag halt unit ledger body job demo golden/folders app", "", false},
	{"internal/store/postgrestest", "", "github.com/jackc/pgx/v5", false},           // for tests alone
	{"internal/store/s3test", "", "github.com/johannesboyne/gofakes3", false},       // for tests alone
	{"internal/store/simvfs", "", "modernc.org/sqlite/lib modernc.org/libc", false}, // for tests alone
	{"internal/store/database", "diag halt unit ledger body job account app store store/safefile store/blobs", "github.com/jackc/pgx/v5 modernc.org/sqlite golang.org/x/mod/sumdb", false},
	{"internal/store/datafolder", "diag right account account/openid doc unit ledger store store/safefile store/blobs store/database app", "", false},
	{"internal/store/remote", "diag halt doc ledger body job right app store store/blobs", "", false},
	{"internal/web", "diag", "", false},
	{"internal/web/entry", "diag right account web", "", false},
	{"internal/web/tlsfile", "diag store/safefile", "golang.org/x/net/publicsuffix", false},
	{"internal/web/api", "diag doc unit geom ledger job right measure inspect decide cost compare explain app web", "github.com/danielgtaylor/huma/v2", false},
	{"internal/cli", "right account ledger store store/remote store/safefile store/datafolder web web/entry web/api web/tlsfile unit diag halt geom mesh job app", "github.com/alecthomas/kong", false},
	{"internal/load", "", "", false}, // has tests alone: of the program as it is built
	{"cmd/fettle", "cli", "golang.org/x/term", false},
}

// impure are packages of the standard library that a pure package may not use.
var impure = []string{"os", "os/exec", "io/ioutil", "net", "net/http", "database/sql", "log", "log/slog", "math/rand", "syscall", "path/filepath", "testing", "unsafe"}

// clock are functions that read the clock or draw unseeded numbers.
var clock = map[string][]string{
	"time":         {"Now", "Since", "Until", "Sleep", "After", "Tick", "NewTimer", "NewTicker", "AfterFunc", "Local"},
	"math/rand/v2": {"Int", "IntN", "Int64", "Int64N", "Uint32", "Uint64", "Float64", "Float32", "NormFloat64", "ExpFloat64", "Perm", "Shuffle", "N"},
}

func TestLayers(t *testing.T) {
	for _, fault := range layerFaults(t, os.DirFS("."), layers) {
		t.Error(fault)
	}
}

// TestLayersFindPlantedBreaches shows that the check has teeth.
func TestLayersFindPlantedBreaches(t *testing.T) {
	table := []row{{"internal/a", "", "", true}, {"internal/b", "a", "", true}, {"internal/c", "b", "", false}}
	plant := func(file, src string) fs.FS { return fstest.MapFS{file: {Data: []byte(src)}} }
	for _, c := range []struct{ name, file, src, want string }{
		{"own import", "internal/b/b.go", "package b\nimport _ \"fettle/internal/c\"", "may not import internal/c"},
		{"foreign module", "internal/a/a.go", "package a\nimport _ \"example.org/x\"", "may not import example.org/x"},
		{"input and output", "internal/a/a.go", "package a\nimport _ \"os\"", "is pure and may not import os"},
		{"clock", "internal/a/a.go", "package a\nimport \"time\"\nvar _ = time.Now", "is pure and may not use time.Now"},
		{"unlisted folder", "internal/util/u.go", "package util", "internal/util is not in the layer table"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := strings.Join(layerFaults(t, plant(c.file, c.src), table), "\n")
			if !strings.Contains(got, c.want) {
				t.Errorf("want a fault with %q, got %q", c.want, got)
			}
		})
	}
	up := []row{{"internal/a", "b", "", true}, {"internal/b", "", "", true}}
	if got := strings.Join(layerFaults(t, fstest.MapFS{}, up), "\n"); !strings.Contains(got, "not above it") {
		t.Errorf("a row that names one below it was not found: %q", got)
	}
}

func layerFaults(t *testing.T, fsys fs.FS, table []row) []string {
	t.Helper()
	var faults []string
	byPkg := map[string]row{}
	for _, r := range table {
		for _, o := range strings.Fields(r.ours) {
			if _, ok := byPkg["internal/"+o]; !ok {
				faults = append(faults, fmt.Sprintf("layer table: %s names %s, which is not above it", r.pkg, o))
			}
		}
		byPkg[r.pkg] = r
	}
	err := fs.WalkDir(fsys, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(p, ".go") || strings.HasSuffix(p, "_test.go") || strings.Contains(p, "testdata/") {
			return err
		}
		dir := path.Dir(p)
		if !strings.HasPrefix(dir, "internal/") && !strings.HasPrefix(dir, "cmd/") {
			return nil
		}
		r, ok := byPkg[dir]
		if !ok {
			faults = append(faults, dir+" is not in the layer table")
			return nil
		}
		src, err := fs.ReadFile(fsys, p)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), p, src, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		faults = append(faults, fileFaults(p, f, r)...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return faults
}

func fileFaults(file string, f *ast.File, r row) []string {
	var faults []string
	names := map[string]string{}
	for _, imp := range f.Imports {
		p, _ := strconv.Unquote(imp.Path.Value)
		name := path.Base(p)
		if p == "math/rand/v2" {
			name = "rand"
		}
		if imp.Name != nil {
			name = imp.Name.Name
		}
		names[name] = p
		switch own, isOwn := strings.CutPrefix(p, "fettle/"); {
		case isOwn:
			if !slices.Contains(strings.Fields(r.ours), strings.TrimPrefix(own, "internal/")) {
				faults = append(faults, fmt.Sprintf("%s: %s may not import %s", file, r.pkg, own))
			}
		case strings.Contains(strings.Split(p, "/")[0], "."):
			if !slices.ContainsFunc(strings.Fields(r.others), func(m string) bool { return p == m || strings.HasPrefix(p, m+"/") }) {
				faults = append(faults, fmt.Sprintf("%s: %s may not import %s", file, r.pkg, p))
			}
		case r.pure && slices.Contains(impure, p):
			faults = append(faults, fmt.Sprintf("%s: %s is pure and may not import %s", file, r.pkg, p))
		}
	}
	if !r.pure {
		return faults
	}
	ast.Inspect(f, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok {
			if id, ok := s.X.(*ast.Ident); ok {
				if p := names[id.Name]; slices.Contains(clock[p], s.Sel.Name) {
					faults = append(faults, fmt.Sprintf("%s: %s is pure and may not use %s.%s", file, r.pkg, path.Base(p), s.Sel.Name))
				}
			}
		}
		return true
	})
	return faults
}
