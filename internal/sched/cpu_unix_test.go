//go:build unix

package sched

import (
	"syscall"
	"time"
)

// cpu is the time the program has computed: what else the machine does is not in it.
func cpu() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return time.Since(begun)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
