package app

import (
	"time"

	"fettle/internal/demo"
)

// DemoFiles is the invented scenario: its files, the folder of its job, that of the same
// job after looking first, that of a vehicle without a mesh that may be handed back, and
// the day it plays on.
type DemoFiles struct {
	Files  map[string][]byte
	Job    string
	Looked string
	Rear   string
	Day    time.Time
}

// Demo is the invented scenario.
func Demo() DemoFiles {
	return DemoFiles{Files: demo.Files(), Job: demo.Job, Looked: demo.LookedJob, Rear: demo.RearJob, Day: demo.Day}
}
