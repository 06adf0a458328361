package app

import (
	"context"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/explain"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/unit"
)

// StoreAt is the store that a place with a stored job belongs to, and what the job is called there.
type StoreAt func(place string) (Store, string)

// WithStores lets the service open stored jobs.
func (a *App) WithStores(at StoreAt) *App {
	a.stores = at
	return a
}

// WithData lets the service find stored jobs by their names in one store, in which alone they are looked
// for; hint says how a person finds them there.
func (a *App) WithData(in Store, hint string) *App {
	a.stores, a.jobHint = func(place string) (Store, string) { return in, path.Base(place) }, hint
	return a
}

// IsStored says that a stored job lies at a place.
func (a *App) IsStored(dir string) bool { return a.files.Exists(path.Join(dir, job.EventsFile)) }

// Stored says that it is a stored job, and not a state written by hand.
func (c *Opened) Stored() bool { return c.stored != nil }

// lastEvent is the newest event of a stored job; nil of a state written by hand.
func (c *Opened) lastEvent() *Head {
	if c.stored == nil {
		return nil
	}
	seq, hash := c.stored.Head()
	return &Head{seq, hash}
}

func (h *Head) orNone() Head {
	if h == nil {
		return Head{}
	}
	return *h
}

// historyWords says what history a job has.
func historyWords(last *Head) string {
	if last == nil {
		return "a state written by hand, without a history"
	}
	return fmt.Sprintf("a stored job, events 1 to %d", last.Seq)
}

// OpenStored opens a job from a store alone: body, shop, meshes and evidence are what the store keeps
// under the hashes by which the job names them. Nothing is looked for in any folder.
func (a *App) OpenStored(ctx context.Context, from Store, id string) (*Opened, error) {
	return while(ctx, func(w *halt.Work) (*Opened, error) {
		return a.openAll(w, &Opened{From: id, store: from, storeID: id, alone: true}, newShelf())
	})
}

func notHere(dir string) error {
	return &diag.Error{Kind: diag.Unsupported, Op: "open", Subject: dir, Msg: "stored jobs are not opened here", Hint: "open the job with fettle"}
}

// readStored reads a stored job: its events are verified and added up, and what they add up to is
// judged as a job that was written is.
func (c *Opened) readStored(folds *job.Folds, chain ledger.Chain) error {
	var err error
	if c.stored, err = folds.Read(chain); err != nil {
		return err
	}
	s := c.stored.State()
	if problems := s.Broken(); len(problems) > 0 {
		return problems
	}
	if err := c.standsAlone(s); err != nil {
		return err
	}
	c.Job = s
	return nil
}

// standsAlone refuses a job that names something by a path where there is no folder.
func (c *Opened) standsAlone(s *job.State) error {
	if !c.alone {
		return nil
	}
	var problems diag.Problems
	for field, name := range map[string]string{"body": s.Body, "shop": s.Shop} {
		if _, ok := job.NamedHash(name); !ok {
			problems = append(problems, s.Problem(field, fmt.Sprintf("%q is no hash of a content, and there is no folder to look in", name), "name it by its content"))
		}
	}
	problems.Sort()
	return problems.OrNil()
}

// beside is where a body or shop lies from the folder of a job; one that is named by its content
// lies nowhere in particular.
func beside(dir, name string) string {
	if _, stored := job.NamedHash(name); stored {
		return name
	}
	return path.Join(dir, name)
}

// filesOf are the files of the body or shop of a job: from the library where the job names it by
// its content, else as read finds them.
func (a *App) filesOf(w *halt.Work, c *Opened, dir, name string, read func(string) (map[string][]byte, error)) (map[string][]byte, error) {
	hash, stored := job.NamedHash(name)
	if !stored || c.store == nil {
		return read(path.Join(dir, name))
	}
	return c.inLibrary(w, hash)
}

// inLibrary is what the library of a stored job has under a hash.
func (c *Opened) inLibrary(w *halt.Work, hash string) (map[string][]byte, error) {
	files, err := c.store.Files(w.Context(), hash)
	w.Step() // stopped meanwhile it is no answer
	if err == nil && body.Hash(files) != hash {
		err = &diag.Error{Kind: diag.Integrity, Op: "open", Subject: job.HashName(hash), Msg: "the store gave something else under this hash", Hint: "bring it back from a backup"}
	}
	return files, err
}

