package database

import (
	"fettle/internal/job"
	"fettle/internal/ledger"
)

// How many jobs are kept as they stand, and how many bytes their events may have together. The
// one written last is always kept.
const (
	mostFolded      = 512
	mostFoldedBytes = 64 << 20
)

// folded is a job as it stood at its newest event then: whoever has its number and hash has the rest.
type folded struct {
	of    *job.Stored
	bytes int
	terms []string // what its events have it found by; nil: not looked at yet
	used  int64    // the higher, the later
}

// with is the job with more events.
func (f folded) with(now *job.Stored, c ledger.Chain) folded {
	n := f.bytes
	for _, e := range c {
		n += len(e.Payload) + len(e.Hash)
	}
	return folded{of: now, bytes: n}
}

// foldedJobs keeps jobs as they stand, so that a change does not read and verify all events again. Only
// the writer has it, and it learns of what was committed only.
type foldedJobs struct {
	jobs  map[string]folded
	bytes int
	used  int64
}

func (f *foldedJobs) get(id string) folded { return f.jobs[id] }

func (f *foldedJobs) keep(jobs map[string]folded) {
	if f.jobs == nil {
		f.jobs = map[string]folded{}
	}
	for id, j := range jobs {
		f.used++
		j.used = f.used
		f.bytes += j.bytes - f.jobs[id].bytes
		f.jobs[id] = j
	}
	for len(f.jobs) > 1 && (len(f.jobs) > mostFolded || f.bytes > mostFoldedBytes) {
		f.drop()
	}
}

// drop drops the one used longest ago.
func (f *foldedJobs) drop() {
	oldest := ""
	for id, j := range f.jobs {
		if oldest == "" || j.used < f.jobs[oldest].used {
			oldest = id
		}
	}
	f.bytes -= f.jobs[oldest].bytes
	delete(f.jobs, oldest)
}

// kept is a job as the transaction has it, or as it was committed last.
func (t *Tx) kept(id string) folded {
	if f, ok := t.folds[id]; ok {
		return f
	}
	if f, ok := t.outer[id]; ok {
		return f
	}
	return t.db.folded.get(id)
}
