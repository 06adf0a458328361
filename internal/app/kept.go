package app

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"path"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/halt"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/revise"
	"fettle/internal/unit"
)

// Cache keeps bytes for a job, by the path of its folder. It is only ever a
// help: what cannot be kept, or is gone, is found out again. It is trusted like
// the program itself: it has to lie where only those may write who may change
// the program, and never in the folder of a job, which may come from anybody.
type Cache interface {
	// Program identifies the program to the byte; empty: nothing is kept.
	Program() string
	// Get is what was put last; nil when there is nothing.
	Get(dir string) []byte
	// Put keeps data in place of what was there.
	Put(dir string, data []byte)
	// Failed is told why something could not be kept. Nobody else is stopped by
	// it: nothing is lost but time.
	Failed(err error)
}

// WithCache makes the service keep where the findings of the jobs it assesses
// lie, so that a replay finds it. Assessing never reads it.
func (a *App) WithCache(c Cache) *App {
	a.cache = c
	return a
}

// keptJob is a job as it was read, without what neither inspecting nor deciding
// looks at, and where its findings lie. It counts only for the same program and
// the same bytes of job, readings and shop and of the body beside its
// procedures; each of Found only for procedures that lengthen, group and inspect
// alike.
type keptJob struct {
	JobHash, ShopHash, VehicleHash string
	BodyHash                       string // the body it was last found to fit
	Job                            job.State
	Found                          map[string]inspect.Result // by foundUnder
	changed                        bool
}

// keptFile is what is kept for one job.
type keptFile struct {
	Program string
	Job     *keptJob
}

// kept is what is kept for a job of that folder; nil when there is nothing, it
// is damaged, or it is another program's.
func (a *App) kept(dir string) *keptJob {
	if a.cache == nil || a.cache.Program() == "" {
		return nil
	}
	sum, payload, ok := bytes.Cut(a.cache.Get(dir), []byte("\n"))
	if want := sha256.Sum256(payload); !ok || string(sum) != hex.EncodeToString(want[:]) {
		return nil
	}
	var f keptFile
	if err := gob.NewDecoder(bytes.NewReader(payload)).Decode(&f); err != nil || f.Program != a.cache.Program() || f.Job == nil {
		return nil // what is kept is a help only: without it all is found anew
	}
	if f.Job.Found == nil {
		f.Job.Found = map[string]inspect.Result{}
	}
	return f.Job
}

// keep puts what was found out about a job where a replay looks for it.
func (a *App) keep(dir string, k *keptJob) {
	if a.cache == nil || a.cache.Program() == "" || !k.changed {
		return
	}
	var payload bytes.Buffer
	if err := gob.NewEncoder(&payload).Encode(keptFile{a.cache.Program(), k}); err != nil {
		a.cache.Failed(err)
		return
	}
	sum := sha256.Sum256(payload.Bytes())
	a.cache.Put(dir, append([]byte(hex.EncodeToString(sum[:])+"\n"), payload.Bytes()...))
	k.changed = false
}

// newKept begins anew for a job that was read.
func newKept(c *Opened) *keptJob {
	return &keptJob{JobHash: c.fileHash, ShopHash: c.ShopHash, VehicleHash: c.vehicleHash, BodyHash: c.BodyHash, Job: bare(*c.Job), Found: map[string]inspect.Result{}}
}

// of says that it was kept for this very job.
func (k *keptJob) of(c *Opened) bool {
	return k != nil && k.JobHash == c.fileHash && k.ShopHash == c.ShopHash && k.VehicleHash == c.vehicleHash
}

func (k *keptJob) learn(key string, found inspect.Result) {
	k.Found[key], k.changed = found, true
}

// remember keeps where the findings of an assessed job lie: under the
// procedures in force, and under revisions that are published and not in force
// yet, because they are what jobs are replayed under.
func (a *App) remember(w *halt.Work, c *Opened, found inspect.Result, day unit.Date) {
	if a.cache == nil || a.cache.Program() == "" {
		return
	}
	k := a.kept(c.From)
	if !k.of(c) {
		k = newKept(c)
	}
	if key := foundUnder(c.Body, day); !k.has(key) {
		if c.Job.DatedAfter(day) { // a replay takes what is on record whenever it was done
			found = asOnRecord(w, c, c.Body, day)
		}
		k.learn(key, slim(found))
	}
	for _, p := range c.Body.Procedures {
		if !day.Before(p.Effective) {
			continue
		}
		b := revise.Under(c.Body, p)
		if key := foundUnder(b, p.Effective); !k.has(key) {
			k.learn(key, slim(asOnRecord(w, c, b, p.Effective)))
		}
	}
	a.keep(c.From, k)
}

func (k *keptJob) has(key string) bool {
	_, ok := k.Found[key]
	return ok
}

// foundUnder names everything of the procedures of a body that inspect looks
// at on the day.
func foundUnder(b *body.Body, day unit.Date) string {
	h := sha256.New()
	for _, c := range b.Castings {
		h.Write([]byte(string(c.ID) + "\n"))
		if f, ok := b.ProcedureFor(c.ID, day); ok {
			h.Write([]byte(decide.InspectedBy(f.Procedure)))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// ofVehicle is the files of a body beside its procedures.
func ofVehicle(files map[string][]byte) map[string][]byte {
	out := map[string][]byte{}
	for name, data := range files {
		if !strings.HasPrefix(name, body.ProceduresFolder+"/") {
			out[name] = data
		}
	}
	return out
}

// hashOfJob is of the bytes a job is read from.
func hashOfJob(files map[string][]byte) string {
	h := sha256.New()
	for _, name := range []string{job.MainFile, job.ReadingsFile} {
		data, ok := files[name]
		if !ok {
			h.Write([]byte("none"))
			continue
		}
		sum := sha256.Sum256(data)
		h.Write(sum[:])
	}
	if data, stored := files[job.EventsFile]; stored {
		sum := sha256.Sum256(data)
		h.Write(sum[:])
	}
	return hex.EncodeToString(h.Sum(nil))
}

// jobFiles are the files that a job written by hand is read from.
func (a *App) jobFiles(dir string) (map[string][]byte, error) {
	files := map[string][]byte{}
	for _, name := range []string{job.MainFile, job.ReadingsFile} {
		if !a.files.Exists(path.Join(dir, name)) {
			continue
		}
		data, err := a.read(dir, name, aDocument, "check that the file may be read")
		if err != nil {
			return nil, err
		}
		files[name] = data
	}
	return files, nil
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