// shopFile is a shop file by its name.
func (a *App) shopFile(p string) (map[string][]byte, error) {
	data, err := a.read("", p, aDocument, "the job names this shop file: correct 'shop' in job.yaml")
	return map[string][]byte{path.Base(p): data}, err
}

// bodyOf reads the body of a job, unless it is on the shelf.
func (a *App) bodyOf(w *halt.Work, s *shelf, c *Opened, dir string) error {
	hash, stored := job.NamedHash(c.Job.Body)
	if !stored {
		return a.shelvedBody(w, s, c, path.Join(dir, c.Job.Body))
	}
	if err := a.needsStore(c, dir); err != nil {
		return err
	}
	if _, ok := s.bodies[c.Job.Body]; !ok {
		s.bodies[c.Job.Body] = a.libraryBody(w, c, hash)
	}
	return a.shelvedBody(w, s, c, c.Job.Body)
}

// libraryBody is a body of the library. One that is kept by its hash is not fetched again: its meshes would be read and hashed with every change of a job.
func (a *App) libraryBody(w *halt.Work, c *Opened, hash string) (kept shelved) {
	if held, is := a.bodies.withHash(hash); is {
		kept.of = held
		return kept
	}
	defer a.bodies.alone(w, "library "+hash)() // its files are some megabytes
	if held, is := a.bodies.withHash(hash); is {
		kept.of = held
		return kept
	}
	files, err := c.inLibrary(w, hash)
	if kept.err = err; err == nil {
		kept.err = a.makeBody(w, &kept.of, files, c.Job.Body)
	}
	return kept
}

// shopOf reads the shop of a job, unless it is on the shelf.
func (a *App) shopOf(w *halt.Work, s *shelf, c *Opened, dir string) error {
	hash, stored := job.NamedHash(c.Job.Shop)
	if !stored {
		return a.shelvedShop(s, c, path.Join(dir, c.Job.Shop))
	}
	if err := a.needsStore(c, dir); err != nil {
		return err
	}
	if _, ok := s.shops[c.Job.Shop]; !ok {
		s.shops[c.Job.Shop] = a.libraryShop(w, c, hash)
	}
	return a.shelvedShop(s, c, c.Job.Shop)
}

// libraryShop is a shop of the library, which is not fetched again while it is kept by its hash.
func (a *App) libraryShop(w *halt.Work, c *Opened, hash string) (kept shelved) {
	if held, is := a.bodies.shopWith(hash); is {
		return held
	}
	files, err := c.inLibrary(w, hash)
	if kept.err = err; err == nil && len(files) != 1 {
		kept.err = &diag.Error{Kind: diag.Invalid, Op: "open", Subject: c.Job.Shop, Msg: "what is kept under this hash is no shop file"}
	}
	for name, data := range files {
		if kept.err == nil {
			kept.of.Shop, kept.of.shopFiles, kept.of.ShopHash, kept.err = makeShop(path.Join(c.Job.Shop, name), data)
		}
	}
	a.bodies.keepShop(hash, kept)
	return kept
}

// needsStore finds the store of a stored job that was not read from it just now.
func (a *App) needsStore(c *Opened, dir string) error {
	if c.store == nil && a.stores != nil {
		c.store, c.storeID = a.stores(dir)
	}
	if c.store == nil {
		return notHere(dir)
	}
	return nil
}

// recordEvents makes the events that put records and readings on record in a stored job. They are judged
// as in a job that is written by hand; the store judges them again when they are written.
func (a *App) recordEvents(c *Opened, told func(error) error, readings []job.Reading, records ...any) (Recorded, error) {
	after, err := c.Job.With(readings, records...)
	if err != nil {
		return Recorded{}, err
	}
	problems := after.Fresh(c.Job)
	if len(problems) == 0 {
		problems, _ = job.CheckAgainst(after, c.Body, c.Shop)
	}
	if err := problems.OrNil(); err != nil {
		return Recorded{}, told(err)
	}
	events, err := c.stored.Recording(readings, records...)
	return Recorded{Events: events}, err
}

// Append writes what was recorded of a stored job, as it was opened: what somebody else has written
// of the same records since is not written over: that is a *Clashing. The key is for this alone.
func (a *App) Append(ctx context.Context, c *Opened, r Recorded, by, key string) (Head, error) {
	return a.appendIf(ctx, c, r, by, key, func(_, _ *job.Stored) error { return nil })
}

