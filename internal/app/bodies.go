package app

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/sched"
	"fettle/internal/unit"
)

// How many bodies are kept at once, and how much memory they may take together: the demonstration's with its casting takes 40 MB by
// this count, in which a mesh that several share counts for each of them. The one asked for last is always kept, and a fine mesh may take some
// hundreds.
const (
	mostBodies    = 16
	mostBodyBytes = 160 << 20
)

// mostAssessed is how many assessments are kept at once: those of the jobs that
// are worked on.
const mostAssessed = 16

// Bodies keeps bodies that were read and found sound, so that a process that
// carries out many commands reads each once. A body is known by the hash of every
// file in it: a changed file is another body, and it does not matter in which
// folder it lies; where only procedures differ its castings are shared, else those
// of the same mesh. The last assessments, and what stored jobs add up to, are kept likewise. Commands may share all of
// it at once: what several ask for at the same time is read, and assessed, by one of
// them while the others wait.
type Bodies struct {
	mu       sync.Mutex
	kept     []Opened // bodies; the one asked for last is the last
	assessed []keptAssessment
	turns    map[string]chan struct{} // of what somebody makes now
	shops    []keptShop
	known    sched.Known
	folds    job.Folds // of stored jobs
}

// alone returns when nobody else makes what the key names, so that all but the first find it
// made; call done after it is kept.
func (b *Bodies) alone(w *halt.Work, key string) (done func()) {
	if b == nil {
		return func() {}
	}
	for {
		ended, mine := b.turn(key)
		if mine {
			break
		}
		w.Wait(ended)
	}
	return func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		close(b.turns[key])
		delete(b.turns, key)
	}
}

// turn is whether it is the caller's turn to make what a key names, or what is closed when
// whoever makes it is done.
func (b *Bodies) turn(key string) (ended <-chan struct{}, mine bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if t, ok := b.turns[key]; ok {
		return t, false
	}
	if b.turns == nil {
		b.turns = map[string]chan struct{}{}
	}
	b.turns[key] = make(chan struct{})
	return nil, true
}

// schedules are those that were made before; nil keeps none.
func (b *Bodies) schedules() *sched.Known {
	if b == nil {
		return nil
	}
	return &b.known
}

// chains are those of stored jobs that were folded before; nil keeps none.
func (b *Bodies) chains() *job.Folds {
	if b == nil {
		return nil
	}
	return &b.folds
}

// mostShops is how many shops are kept at once.
const mostShops = 64

// keptShop is a shop of a library by its hash. Nobody changes it.
type keptShop struct {
	hash string
	of   shelved
}

// shopWith is the shop that is kept by a hash.
func (b *Bodies) shopWith(hash string) (shelved, bool) {
	if b == nil {
		return shelved{}, false
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	i := slices.IndexFunc(b.shops, func(k keptShop) bool { return k.hash == hash })
	if i < 0 {
		return shelved{}, false
	}
	k := b.shops[i]
	b.shops = append(slices.Delete(b.shops, i, i+1), k) // the one asked for last is the last
	return k.of, true
}

// keepShop keeps a shop that is sound.
func (b *Bodies) keepShop(hash string, of shelved) {
	if b == nil || of.err != nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.shops = slices.DeleteFunc(b.shops, func(k keptShop) bool { return k.hash == hash })
	if len(b.shops) == mostShops {
		b.shops = slices.Delete(b.shops, 0, 1)
	}
	b.shops = append(b.shops, keptShop{hash, of})
}

// keptAssessment is an assessment by all that it was made from. Nobody changes it.
type keptAssessment struct {
	from string
	of   Assessment
}

// WithBodies makes the service keep the bodies it reads; nil keeps none.
func (a *App) WithBodies(b *Bodies) *App {
	a.bodies = b
	return a
}

// find is a body that is kept.
func (b *Bodies) find(is func(*Opened) bool) (Opened, bool) {
	if b == nil {
		return Opened{}, false
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	for i := range b.kept {
		if k := b.kept[i]; is(&k) {
			b.kept = append(slices.Delete(b.kept, i, i+1), k)
			b.letGo(mostBodyBytes)
			return k, true
		}
	}
	return Opened{}, false
}

// withHash is the body of all the same files.
func (b *Bodies) withHash(hash string) (Opened, bool) {
	return b.find(func(k *Opened) bool { return k.BodyHash == hash })
}

// withVehicle is a body whose files are the same beside its procedures.
func (b *Bodies) withVehicle(hash string) (Opened, bool) {
	return b.find(func(k *Opened) bool { return k.vehicleHash == hash })
}

// withMesh is a body with a casting of the same mesh file, and that casting's mesh.
func (b *Bodies) withMesh(hash string) (k Opened, m castingMesh, ok bool) {
	k, ok = b.find(func(k *Opened) bool {
		for _, m = range k.meshes {
			if m.hash == hash {
				return true
			}
		}
		return false
	})
	return k, m, ok
}

// AssessOpened is Assess for a job exactly as it was opened: assessed before from
// the same files, for the same time, it is not assessed anew.
func (a *App) AssessOpened(ctx context.Context, c *Opened, made time.Time) (Assessment, error) {
	return while(ctx, func(w *halt.Work) (Assessment, error) { return a.assessOpened(w, c, made), nil })
}

func (a *App) assessOpened(w *halt.Work, c *Opened, made time.Time) Assessment {
	from := fmt.Sprintf("%q %v %q %q %q %#v %#v", a.version, made, c.fileHash, c.BodyHash, c.ShopHash, c.Evidence, c.Notes)
	defer a.bodies.alone(w, from)()
	if known, ok := a.bodies.lastOf(from); ok {
		a.remember(w, c, known.Inspect, unit.DateOf(made))
		return known
	}
	r := a.assess(w, c, made)
	a.bodies.keepAssessed(from, r)
	return r
}

func (b *Bodies) lastOf(from string) (Assessment, bool) {
	if b == nil {
		return Assessment{}, false
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	i := slices.IndexFunc(b.assessed, func(k keptAssessment) bool { return k.from == from })
	if i < 0 {
		return Assessment{}, false
	}
	k := b.assessed[i]
	b.assessed = append(slices.Delete(b.assessed, i, i+1), k) // the one asked for last is the last
	return k.of, true
}

func (b *Bodies) keepAssessed(from string, r Assessment) {
	if b == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.assessed) == mostAssessed {
		b.assessed = slices.Delete(b.assessed, 0, 1)
	}
	b.assessed = append(b.assessed, keptAssessment{from, r})
}

func (b *Bodies) keep(of Opened) {
	if b == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if slices.ContainsFunc(b.kept, func(k Opened) bool { return k.BodyHash == of.BodyHash }) {
		return // read by another command meanwhile
	}
	b.kept = append(b.kept, of)
	b.letGo(mostBodyBytes)
}

// letGo lets go of the bodies asked for longest ago until no more are kept than may be.
// A vehicle grows with what is asked of it, and counts once however many bodies share it.
func (b *Bodies) letGo(mostBytes int) {
	for len(b.kept) > 1 && (len(b.kept) > mostBodies || b.bytes() > mostBytes) {
		b.kept = slices.Delete(b.kept, 0, 1)
	}
}

func (b *Bodies) bytes() int {
	sum := 0
	for i, k := range b.kept {
		if k.Vehicle != nil && !slices.ContainsFunc(b.kept[:i], func(o Opened) bool { return o.Vehicle == k.Vehicle }) {
			sum += k.Vehicle.Bytes()
			for _, m := range k.maps {
				sum += len(m.Data)
			}
		}
	}
	return sum
}
