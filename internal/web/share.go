package web

import "net/netip"

// shares counts what clients have at once of something there is a limit of: of which one client may have three quarters. Whoever floods it leaves room.
type shares struct {
	most, n int
	by      map[netip.Addr]int
}

func sharing(most int) shares { return shares{most: most, by: map[netip.Addr]int{}} }

func share(n int) int { return max(1, n*3/4) }

func (s *shares) free(client netip.Addr) bool { return s.n < s.most && !s.much(client) }

// much says that a client has all that it may.
func (s *shares) much(client netip.Addr) bool { return s.by[client] >= share(s.most) }

func (s *shares) take(client netip.Addr) {
	s.n++
	s.by[client]++
}

func (s *shares) left(client netip.Addr) {
	s.n--
	if s.by[client]--; s.by[client] == 0 {
		delete(s.by, client)
	}
}

// clientKey is what counts as one client: an address, of IPv6 the network that one has to itself (RFC 6177).
func clientKey(a netip.Addr) netip.Addr {
	if !a.Is6() {
		return a
	}
	p, err := a.Prefix(64)
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr()
}