// appendIf is Append of what also passes another judgement, with the job before and after it.
func (a *App) appendIf(ctx context.Context, c *Opened, r Recorded, by, key string, may func(before, after *job.Stored) error) (Head, error) {
	if err := a.keepEvidence(ctx, c, r); err != nil {
		return Head{}, err
	}
	head, err := c.store.Append(ctx, c.storeID, Change{Key: key, By: by, Events: r.Events, Wants: append(slices.Clone(r.Wants), a.wantsNext(c.store, c.storeID, by)...)}, func(before, after *job.Stored) error {
		if err := may(before, after); err != nil {
			return err
		}
		if err := errors.Join(keepsClosed(c.storeID, r.Events, r.judged, before), notToCome(c.storeID, after)); err != nil {
			return err
		}
		problems, _ := job.CheckAgainst(after.State(), c.Body, c.Shop)
		return problems.OrNil()
	})
	return head, clashing(ctx, c.store, c.storeID, r.Events, err)
}

// Keep makes a stored job of a state that was written by hand: its body and shop go into the
// library, its evidence is kept by its hashes, and its records are the first events, all of this person and this moment. It has no history
// before.
func (a *App) Keep(ctx context.Context, c *Opened, by, key string) (Head, error) {
	if c.Stored() || a.stores == nil {
		return Head{}, &diag.Error{Kind: diag.Conflict, Op: "keep", Subject: c.From, Msg: "this is a stored job already"}
	}
	to, id := a.stores(c.From)
	return a.KeepIn(ctx, c, to, id, by, key)
}

// KeepIn is Keep in a store of one's choice, under a name of one's choice.
func (a *App) KeepIn(ctx context.Context, c *Opened, to Store, id, by, key string) (Head, error) {
	s := *c.Job
	for _, part := range []struct {
		name *string
		want string
		read func(string) (map[string][]byte, error)
	}{{&s.Body, c.BodyHash, a.readFolder}, {&s.Shop, c.ShopHash, a.shopFile}} {
		files, err := part.read(path.Join(c.From, *part.name))
		if err != nil {
			return Head{}, err
		}
		if body.Hash(files) != part.want {
			return Head{}, &diag.Error{Kind: diag.Conflict, Op: "keep", Subject: path.Join(c.From, *part.name), Msg: "it was changed while the job was read; nothing was kept", Hint: "try again"}
		}
		hash, err := to.Keep(ctx, files)
		if err != nil {
			return Head{}, err
		}
		*part.name = job.HashName(hash)
	}
	for i, e := range s.Evidence {
		if e.SHA256 == "" {
			return Head{}, located(diag.Problems{c.Job.Problem(fmt.Sprintf("evidence[%d].sha256", i), "a stored job names evidence by the hash of its content, and this has none", "note the hash: sha256: "+c.Evidence[i].SHA256)}, c.From)
		}
		if err := a.keepFile(ctx, to, c.From, e.File, e.SHA256); err != nil {
			return Head{}, err
		}
	}
	return to.Create(ctx, id, Change{Key: key, By: by, Events: job.FromState(s), Wants: a.wantsNext(to, id, by)})
}

// Withdraw takes a record of a stored job back.
func (a *App) Withdraw(c *Opened, of job.RecordName, w job.Withdrawal) (Recorded, error) {
	if err := c.hasRecord("withdraw", of); err != nil {
		return Recorded{}, err
	}
	if why := c.Job.Falls(job.Act{By: w.By, On: w.On}, c.Shop, w.On); why != "" {
		return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "withdraw", Subject: string(of), Msg: why}
	}
	return Recorded{Events: []job.Event{{Kind: job.RecordWithdrawn, Of: of, Seen: c.stored.Newest(of), Data: w}},
		Text: "Withdrawn: " + string(of) + "."}, nil
}

// Erase takes the names and remarks of people out of a record of a stored job, in every event about it.
func (a *App) Erase(c *Opened, of job.RecordName, e job.Erasure) (Recorded, error) {
	if !c.Stored() || c.stored.Newest(of) == 0 {
		return Recorded{}, c.hasRecord("erase", of)
	}
	return Recorded{Events: c.stored.Erasing([]job.RecordName{of}, e),
		Text: "Erased: names and remarks of " + string(of) + ". What needs them does not stand any more."}, nil
}

