package app

import (
	"fmt"
	"slices"
	"sync"
	"time"

	"fettle/internal/sched"
	"fettle/internal/unit"
)

// mostBodies is how many bodies are kept at once: a shop works on few vehicles
// at a time, and a body with its casting takes some tens of megabytes.
const mostBodies = 4

// mostAssessed is how many assessments are kept at once: those of the jobs that
// are worked on.
const mostAssessed = 24

// Bodies keeps bodies that were read and found sound, so that a process that
// carries out many commands reads each once. A body is known by the hash of every
// file in it: a changed file is another body, and it does not matter in which
// folder it lies; where only procedures differ its castings are shared, else those
// of the same mesh. The last assessments are kept likewise. Commands may share all of
// it at once.
type Bodies struct {
	mu       sync.Mutex
	kept     []Case // bodies; the one asked for last is the last
	assessed []keptAssessment
	known    sched.Known
}

// schedules are those that were made before; nil keeps none.
func (b *Bodies) schedules() *sched.Known {
	if b == nil {
		return nil
	}
	return &b.known
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
func (b *Bodies) find(is func(*Case) bool) (Case, bool) {
	if b == nil {
		return Case{}, false
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	for i := range b.kept {
		if k := b.kept[i]; is(&k) {
			b.kept = append(slices.Delete(b.kept, i, i+1), k)
			return k, true
		}
	}
	return Case{}, false
}

// withHash is the body of all the same files.
func (b *Bodies) withHash(hash string) (Case, bool) {
	return b.find(func(k *Case) bool { return k.BodyHash == hash })
}

// onGround is a body whose files are the same beside its procedures.
func (b *Bodies) onGround(hash string) (Case, bool) {
	return b.find(func(k *Case) bool { return k.groundHash == hash })
}

// withMesh is a body with a casting of the same mesh file, and that casting's mesh.
func (b *Bodies) withMesh(hash string) (k Case, m castingMesh, ok bool) {
	k, ok = b.find(func(k *Case) bool {
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
func (a *App) AssessOpened(c *Case, made time.Time, progress Progress) Assessment {
	from := fmt.Sprintf("%q %v %q %q %q %#v %#v", a.version, made, c.fileHash, c.BodyHash, c.ShopHash, c.Evidence, c.Notes)
	if known, ok := a.bodies.lastOf(from); ok {
		a.remember(c, known.Inspect, unit.DateOf(made))
		return known
	}
	r := a.Assess(c, made, progress)
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

func (b *Bodies) keep(of Case) {
	if b == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if slices.ContainsFunc(b.kept, func(k Case) bool { return k.BodyHash == of.BodyHash }) {
		return // read by another command meanwhile
	}
	if len(b.kept) == mostBodies {
		b.kept = slices.Delete(b.kept, 0, 1)
	}
	b.kept = append(b.kept, of)
}
