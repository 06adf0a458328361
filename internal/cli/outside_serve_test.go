//go:build outside

package cli

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/websocket"
)

// A person opens the printed link in Chromium, fills the page in and is the first administrator, who may use the routes; the secret is not in the address any
// more. Filled in with two passwords, or with one that is refused, it says so.
func TestOutsideFirstUseInABrowser(t *testing.T) {
	said, log, stop := servedBy(t, map[string]string{aTerminal: "yes"}, "serve", "--data", filepath.Join(t.TempDir(), "data"), "--listen", "127.0.0.1:0")
	defer stop()
	link := regexp.MustCompile(`(?m)^(http://\S+/)first#(\S+)$`).FindStringSubmatch(said)
	if link == nil {
		t.Fatal(said)
	}
	b := inBrowser(t, link[0])
	b.until(`document.readyState === "complete" && document.forms.length === 1`)
	fill := func(password, again string) {
		t.Helper()
		b.do(fmt.Sprintf(`for (const [n, v] of Object.entries({shop: "north", shop_name: "North", name: "Ada", sign_in: "ada", password: %q, again: %q})) document.querySelector("[name=" + n + "]").value = v;
			document.querySelector("button").click(); 1`, password, again))
	}
	fill("seven quiet lathes turn", "seven quiet lathes")
	b.until(`document.getElementById("told").textContent.includes("differ")`)
	fill("password1234", "password1234")
	b.until(`document.getElementById("told").textContent.includes("assword") && !document.getElementById("told").textContent.includes("differ") && !document.querySelector("button").disabled`)
	fill("seven quiet lathes turn", "seven quiet lathes turn")
	b.until(`document.getElementById("told").textContent.includes("You are the first administrator")`)
	if got := b.do(`location.href`); got != link[1]+"first" {
		t.Errorf("the address is %v", got)
	}
	if got := b.do(`fetch("/api/v1/jobs").then(a => a.status)`); got != 200.0 {
		t.Errorf("the routes answer %v", got)
	}
	if got := b.do(`document.cookie`); got != "" {
		t.Errorf("a script reads %v", got)
	}
	if strings.Contains(log.String(), link[2]) {
		t.Error("the secret is in the log")
	}
}

// browser is a page in Chromium that is told what to do.
type browser struct {
	t  *testing.T
	ws *websocket.Conn
	n  int
}

func inBrowser(t *testing.T, url string) *browser {
	t.Helper()
	home := t.TempDir()
	cmd := exec.Command("chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--no-proxy-server", "--disable-background-networking", "--disable-component-update", "--disable-sync",
		"--remote-debugging-port=0", "--remote-allow-origins=*", "--user-data-dir="+home, "about:blank")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	var port string
	for until := time.Now().Add(60 * time.Second); port == ""; time.Sleep(50 * time.Millisecond) {
		if text, err := os.ReadFile(filepath.Join(home, "DevToolsActivePort")); err == nil && strings.Contains(string(text), "\n") {
			port, _, _ = strings.Cut(string(text), "\n")
		}
		if time.Now().After(until) {
			t.Fatal("Chromium does not start")
		}
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPut, "http://127.0.0.1:"+port+"/json/new?"+strings.ReplaceAll(url, "#", "%23"), nil)
	if err != nil {
		t.Fatal(err)
	}
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	var page struct{ WebSocketDebuggerURL string }
	if err := json.NewDecoder(a.Body).Decode(&page); err != nil {
		t.Fatal(err)
	}
	ws, err := websocket.Dial(page.WebSocketDebuggerURL, "", "http://127.0.0.1")
	if err != nil {
		t.Fatal(err)
	}
	b := &browser{t: t, ws: ws}
	b.call("Page.navigate", map[string]any{"url": url})
	return b
}

func (b *browser) call(method string, params map[string]any) map[string]any {
	b.t.Helper()
	b.n++
	if err := websocket.JSON.Send(b.ws, map[string]any{"id": b.n, "method": method, "params": params}); err != nil {
		b.t.Fatal(err)
	}
	for {
		var m struct {
			ID     int            `json:"id"`
			Result map[string]any `json:"result"`
			Error  any            `json:"error"`
		}
		_ = b.ws.SetReadDeadline(time.Now().Add(60 * time.Second))
		if err := websocket.JSON.Receive(b.ws, &m); err != nil {
			b.t.Fatal(err)
		}
		if m.ID == b.n {
			if m.Error != nil {
				b.t.Fatal(m.Error)
			}
			return m.Result
		}
	}
}

// do runs something in the page and is what it comes to.
func (b *browser) do(script string) any {
	b.t.Helper()
	out := b.call("Runtime.evaluate", map[string]any{"expression": script, "awaitPromise": true, "returnByValue": true})
	if out["exceptionDetails"] != nil {
		b.t.Fatalf("%s: %v", script, out["exceptionDetails"])
	}
	result, _ := out["result"].(map[string]any)
	return result["value"]
}

func (b *browser) until(condition string) {
	b.t.Helper()
	for end := time.Now().Add(30 * time.Second); b.do(condition) != true; time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			b.t.Fatalf("it never comes to %s: %v", condition, b.do(`document.body.innerText`))
		}
	}
}