// ErasePerson takes the names and remarks of a person out of every record of a stored job that has
// them, in every event about it, all at once.
func (a *App) ErasePerson(ctx context.Context, c *Opened, who job.Person, e job.Erasure) (Recorded, error) {
	if !c.Stored() {
		return Recorded{}, c.hasRecord("erase", "")
	}
	chain, err := c.store.Load(ctx, c.storeID, 0)
	if err != nil {
		return Recorded{}, err
	}
	if _, was := c.stored.Head(); chain[len(chain)-1].Hash != was {
		return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "erase", Subject: c.From, Msg: "somebody has written into the job since it was read; nothing was erased", Hint: "try again"}
	}
	records, beyond, err := who.Concerns(chain)
	if err != nil {
		return Recorded{}, err
	}
	left := ""
	if len(beyond) > 0 {
		left = " The work rests on what stays, and the name stands there still: " + explain.Joined(beyond) + "."
	}
	if len(records) == 0 {
		return Recorded{}, &diag.Error{Kind: diag.NotFound, Op: "erase", Subject: c.From, Msg: "no text of a person that can be erased has this name." + left, Hint: "give the name as the records have it"}
	}
	return Recorded{Events: c.stored.Erasing(records, e),
		Text: fmt.Sprintf("Erased: names and remarks of %s: %s. What needs them does not stand any more.%s", unit.Count(len(records), "record"), explain.Joined(records), left)}, nil
}

// AgreeErasure records that somebody agrees to texts being erased from a record, or from all that a person is named in.
func (a *App) AgreeErasure(ctx context.Context, c *Opened, of job.RecordName, who job.Person, x job.ErasureAgreed) (Recorded, error) {
	if err := c.signs("agree to an erasure", x.By, x.On, ""); err != nil {
		return Recorded{}, err
	}
	erases, err := a.Erase(c, of, job.Erasure{})
	if of == "" {
		erases, err = a.ErasePerson(ctx, c, who, job.Erasure{})
	}
	if err != nil {
		return Recorded{}, err
	}
	x.Of = nil
	for _, e := range erases.Events {
		x.Of = append(x.Of, e.Of)
	}
	out, err := a.record(c, asAsked, x)
	out.Text = fmt.Sprintf("Agreed: names and remarks may be erased from %s, by another person: %s.", unit.Count(len(x.Of), "record"), explain.Joined(x.Of))
	return out, err
}

// hasRecord refuses a record that a job has not.
func (c *Opened) hasRecord(op string, of job.RecordName) error {
	if !c.Stored() {
		return &diag.Error{Kind: diag.Unsupported, Op: op, Subject: c.From, Msg: "it is a state written by hand, without a history", Hint: "change job.yaml, or make a stored job of it", Remedy: diag.Do(job.ToKeep, "job", c.From)}
	}
	if _, ok := c.stored.Record(of); !ok {
		return &diag.Error{Kind: diag.NotFound, Op: op, Subject: string(of), Msg: "the job has no such record", Hint: "its history names them, for example finding/D1", Remedy: diag.Do(job.ToSeeHistory, "job", c.From)}
	}
	return nil
}

// Show is a record of a stored job as Put takes it, and the number of the newest event about it.
func (a *App) Show(c *Opened, of job.RecordName) ([]byte, int64, error) {
	if err := c.hasRecord("show", of); err != nil {
		return nil, 0, err
	}
	data, _ := c.stored.Record(of)
	return job.EncodeRecord(data), c.stored.Newest(of), nil
}

// Put records what a file holds in a stored job: a new record, or one in the place of what its
// author had seen of it, by the number of the event. Faults are told at their places in the file.
func (a *App) Put(ctx context.Context, c *Opened, of job.RecordName, file string, seen int64) (Recorded, error) {
	if !c.Stored() {
		return Recorded{}, c.hasRecord("put", of)
	}
	data, err := a.read("", file, aDocument, "give the file with the record")
	if err != nil {
		return Recorded{}, err
	}
	e, at, err := job.DecodeRecord(of, file, data)
	if err != nil {
		return Recorded{}, err
	}
	e.Seen = seen
	after, is, err := c.stored.Try(e)
	problems, err := gather(nil, clashing(ctx, c.store, c.storeID, []job.Event{e}, err))
	if err != nil {
		return Recorded{}, err
	}
	if len(problems) == 0 {
		problems, _ = job.CheckAgainst(after.State(), c.Body, c.Shop)
	}
	for i, p := range problems {
		if field, ok := strings.CutPrefix(p.Field, string(is)); ok && p.File == job.EventsFile {
			problems[i] = at.Problem(strings.TrimPrefix(field, "."), p.Msg, p.Hint)
		}
	}
	problems.Sort()
	return Recorded{Events: []job.Event{e}, Text: "Recorded: " + string(is) + "."}, problems.OrNil()
}

