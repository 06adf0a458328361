//go:build race

package app

// underRace says that the race detector watches.
const underRace = true
