package web

import (
	"runtime"
	"time"

	"fettle/internal/diag"
)

// Default are the limits of a server of its own machine.
func Default() Limits {
	running := 16 * runtime.GOMAXPROCS(0)
	return Limits{
		Running: running, Waiting: 4 * running, Wait: 500 * time.Millisecond,
		Uploads: 8, Hash: 8, Compute: 4 * runtime.GOMAXPROCS(0), Queue: 5 * time.Second, Streams: 10000, Conns: 12000,
		Header: 16 << 10, Body: 512 << 20, HeaderTime: 5 * time.Second, Idle: time.Minute,
		Slack: 15 * time.Second, Slowest: 16 << 10,
		Drain: 500 * time.Millisecond, Stop: 10 * time.Second,
	}
}

// orDefault has those of Default where nothing is said.
func (l Limits) orDefault() Limits {
	d := Default()
	return Limits{
		or(l.Running, d.Running), or(l.Waiting, d.Waiting), or(l.Wait, d.Wait),
		or(l.Uploads, d.Uploads), or(l.Hash, d.Hash), or(l.Compute, d.Compute), or(l.Queue, d.Queue), or(l.Streams, d.Streams), or(l.Conns, d.Conns),
		or(l.Header, d.Header), or(l.Body, d.Body), or(l.HeaderTime, d.HeaderTime), or(l.Idle, d.Idle),
		or(l.Slack, d.Slack), or(l.Slowest, d.Slowest), or(l.Drain, d.Drain), or(l.Stop, d.Stop),
	}
}

func or[T int | int64 | time.Duration](given, without T) T {
	if given > 0 {
		return given
	}
	return without
}

func badSetting(subject, value, hint string, err error) error {
	return &diag.Error{Kind: diag.Usage, Op: "serve", Subject: subject, Msg: "cannot be " + value, Hint: hint, Err: err}
}
