package app

import (
	"slices"
	"sync"
)

// mostBodies is how many bodies are kept at once: a shop works on few vehicles
// at a time, and a body with its casting takes some tens of megabytes.
const mostBodies = 4

// Bodies keeps bodies that were read and found sound, so that a process that
// carries out many commands reads each once. A body is known by its folder and
// the hash of every file in it: a changed file is another body. What is made of
// a body is filled as it is asked for, so that commands that share one have to
// come one after another.
type Bodies struct {
	mu   sync.Mutex
	kept []keptBody // the one asked for last is the last
}

type keptBody struct {
	dir, hash string
	of        Case
}

// WithBodies makes the service keep the bodies it reads; nil keeps none.
func (a *App) WithBodies(b *Bodies) *App {
	a.bodies = b
	return a
}

func (b *Bodies) find(dir, hash string) (Case, bool) {
	if b == nil {
		return Case{}, false
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	i := slices.IndexFunc(b.kept, func(k keptBody) bool { return k.dir == dir && k.hash == hash })
	if i < 0 {
		return Case{}, false
	}
	k := b.kept[i]
	b.kept = append(slices.Delete(b.kept, i, i+1), k)
	return k.of, true
}

func (b *Bodies) keep(dir, hash string, of Case) {
	if b == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.kept) == mostBodies {
		b.kept = slices.Delete(b.kept, 0, 1)
	}
	b.kept = append(b.kept, keptBody{dir, hash, of})
}
