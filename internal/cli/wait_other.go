//go:build !unix

package cli

// dontWait opens a pipe without waiting for its other end: not needed here.
const dontWait = 0
