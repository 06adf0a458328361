package remote

import "time"

// Hurry has the client wait for so long only before it sends something again for the first time.
func (s *Store) Hurry(d time.Duration) { s.pause = d }
