//go:build outside

package fettle_test

import (
	"bufio"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// systemd rates how much a service could do outside its folder from 0 to 10: 2 at most (our choice; common services are at 9).
func TestOutsideServiceIsCaged(t *testing.T) {
	out, err := exec.Command("systemd-analyze", "security", "--offline=true", "--no-pager", "deploy/fettle.service").CombinedOutput()
	m := regexp.MustCompile(`Overall exposure level for fettle.service: ([0-9.]+)`).FindStringSubmatch(string(out))
	if m == nil {
		t.Fatalf("%v: %s", err, out)
	}
	if is, err := strconv.ParseFloat(m[1], 64); err != nil || is > 2 {
		t.Errorf("its exposure is %s:\n%s", m[1], out)
	}
	t.Logf("exposure %s", m[1])
}

// What the container has is enough: with nothing but the binary below a root that cannot be written to, as a user by number without any
// capability, it serves its data folder and stops when told to.
func TestOutsideContainerHasAllItNeeds(t *testing.T) {
	dir := t.TempDir()
	root, data := filepath.Join(dir, "root"), filepath.Join(dir, "data")
	for _, d := range []string{data, filepath.Join(root, "data"), filepath.Join(root, "proc"), filepath.Join(root, "dev")} {
		if err := os.MkdirAll(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	build := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w -buildid=", "-o", filepath.Join(root, "fettle"), "./cmd/fettle")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	run := exec.Command("bwrap", "--unshare-all", "--share-net", "--uid", "65532", "--gid", "65532", "--cap-drop", "ALL", "--ro-bind", root, "/", "--bind", data, "/data", "--proc", "/proc", "--dev", "/dev",
		"--clearenv", "--setenv", "FETTLE_DATA", "/data", "--setenv", "FETTLE_CACHE", "off", "--setenv", "FETTLE_LAN", "workshop.local", "/fettle", "serve", "--listen", "127.0.0.1:0", "--local", "127.0.0.1:0")
	out, err := run.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var errs strings.Builder
	run.Stderr = &errs
	if err := run.Start(); err != nil {
		t.Fatal(err)
	}
	var local string
	lines := bufio.NewScanner(out)
	for local == "" && lines.Scan() {
		local, _ = strings.CutPrefix(lines.Text(), "On this machine: ")
		if !strings.HasPrefix(local, "http://") {
			local = ""
		}
	}
	if local == "" {
		t.Fatalf("it does not serve: %v %s", run.Wait(), errs.String())
	}
	for _, path := range []string{"readyz", "api/v1/version", "authority.crt"} {
		a, err := http.Get(local + path)
		if err != nil {
			t.Fatal(err)
		}
		if _ = a.Body.Close(); a.StatusCode != 200 {
			t.Errorf("%s: %d", path, a.StatusCode)
		}
	}
	if _, err := os.Stat(filepath.Join(data, "keys", "authority.pem")); err != nil {
		t.Error(err)
	}
	stopServer(t, run)
	for lines.Scan() { // until it has ended
	}
	if err := run.Wait(); err != nil {
		t.Errorf("%v: %s", err, errs.String())
	}
	entries, err := os.ReadDir(root)
	if err != nil || len(entries) != 4 {
		t.Errorf("%d things lie beneath its root: %v", len(entries), err)
	}
}

// stopServer tells the program in the container to stop: bwrap itself would end it without a word.
func stopServer(t *testing.T, run *exec.Cmd) {
	t.Helper()
	out, err := exec.Command("pgrep", "-P", strconv.Itoa(run.Process.Pid)).Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range strings.Fields(string(out)) {
		below, err := exec.Command("pgrep", "-P", text).Output()
		if err == nil {
			out = below // the first process inside is the one of bwrap
		}
	}
	for _, text := range strings.Fields(string(out)) {
		pid, err := strconv.Atoi(text)
		if err != nil {
			t.Fatal(err)
		}
		if err := syscall.Kill(pid, syscall.SIGTERM); err != nil {
			t.Fatal(err)
		}
	}
	time.AfterFunc(20*time.Second, func() { _ = run.Process.Kill() }) // or it has ended
}
