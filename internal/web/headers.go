package web

import "net/http"

// header is a header that every answer has.
type header struct{ name, value string }

// headers of every answer that does not have its own. A page says itself what it may load; data load nothing.
var headers = []header{
	{"X-Content-Type-Options", "nosniff"},
	{"Referrer-Policy", "no-referrer"},
	{"Content-Security-Policy", "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
	{"Cross-Origin-Opener-Policy", "same-origin"},
	{"Cross-Origin-Resource-Policy", "same-origin"},
	{"Permissions-Policy", "accelerometer=(), bluetooth=(), camera=(), display-capture=(), geolocation=(), gyroscope=(), hid=(), local-fonts=(), magnetometer=(), microphone=(), midi=(), payment=(), serial=(), usb=()"},
	{"Cache-Control", "no-store"},
}

// overTLS has browsers use TLS for a year.
var overTLS = header{"Strict-Transport-Security", "max-age=31536000"}

// fill sets the headers that an answer lacks.
func fill(h http.Header, id string, secure bool) {
	for _, x := range headers {
		if h.Get(x.name) == "" {
			h.Set(x.name, x.value)
		}
	}
	if secure {
		h.Set(overTLS.name, overTLS.value)
	}
	h.Set("X-Request-Id", id)
	h.Del("Server")
	h.Del("X-Powered-By")
}
