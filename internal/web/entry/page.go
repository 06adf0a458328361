package entry

import (
	"bytes"
	_ "embed"
	"html/template"
	"net/http"
)

// What a page of a link is made of. It loads nothing but its own script and style, and runs nothing else.
var (
	//go:embed page.html
	pageText string
	//go:embed entry.js
	script []byte
	//go:embed entry.css
	style []byte

	pageTemplate = template.Must(template.New("entry").Parse(pageText))
)

const pagePolicy = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'"

// field is one to be filled in.
type field struct {
	Name, Label, Type, Complete string
	Most                        int
}

type page struct {
	Title, Says, To, Done string
	Fields                []field
}

var passwordFields = []field{
	{"password", "Password, of at least 12 characters", "password", "new-password", 256},
	{"again", "The same once more", "password", "new-password", 256},
}

// MountPages gives the pages that links lead to: of first use, and of a new password.
func MountPages(m *http.ServeMux, prefix string) {
	first := page{Title: "Become the first administrator", Says: "Name the shop and yourself. Others are added later.", To: prefix + "/first", Done: "You are the first administrator, and signed in.",
		Fields: append([]field{
			{"shop", "Short name of the shop: one to twelve small letters and digits", "text", "off", 12},
			{"shop_name", "Name of the shop", "text", "organization", 200},
			{"name", "Your name", "text", "name", 200},
			{"sign_in", "What you sign in with", "text", "username", 200},
		}, passwordFields...)}
	password := page{Title: "Set your password", Says: "Whoever was signed in as you is signed out by this.", To: prefix + "/password", Done: "The password is set. Sign in with it.", Fields: passwordFields}
	m.HandleFunc("GET /first", first.serve)
	m.HandleFunc("GET /password", password.serve)
	m.HandleFunc("GET /entry.js", fixed("text/javascript; charset=utf-8", script))
	m.HandleFunc("GET /entry.css", fixed("text/css; charset=utf-8", style))
}

func (p page) serve(w http.ResponseWriter, _ *http.Request) {
	var out bytes.Buffer
	if err := pageTemplate.Execute(&out, p); err != nil {
		panic(err) // a template of this package
	}
	w.Header().Set("Content-Security-Policy", pagePolicy)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(out.Bytes()) // whoever asked has left
}

func fixed(kind string, text []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		_, _ = w.Write(text) // likewise
	}
}
