package account

import "time"

// Hashes tells of each hash of a password how many are made at the moment, and how many were.
func (a *Accounts) Hashes(begun func(running, made int64)) { a.hashes.begun = begun }

// CodeNow is the one-time code of a moment, by the secret as it is kept.
func (a *Accounts) KeptFor() (idle, session time.Duration) { return IdleFor, SessionFor }

var (
	CodeAt = codeAt
	PHC    = phc
)
