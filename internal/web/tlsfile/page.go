package tlsfile

import (
	"bytes"
	_ "embed"
	"encoding/pem"
	"html/template"
	"net/http"
	"strings"
)

//go:embed page.html
var pageText string

var pageTemplate = template.Must(template.New("authority").Parse(pageText))

// Mount gives the certificate of the authority at /authority.crt, and a page about it at /authority.
func (o *Own) Mount(m *http.ServeMux) {
	m.HandleFunc("GET /authority", func(w http.ResponseWriter, r *http.Request) {
		var page bytes.Buffer
		err := pageTemplate.Execute(&page, struct {
			Names, Fingerprint, Ends string
		}{strings.Join(o.authority.cert.PermittedDNSDomains, ", "), o.Fingerprint(), o.AuthorityEnds().UTC().Format("2006-01-02")})
		if err != nil {
			panic(err) // a template of this package
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write(page.Bytes()) // whoever asked has left
	})
	m.HandleFunc("GET /authority.crt", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/x-x509-ca-cert")
		w.Header().Set("Content-Disposition", `attachment; filename="fettle-authority.crt"`)
		_, _ = w.Write(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: o.Authority()})) // likewise
	})
}