// Renew makes a stored job work with a body and a shop as they are now; either may be left out. They
// have to be sound, and the job has to fit them.
func (a *App) Renew(ctx context.Context, c *Opened, bodyDir, shopFile string) (Recorded, error) {
	if !c.Stored() {
		return Recorded{}, &diag.Error{Kind: diag.Unsupported, Op: "keep", Subject: c.From, Msg: "it is a state written by hand, and names its body and shop by their paths", Hint: "change 'body' or 'shop' in job.yaml"}
	}
	next, own := *c, newShelf()
	judgeBody := func(s *shelf, c *Opened, name string) error {
		_, err := while(ctx, func(w *halt.Work) (struct{}, error) { return struct{}{}, a.shelvedBody(w, s, c, name) })
		return err
	}
	out := Recorded{Text: "Nothing is new: the job works with these already."}
	for _, part := range []struct {
		kind  job.EventKind
		of    job.RecordName
		name  string
		read  func(string) (map[string][]byte, error)
		judge func(s *shelf, c *Opened, name string) error
		hash  *string
	}{{job.BodyNamed, job.OfBody, bodyDir, a.readFolder, judgeBody, &next.BodyHash}, {job.ShopNamed, job.OfShop, shopFile, a.shopFile, a.shelvedShop, &next.ShopHash}} {
		if part.name == "" {
			continue
		}
		was := *part.hash
		if err := part.judge(own, &next, part.name); err != nil {
			return Recorded{}, asNamed(err)
		}
		files, err := part.read(part.name)
		if err != nil {
			return Recorded{}, err
		}
		hash, err := c.store.Keep(ctx, files)
		if err != nil {
			return Recorded{}, err
		}
		if hash != *part.hash {
			return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "keep", Subject: part.name, Msg: "it was changed while it was read; nothing was recorded", Hint: "try again"}
		}
		if hash != was {
			out.Events = append(out.Events, job.Event{Kind: part.kind, Of: part.of, Seen: c.stored.Newest(part.of), Data: job.Named{SHA256: hash}})
			out.Text = "Renewed: the job works with body and shop as they are now."
		}
	}
	if err := a.fits(&next, c.From); err != nil {
		return Recorded{}, err
	}
	c.Body, c.Shop = next.Body, next.Shop // what the change is judged with when it is written
	return out, nil
}

// asNamed is an error about a body or shop that a person named, and not the job.
func asNamed(err error) error {
	var e *diag.Error
	if !errors.As(err, &e) || e.Kind != diag.Denied && e.Kind != diag.NotFound {
		return err
	}
	own := *e
	own.Hint = "give the folder of a body (it holds body.yaml), or a shop file"
	return &own
}

// EventLine is an event of a stored job in a list.
type EventLine struct {
	Seq    int64          `json:"seq"`
	At     string         `json:"at"`
	By     string         `json:"by"`
	What   string         `json:"what"`
	About  job.RecordName `json:"about"`
	Seen   int64          `json:"seen"`
	Hash   string         `json:"hash"`
	Erased bool           `json:"erased"` // a text of it is not there any more
	Text   string         `json:"text"`   // in plain English
}

// Events is the events of a stored job, which are verified, from the first to the last.
func (a *App) Events(ctx context.Context, place string) ([]EventLine, error) {
	dir, err := a.JobDir(place)
	if err != nil {
		return nil, err
	}
	if !a.IsStored(dir) {
		return nil, &diag.Error{Kind: diag.NotFound, Op: "events", Subject: dir, Msg: "it is a state written by hand, and has no history", Hint: "make a stored job of it, whose history begins then", Remedy: diag.Do(job.ToKeep, "job", dir)}
	}
	if a.stores == nil {
		return nil, a.needsStore(&Opened{}, dir) // which says so
	}
	st, id := a.stores(dir)
	chain, err := st.Load(ctx, id, 0)
	if err != nil {
		return nil, err
	}
	if _, err := a.bodies.chains().Read(chain); err != nil {
		return nil, err
	}
	events, err := job.Events(chain)
	if err != nil {
		return nil, err
	}
	out, words := make([]EventLine, len(chain)), job.Words(events)
	for i, e := range chain {
		texts, err := job.Texts(events[i].Data)
		if err != nil {
			return nil, err
		}
		out[i] = EventLine{e.Seq, e.At, e.By, e.What, events[i].About(), e.Seen, e.Hash, slices.Contains(texts, job.Erased), words[i]}
	}
	return out, nil
}
