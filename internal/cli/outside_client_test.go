//go:build outside

package cli

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"fettle/internal/demo"
)

// A program of others takes the rear-end job from intake to hand-back, on a server that is a process of its own, by a client that openapi-typescript
// generates from the committed description and the compiler of TypeScript holds each call against. What it fetches is, byte for byte, what the command line
// says of the same job.
func TestOutsideClientTakesTheJob(t *testing.T) {
	binary, program := filepath.Join(t.TempDir(), "fettle"), clientProgram(t)
	ran(t, exec.Command("go", "build", "-o", binary, "../../cmd/fettle"))
	t.Setenv("FETTLE_BINARY", binary)
	dir, files, out := filepath.Join(t.TempDir(), "data"), t.TempDir(), t.TempDir()
	for name, data := range demo.Files() {
		at := filepath.Join(files, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(at, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	at, stop := begun(t, dir)
	defer stop()
	day := demo.Day.Format("2006-01-02")
	_, secret, _ := strings.Cut(strings.TrimSpace(string(ran(t, exec.Command(binary, "people", "first", "--data", dir)))), "#")
	secret, _, _ = strings.Cut(secret, "\n")
	task := map[string]string{"at": strings.TrimSuffix(at, "/"), "files": files, "out": out, "on": day, "secret": secret}
	text, err := json.Marshal(task)
	if err != nil {
		t.Fatal(err)
	}
	node := exec.Command("node", program)
	node.Stdin = bytes.NewReader(text)
	var did struct {
		Job          string
		Puts, Events int
		Route        string
	}
	said := ran(t, node)
	if err := json.Unmarshal(said, &did); err != nil || did.Job != "DEMO-0881" || did.Route != "weld" {
		t.Fatalf("%v: %s", err, said)
	}
	t.Logf("%s", said)
	whole := ran(t, exec.Command(binary, "assess", did.Job, "--data", dir, "--on", day, "--json", "--out", filepath.Join(out, "own")))
	var plain bytes.Buffer // the command line indents, for people
	if err := json.Compact(&plain, whole); err != nil {
		t.Fatal(err)
	}
	if got := bytes.TrimSpace(contents(t, out, "assessment.json")); !bytes.Equal(got, plain.Bytes()) {
		t.Errorf("the assessments differ: %d bytes of the client, %d of the command line", len(got), plain.Len())
	}
	for _, name := range []string{"report.html", "owner.html", "sheets.html"} {
		if got, want := contents(t, out, name), contents(t, out, filepath.Join("own", name)); !bytes.Equal(got, want) {
			t.Errorf("%s differs: %d bytes of the client, %d of the command line", name, len(got), len(want))
		}
	}
}

// clientProgram generates the client, compiles the program against it and gives where it lies.
func clientProgram(t *testing.T) string {
	t.Helper()
	from := os.Getenv("FETTLE_CLIENT")
	if from == "" {
		from = filepath.Join("..", "..", "build", "client")
	}
	modules, err := filepath.Abs(filepath.Join(from, "node_modules"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, name := range []string{"package.json", "take.ts"} {
		if err := os.WriteFile(filepath.Join(dir, name), contents(t, filepath.Join("..", "..", "tools", "client"), name), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(modules, filepath.Join(dir, "node_modules")); err != nil {
		t.Fatal(err)
	}
	ran(t, exec.Command("node", filepath.Join(modules, "openapi-typescript", "bin", "cli.js"), filepath.Join("..", "..", "docs", "api", "openapi.json"), "-o", filepath.Join(dir, "schema.d.ts")))
	compile := exec.Command("node", filepath.Join("node_modules", "typescript", "bin", "tsc"), "--strict", "--target", "es2022", "--module", "nodenext", "--types", "node", "--skipLibCheck", "--outDir", ".", "take.ts")
	compile.Dir = dir
	ran(t, compile)
	return filepath.Join(dir, "take.js")
}

// ran is what a program printed that did what it should.
func ran(t *testing.T, c *exec.Cmd) []byte {
	t.Helper()
	var errs bytes.Buffer
	c.Stderr = &errs
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%v: %v\n%s%s", c.Args, err, out, errs.String())
	}
	return out
}

func contents(t *testing.T, dir, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}
