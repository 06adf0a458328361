//go:build !unix

package sched

import "time"

func cpu() time.Duration { return time.Since(begun) }
