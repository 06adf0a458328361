package fettle_test

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// The container runs one program as a user by number, on a base without shell, and runs nothing while it is made.
func TestContainerFile(t *testing.T) {
	text, err := os.ReadFile("deploy/Containerfile")
	if err != nil {
		t.Fatal(err)
	}
	lines := regexp.MustCompile(`(?m)^[A-Z]+ .*$`).FindAllString(string(text), -1)
	last := 0
	for i, l := range lines {
		if strings.HasPrefix(l, "FROM ") {
			last = i
		}
	}
	final := strings.Join(lines[last:], "\n")
	for _, want := range []string{`(?m)^FROM \S+/distroless/static\S*$`, `(?m)^USER [1-9]\d*:[1-9]\d*$`, `(?m)^ENTRYPOINT \["/fettle"\]$`, `(?m)^CMD \[`, `(?m)^VOLUME /data$`, `(?m)^STOPSIGNAL SIGTERM$`, `(?m)^COPY --from=build --chown=65532:65532 .* /data$`} {
		if !regexp.MustCompile(want).MatchString(final) {
			t.Errorf("there is no %s in\n%s", want, final)
		}
	}
	if regexp.MustCompile(`(?m)^(RUN|ADD|SHELL) |insecure|:latest`).MatchString(final) {
		t.Errorf("the container runs or fetches something while it is made:\n%s", final)
	}
	if !strings.Contains(string(text), "CGO_ENABLED=0 go build") {
		t.Error("the program is not whole by itself")
	}
}
