package app

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"path"

	"fettle/internal/inspect"
	"fettle/internal/job"
)

// ReplayCache keeps what was found out about jobs: the job as it was read, and
// where its findings lie. An entry counts only for the same program, the same
// bytes of job, readings, body and shop, and the same procedures in force; in
// every other case the job is read and its findings are found anew.
//
// Its file is trusted like the program itself: keep it where only those may
// write who may change the program.
type ReplayCache struct {
	program string
	jobs    map[string]*cachedJob // by folder
	changed bool
}

// cachedJob is one job of the cache.
type cachedJob struct {
	JobHash, BodyHash, ShopHash string
	Job                         job.State
	Found                       map[string]inspect.Result // by foundUnder
}

// cacheFile is the file: all entries of one program.
type cacheFile struct {
	Program string
	Jobs    map[string]*cachedJob
}

// OpenReplayCache reads a cache. Data of another program, or that are damaged,
// make an empty one: nothing is lost but time. program identifies the program
// to the byte.
func OpenReplayCache(data []byte, program string) *ReplayCache {
	c := &ReplayCache{program: program, jobs: map[string]*cachedJob{}}
	sum, payload, ok := bytes.Cut(data, []byte("\n"))
	if want := sha256.Sum256(payload); !ok || string(sum) != hex.EncodeToString(want[:]) {
		return c
	}
	var f cacheFile
	if err := gob.NewDecoder(bytes.NewReader(payload)).Decode(&f); err == nil && f.Program == program && f.Jobs != nil {
		c.jobs = f.Jobs
	}
	return c
}

// Bytes is the cache as a file; false when nothing has been learnt since it was
// opened.
func (c *ReplayCache) Bytes() ([]byte, bool, error) {
	if c == nil || !c.changed {
		return nil, false, nil
	}
	var payload bytes.Buffer
	if err := gob.NewEncoder(&payload).Encode(cacheFile{c.program, c.jobs}); err != nil {
		return nil, false, err
	}
	sum := sha256.Sum256(payload.Bytes())
	return append([]byte(hex.EncodeToString(sum[:])+"\n"), payload.Bytes()...), true, nil
}

// learn keeps what was found out.
func (c *ReplayCache) learn(known *cachedJob, key string, found inspect.Result) {
	known.Found[key] = found
	if c != nil {
		c.changed = true
	}
}

// open is a job with its body and shop, as read now or as read before and not
// changed since.
func (r *replaying) open(dir string) (*Case, *cachedJob, error) {
	hash, err := r.app.jobHash(dir)
	if err != nil {
		return nil, nil, err
	}
	if r.cache != nil {
		if known, ok := r.cache.jobs[dir]; ok && known.JobHash == hash {
			c := &Case{Dir: dir, Job: &known.Job}
			err := r.app.shelved(r.shelf, c, path.Join(dir, known.Job.Body))
			if err == nil {
				err = r.app.shelvedShop(r.shelf, c, path.Join(dir, known.Job.Shop))
			}
			if err == nil && c.BodyHash == known.BodyHash && c.ShopHash == known.ShopHash {
				return c, known, nil
			}
		}
	}
	c, err := r.app.openParts(dir, nil, r.shelf)
	if err == nil {
		err = r.app.fits(c, dir)
	}
	if err != nil {
		return nil, nil, err
	}
	known := &cachedJob{JobHash: hash, BodyHash: c.BodyHash, ShopHash: c.ShopHash, Job: bare(*c.Job), Found: map[string]inspect.Result{}}
	if r.cache != nil {
		r.cache.jobs[dir] = known
		r.cache.changed = true
	}
	return c, known, nil
}

// jobHash is of the bytes a job is read from.
func (a *App) jobHash(dir string) (string, error) {
	h := sha256.New()
	for _, name := range []string{job.MainFile, job.ReadingsFile} {
		file := path.Join(dir, name)
		if !a.files.Exists(file) {
			h.Write([]byte("none"))
			continue
		}
		data, err := a.files.Read(file)
		if err != nil {
			return "", notRead(file, err, "check that the file may be read")
		}
		sum := sha256.Sum256(data)
		h.Write(sum[:])
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// bare leaves out of a job what neither inspecting nor deciding looks at.
func bare(s job.State) job.State {
	s.Readings, s.Setups, s.Hazards, s.Risks, s.Agreed, s.Actuals = nil, nil, nil, nil, nil, nil
	s.Records, s.Choices, s.Accepted, s.Reviews = nil, nil, nil, nil
	return s
}

// slim leaves out of where findings lie what only people look at.
func slim(r inspect.Result) inspect.Result {
	out := inspect.Result{Coverage: make([]inspect.Coverage, len(r.Coverage)), Rules: r.Rules, Findings: make([]inspect.Finding, len(r.Findings))}
	for i, c := range r.Coverage {
		c.Text, c.Name = "", ""
		out.Coverage[i] = c
	}
	for i, f := range r.Findings {
		f.Path, f.Because, f.Unknown = nil, nil, nil
		out.Findings[i] = f
	}
	return out
}
