//go:build unix

package cli

import "syscall"

// dontWait opens a pipe without waiting for its other end.
const dontWait = syscall.O_NONBLOCK
