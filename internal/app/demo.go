package app

import (
	"time"

	"fettle/internal/demo"
)

// DemoFiles is the invented scenario: its files, the folder of its job and the
// day it plays on.
type DemoFiles struct {
	Files map[string][]byte
	Job   string
	Day   time.Time
}

// Demo is the invented scenario.
func Demo() DemoFiles {
	return DemoFiles{Files: demo.Files(), Job: demo.Job, Day: demo.Day}
}
