// Package app owns the use cases: opening a job, checking documents, running
// the chain from readings to a report, and explaining any figure of it. It is
// the only place that knows the order of the steps.
//
// It refuses to touch the outside world itself: files come through the Files
// interface, the day and the time are passed in. It computes no number: every
// figure comes from the pure packages below.
package app

import (
	"context"
	"errors"
	"fmt"
	"path"
	"slices"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/mesh"
	"fettle/internal/photo"
	"fettle/internal/report"
	"fettle/internal/revise"
	"fettle/internal/shop"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// App is the service.
type App struct {
	files   Files
	version string
	cache   Cache        // nil: nothing is kept
	bodies  *Bodies      // nil: no body is kept
	build   func() Build // nil: only the version is known
	stores  StoreAt      // nil: there are no stored jobs
	maker   *photo.Maker // of the pictures that a page shows
	turns   *halt.Turns  // of what computes; nil: there is no bound
	pace    Pace         // of what follows every change
	jobHint string       // how a person finds a job where all are in one store
}

// New makes the service.
func New(files Files, version string) *App {
	return &App{files: files, version: version, maker: photo.New(photo.Usual)}
}

// Version is the program's version.
func (a *App) Version() string { return a.version }

// Opened is a job with everything it refers to, read and found consistent.
type Opened struct {
	From     string // where it was read from, for messages and for what lies beside it; it does not say which job it is
	Body     *body.Body
	Shop     *shop.Shop
	Job      *job.State
	Vehicle  *vehicle.Vehicle // shared by all jobs of the body
	BodyHash string
	ShopHash string
	JobHash  string
	Notes    []diag.Note
	Evidence []Evidence // as it was read

	stored      *job.Stored // nil: a state written by hand
	store       Store       // that a stored job was read from
	storeID     string      // what it is called there
	alone       bool        // it was opened from the store alone: no folder lies at From
	fileHash    string      // of the bytes the job was read from
	vehicleHash string      // of the body beside its procedures
	jobFiles    []Input
	bodyFiles   []Input // from the folder of the body
	shopFiles   []Input
	meshes      []castingMesh
	maps        map[body.MapID]report.MapPicture // pictures of the zone maps
}

// castingMesh is the mesh of a casting as it was read from a file.
type castingMesh struct {
	hash  string // of the file, its name and its unit
	of    *mesh.Surface
	notes []diag.Note
}

// Open reads a job folder (or the job.yaml in it) with the body and the shop it
// names. Every fault of every document is told at once.
func (a *App) Open(ctx context.Context, jobPath string) (*Opened, error) {
	return while(ctx, func(w *halt.Work) (*Opened, error) { return a.open(w, jobPath, newShelf()) })
}

// shelf keeps bodies and shops that were read, sound or not, for opening many jobs
// of few bodies.
type shelf struct {
	bodies map[string]shelved
	shops  map[string]shelved
}

// shelved is what was read, and what was wrong with it.
type shelved struct {
	of  Opened
	err error
}

func newShelf() *shelf { return &shelf{map[string]shelved{}, map[string]shelved{}} }

func (a *App) open(w *halt.Work, jobPath string, shelf *shelf) (*Opened, error) {
	dir, err := a.JobDir(jobPath)
	if err != nil {
		return nil, err
	}
	return a.openAll(w, &Opened{From: dir}, shelf)
}

// openAll reads what a job refers to, and holds all of it against one another.
func (a *App) openAll(w *halt.Work, c *Opened, shelf *shelf) (*Opened, error) {
	c, err := a.openParts(w, c, shelf)
	if err != nil {
		return nil, err
	}
	return c, a.crossCheck(w, c)
}

// openParts reads a job, its body and its shop, and does not hold them against one another yet.
func (a *App) openParts(w *halt.Work, c *Opened, shelf *shelf) (*Opened, error) {
	w.Begin(ReadingJob)
	dir := c.From
	var problems diag.Problems
	problems, err := gather(problems, a.readJob(w, c))
	if err != nil {
		return nil, err
	}
	if c.Job == nil {
		return nil, problems
	}
	w.Begin(ReadingBody)
	if problems, err = gather(problems, a.bodyOf(w, shelf, c, dir)); err != nil {
		return nil, err
	}
	if problems, err = gather(problems, a.shopOf(w, shelf, c, dir)); err != nil {
		return nil, err
	}
	return c, problems.OrNil()
}

// fits holds the three documents against one another.
func (a *App) fits(c *Opened, dir string) error {
	problems := a.misfits(c, dir)
	problems.Sort()
	return problems.OrNil()
}

func (a *App) misfits(c *Opened, dir string) diag.Problems {
	found, notes := shop.CheckBody(c.Shop, c.Body)
	problems := located(found, beside(dir, c.Job.Body))
	c.Notes = append(c.Notes, notes...)
	found, notes = job.CheckAgainst(c.Job, c.Body, c.Shop)
	problems = append(problems, located(found, dir)...)
	c.Notes = append(c.Notes, notes...)
	return problems
}

// crossCheck holds the three documents against one another, and the evidence
// against what was recorded of it.
func (a *App) crossCheck(w *halt.Work, c *Opened) error {
	problems := a.misfits(c, c.From)
	seen, found, err := a.evidenceOfJob(w, c)
	if err != nil {
		return err
	}
	c.Evidence = seen
	problems = append(problems, found...)
	problems.Sort()
	if err := problems.OrNil(); err != nil {
		return err
	}
	c.JobHash, err = c.Job.Hash()
	return err
}

// JobDir is the folder of a job: the path itself, or the folder of the job.yaml or
// events.jsonl it names. Of a job in both forms nobody can say which one counts.
func (a *App) JobDir(p string) (string, error) {
	p = path.Clean(p)
	if isJob(path.Base(p)) {
		p = path.Dir(p)
	}
	written, stored := a.files.Exists(path.Join(p, job.MainFile)), a.IsStored(p)
	if written && stored {
		return "", &diag.Error{Kind: diag.Conflict, Op: "open", Subject: p, Msg: "there is a job.yaml and an events.jsonl, and nobody can say which of them counts", Hint: "put job.yaml into another folder where the job is a stored one"}
	}
	if !written && !stored {
		if a.jobHint != "" {
			return "", &diag.Error{Kind: diag.NotFound, Op: "open", Subject: p, Msg: "there is no such job", Hint: a.jobHint}
		}
		hint := "give the folder that holds job.yaml, or events.jsonl"
		if dirs := a.jobsBelow(p); len(dirs) > 0 {
			hint += ", for example " + dirs[0]
		}
		return "", &diag.Error{Kind: diag.NotFound, Op: "open", Subject: p, Msg: "there is no job.yaml", Hint: hint}
	}
	return p, nil
}

// jobsBelow are the folders below p that hold a job.
func (a *App) jobsBelow(p string) []string {
	if !a.files.IsDir(p) {
		return nil
	}
	names, err := a.files.List(p)
	if err != nil {
		return nil // only a hint is lost: the caller reports that there is no job
	}
	var out []string
	for _, n := range names {
		if isJob(path.Base(n)) {
			out = append(out, path.Join(p, path.Dir(n)))
		}
	}
	sort.Strings(out)
	return slices.Compact(out)
}

// isJob says that a file is what a job is read from.
func isJob(name string) bool { return name == job.MainFile || name == job.EventsFile }

// readJob reads a job, and the hash of the bytes it was read from.
func (a *App) readJob(w *halt.Work, c *Opened) error {
	files, chain, err := a.written(w, c)
	if err != nil {
		return inFolder(err, c.From)
	}
	if c.store != nil {
		err = c.readStored(a.bodies.chains(), chain)
	} else {
		c.Job, err = job.Decode(files)
	}
	c.jobFiles, c.fileHash = inputsOf(roleJob, files), hashOfJob(files)
	return inFolder(err, c.From)
}

// written is the bytes that a job is read from: its files, or the entries of a stored one.
func (a *App) written(w *halt.Work, c *Opened) (map[string][]byte, ledger.Chain, error) {
	if c.store == nil && a.IsStored(c.From) {
		if a.stores == nil {
			return nil, nil, notHere(c.From)
		}
		c.store, c.storeID = a.stores(c.From)
	}
	if c.store == nil {
		files, err := a.jobFiles(c.From)
		return files, nil, err
	}
	chain, err := c.store.Load(w.Context(), c.storeID, 0)
	w.Step() // stopped meanwhile it is no answer
	if err != nil {
		return nil, nil, err
	}
	text, err := job.EncodeChain(chain)
	return map[string][]byte{job.EventsFile: text}, chain, err
}

func (a *App) readShop(p string) (*shop.Shop, []Input, string, error) {
	data, err := a.read("", p, aDocument, "the job names this shop file: correct 'shop' in job.yaml")
	if err == nil {
		err = aShop.hold(p, data)
	}
	if err != nil {
		return nil, nil, "", err
	}
	return makeShop(p, data)
}

// makeShop is readShop of a file that was read.
func makeShop(p string, data []byte) (*shop.Shop, []Input, string, error) {
	s, err := shop.Decode(path.Base(p), data)
	return s, inputsOf(roleShop, map[string][]byte{path.Base(p): data}), body.Hash(map[string][]byte{path.Base(p): data}), inFolder(err, path.Dir(p))
}

// shelvedBody reads a body folder unless it is on the shelf.
func (a *App) shelvedBody(w *halt.Work, s *shelf, c *Opened, dir string) error {
	kept, ok := s.bodies[dir]
	if !ok {
		if kept.err = a.claimedBody(dir); kept.err == nil {
			kept.err = a.readBody(w, &kept.of, dir)
		}
		s.bodies[dir] = kept
	}
	c.Notes = append(c.Notes, kept.of.Notes...)
	if kept.err != nil {
		return kept.err
	}
	c.Body, c.BodyHash, c.vehicleHash, c.bodyFiles = kept.of.Body, kept.of.BodyHash, kept.of.vehicleHash, kept.of.bodyFiles
	c.Vehicle, c.maps = kept.of.Vehicle, kept.of.maps
	return nil
}

// shelvedShop reads a shop file unless it is on the shelf.
func (a *App) shelvedShop(s *shelf, c *Opened, file string) error {
	kept, ok := s.shops[file]
	if !ok {
		kept.of.Shop, kept.of.shopFiles, kept.of.ShopHash, kept.err = a.readShop(file)
		s.shops[file] = kept
	}
	if kept.err != nil {
		return kept.err
	}
	c.Shop, c.ShopHash, c.shopFiles = kept.of.Shop, kept.of.ShopHash, kept.of.shopFiles
	return nil
}

// readBody reads a body folder, runs the tests inside its procedures and reads
// the meshes of its castings.
func (a *App) readBody(w *halt.Work, c *Opened, dir string) error {
	files, err := a.readFolder(dir)
	if err != nil {
		return err
	}
	return a.makeBody(w, c, files, dir)
}

// makeBody is readBody of files that were read.
func (a *App) makeBody(w *halt.Work, c *Opened, files map[string][]byte, dir string) error {
	hash := body.Hash(files)
	if kept, ok := a.bodies.withHash(hash); ok {
		*c = kept
		return nil
	}
	c.BodyHash, c.vehicleHash, c.bodyFiles = hash, body.Hash(ofVehicle(files)), inputsOf(roleBody, files)
	defer a.bodies.alone(w, c.vehicleHash)()
	if kept, ok := a.bodies.withHash(hash); ok { // read by another command meanwhile
		*c = kept
		return nil
	}
	defer a.turns.Take(w)()
	b, err := body.Decode(files)
	if err != nil {
		return inFolder(err, dir)
	}
	problems := procedureProblems(b, dir)
	c.Body = b
	if known, ok := a.bodies.withVehicle(c.vehicleHash); ok { // only its procedures differ
		b.Castings, b.Joints = known.Body.Castings, known.Body.Joints
		c.Vehicle, c.Notes, c.meshes, c.maps = known.Vehicle, known.Notes, known.meshes, known.maps
	} else {
		var faults diag.Problems
		c.maps, faults = readMaps(w.Context(), b, files)
		problems = append(problems, located(faults, dir)...)
		problems = append(problems, a.readCastings(w, c, files, dir)...)
	}
	if err := problems.OrNil(); err != nil {
		return err
	}
	a.bodies.keep(*c)
	return nil
}

// readCastings reads the meshes of the castings and holds the body against them.
func (a *App) readCastings(w *halt.Work, c *Opened, files map[string][]byte, dir string) diag.Problems {
	b := c.Body
	var problems diag.Problems
	surfaces := map[body.CastingID]*mesh.Surface{}
	var others []*vehicle.Vehicle
	for _, casting := range b.Castings {
		if !casting.HasMesh() {
			continue
		}
		m := castingMesh{hash: body.Hash(map[string][]byte{casting.MeshUnit + " " + casting.Mesh: files[casting.Mesh]})}
		if known, same, ok := a.bodies.withMesh(m.hash); ok {
			m, others = same, append(others, known.Vehicle)
		} else {
			w.Step()
			var err error
			if m.of, m.notes, err = readMesh(w, casting, files[casting.Mesh]); err != nil {
				problems = append(problems, diag.Problem{File: path.Join(dir, casting.Mesh), Msg: err.Error()})
			}
		}
		c.Notes = append(c.Notes, m.notes...)
		if m.of != nil {
			surfaces[casting.ID], c.meshes = m.of, append(c.meshes, m)
		}
	}
	c.Vehicle = vehicle.New(b, surfaces, others...)
	for i, casting := range b.Castings {
		s := surfaces[casting.ID].While(w)
		if s == nil {
			continue
		}
		w.Step()
		problems = append(problems, located(labelProblems(b, i, s), dir)...)
		problems = append(problems, located(lineProblems(w, c, casting, dir), dir)...)
		problems = append(problems, located(placeProblems(b, i, s), dir)...)
	}
	return problems
}

// procedureProblems runs the tests that lie inside the procedures.
func procedureProblems(b *body.Body, dir string) diag.Problems {
	var problems diag.Problems
	for _, p := range b.Procedures {
		for _, f := range revise.TestProcedure(p, float64(b.Confidence)) {
			if f.File == "" {
				f.File = "procedures/" + string(p.ID) + " " + p.Revision
			}
			f.File = path.Join(dir, f.File)
			problems = append(problems, f)
		}
	}
	return problems
}

func readMesh(w *halt.Work, c body.Casting, data []byte) (*mesh.Surface, []diag.Note, error) {
	m, notes, err := format.ReadMesh(c.Mesh, data, c.MeshUnit)
	if err != nil {
		return nil, notes, err
	}
	w.Step()
	s, err := mesh.NewSurface(m)
	return s, notes, err
}

// labelProblems names zone numbers that the mesh and the i-th casting do not
// share.
func labelProblems(b *body.Body, i int, s *mesh.Surface) diag.Problems {
	var problems diag.Problems
	c := b.Castings[i]
	inMesh := map[int32]bool{}
	for _, l := range s.Mesh().Label {
		inMesh[l] = true
	}
	if len(inMesh) == 0 {
		return diag.Problems{{File: c.Mesh, Msg: "the mesh carries no zone numbers", Hint: "write the integer property 'zone' for each face (PLY)"}}
	}
	for k, z := range c.Zones {
		if !inMesh[int32(z.Label)] {
			problems = append(problems, b.Problem(fmt.Sprintf("castings[%d].zones[%d].label", i, k), "no face of "+c.Mesh+" carries the number of zone "+string(z.ID), "correct the label or the mesh"))
		}
		delete(inMesh, int32(z.Label))
	}
	if len(inMesh) > 0 {
		problems = append(problems, diag.Problem{File: c.Mesh, Msg: "faces carry zone numbers that body.yaml does not name", Hint: "name every zone of casting " + string(c.ID)})
	}
	return problems
}

// lineProblems names section lines that do not divide the casting in two, each
// with what draws why.
func lineProblems(w *halt.Work, of *Opened, c body.Casting, dir string) diag.Problems {
	b := of.Body
	var problems diag.Problems
	for i, l := range b.Lines {
		if l.Casting != c.ID {
			continue
		}
		why := ""
		switch p, err := of.Vehicle.While(w).Part(l); {
		case err != nil:
			why = "the casting cannot be cut along " + string(l.ID) + ": " + err.Error()
		case !p.Section.Divides:
			why = string(l.ID) + " does not divide the casting in two: " + strings.Join(p.Section.Reasons, "; ")
		default:
			continue
		}
		p := b.Problem(fmt.Sprintf("section_lines[%d].id", i), why, "correct the line or the mesh; this draws why")
		p.Remedy = cutting(l, c, dir)
		problems = append(problems, p)
	}
	return problems
}

// placeProblems names points of joints and edges of the i-th casting that do
// not lie on it.
func placeProblems(b *body.Body, i int, s *mesh.Surface) diag.Problems {
	c := b.Castings[i]
	gate := vehicle.LineGateMM(c)
	var problems diag.Problems
	off := func(at string, line []geom.Vec) {
		for k, q := range line {
			if _, d := s.Closest(q); d > gate {
				away, most := unit.Pair(d, gate, 1)
				problems = append(problems, b.Problem(fmt.Sprintf("%s[%d]", at, k), fmt.Sprintf("the point is %s mm off the surface of casting %s (at most %s mm)", away, c.ID, most), "take it from the casting's drawing, in vehicle axes"))
			}
		}
	}
	for j, e := range c.Edges {
		off(fmt.Sprintf("castings[%d].edges[%d].along_mm", i, j), e.Along)
	}
	for j, x := range b.Joints {
		if !slices.Contains(x.Layers, c.Part) {
			continue
		}
		for k, line := range x.Along {
			off(fmt.Sprintf("joints[%d].along_mm[%d]", j, k), line)
		}
	}
	return problems
}

// located puts the folder in front of each file name.
func located(ps diag.Problems, dir string) diag.Problems {
	out := slices.Clone(ps)
	for i := range out {
		if !strings.HasPrefix(out[i].File, dir+"/") {
			out[i].File = path.Join(dir, out[i].File)
		}
	}
	return out
}

func inFolder(err error, dir string) error {
	var ps diag.Problems
	if errors.As(err, &ps) {
		return located(ps, dir)
	}
	return err
}

// gather adds the problems in err to the list; any other error is returned.
func gather(list diag.Problems, err error) (diag.Problems, error) {
	var ps diag.Problems
	switch {
	case err == nil:
		return list, nil
	case errors.As(err, &ps):
		return append(list, ps...), nil
	}
	var e *diag.Error
	if errors.As(err, &e) && (e.Kind == diag.NotFound || e.Kind == diag.Denied) {
		return append(list, diag.Problem{File: e.Subject, Msg: e.Msg, Hint: e.Hint, Remedy: e.Remedy}), nil
	}
	return list, err
}
