package cli

import (
	"cmp"
	"net"
	"net/netip"
	"strconv"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/web"
)

// Where a server listens unless it is told.
const (
	usualListen = "127.0.0.1:8420"
	usualTLS    = ":8443"
	mostWorkers = 64
)

// serveSet is how a data folder is served, once command line, environment and settings.yaml were asked.
type serveSet struct {
	listen, local    string
	lan, hosts       []string
	certificate, key string
	proxies          []netip.Prefix
	metrics          string
	workers          int
	open             bool // plain HTTP for other machines
}

// settled is what holds: the command line before the environment before settings.yaml.
func (c serveCmd) settled(env Env) (serveSet, error) {
	file := env.data.Settings.Serve
	one := func(flag, variable, settings string) string {
		text, _ := env.lookup(variable)
		return cmp.Or(flag, text, settings)
	}
	several := func(flag []string, variable string, settings []string) []string {
		if text, _ := env.lookup(variable); len(flag) == 0 && text != "" {
			return strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' })
		}
		if len(flag) > 0 {
			return flag
		}
		return settings
	}
	s := serveSet{
		listen: one(c.Listen, "FETTLE_LISTEN", file.Listen), local: cmp.Or(one(c.Local, "FETTLE_LOCAL", file.Local), usualListen),
		lan: several(c.Lan, "FETTLE_LAN", file.Lan), hosts: several(c.Host, "FETTLE_HOST", file.Hosts),
		certificate: one(c.Certificate, "FETTLE_CERTIFICATE", file.Certificate), key: one(c.Key, "FETTLE_KEY", file.Key),
		metrics: one(c.Metrics, "FETTLE_METRICS", file.Metrics), open: c.InsecureHTTP,
	}
	var err error
	if s.workers, err = c.workers(env, file.Workers); err != nil {
		return s, err
	}
	for _, text := range several(c.Proxy, "FETTLE_PROXY", file.Proxies) {
		p, err := network(text)
		if err != nil {
			return s, err
		}
		s.proxies = append(s.proxies, p)
	}
	return s, s.check()
}

func (c serveCmd) workers(env Env, settings int) (int, error) {
	n := max(settings, 0)
	if settings == 0 {
		n = 1
	}
	if text, _ := env.lookup("FETTLE_WORKERS"); text != "" {
		var err error
		if n, err = strconv.Atoi(text); err != nil {
			n = mostWorkers + 1
		}
	}
	if c.Workers >= 0 {
		n = c.Workers
	}
	if n < 0 || n > mostWorkers {
		return 0, serveUsage("workers", "is no number from 0 to 64", "write for example 2")
	}
	return n, nil
}

func serveUsage(subject, msg, hint string) error {
	return &diag.Error{Kind: diag.Usage, Op: "serve", Subject: subject, Msg: msg, Hint: hint}
}

// check refuses what contradicts itself, and what would not be safe.
func (s *serveSet) check() error {
	secure := len(s.lan) > 0 || s.certificate != ""
	switch {
	case (s.certificate == "") != (s.key == ""):
		return serveUsage("the certificate", "is given without its key, or the key without it", "give --certificate and --key")
	case len(s.lan) > 0 && s.certificate != "":
		return serveUsage("the certificate", "is given, and --lan makes one", "give one of them; names that a given certificate is for are given with --host")
	case s.listen == "" && secure:
		s.listen = usualTLS
	case s.listen == "":
		s.listen = usualListen
	}
	for _, address := range []string{s.listen, s.local, s.metrics} {
		if _, port, err := net.SplitHostPort(address); address != "" && (err != nil || port == "") {
			return serveUsage(address, "is no address to listen at", "write host:port, for example 127.0.0.1:8420")
		}
	}
	switch {
	case !secure && !s.open && !loopback(s.listen):
		return refusedHTTP(s.listen)
	case !loopback(s.local):
		return serveUsage(s.local, "is no address of this machine alone", "give for example 127.0.0.1:8420")
	case s.metrics != "" && !loopback(s.metrics):
		return serveUsage(s.metrics, "is no address of this machine alone, and figures are for whoever looks after it", "give for example 127.0.0.1:9420")
	}
	return nil
}

// answersTo are the names it answers to. Over TLS with a given certificate nobody reaches it by a name that is not in it.
func (s *serveSet) answersTo() []string {
	if len(s.hosts) == 0 && (s.certificate != "" || s.open && len(s.lan) == 0 && !loopback(s.listen)) {
		return nil
	}
	all := web.Loopback()
	for _, n := range append(append([]string(nil), s.lan...), s.hosts...) {
		all = append(all, web.HostOf(n))
	}
	return all
}

// loopback says that only this machine reaches an address.
func loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	if strings.EqualFold(host, web.Loopback()[0]) {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.Unmap().IsLoopback()
}

// network reads an address, or a network of them.
func network(text string) (netip.Prefix, error) {
	if a, err := netip.ParseAddr(text); err == nil {
		return netip.PrefixFrom(a.Unmap(), a.Unmap().BitLen()), nil
	}
	p, err := netip.ParsePrefix(text)
	if err != nil || p.Bits() == 0 {
		return p, serveUsage(text, "is no address of a proxy", "write for example 10.0.0.5 or 10.0.0.0/24")
	}
	return p.Masked(), nil
}
