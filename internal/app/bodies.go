package app

import (
	"slices"
	"sync"
)

// mostBodies is how many bodies are kept at once: a shop works on few vehicles
// at a time, and a body with its casting takes some tens of megabytes.
const mostBodies = 4

// Bodies keeps bodies that were read and found sound, so that a process that
// carries out many commands reads each once. A body is known by the hash of every
// file in it: a changed file is another body, and it does not matter in which
// folder it lies. Commands may share a body at once.
type Bodies struct {
	mu   sync.Mutex
	kept []keptBody // the one asked for last is the last
}

type keptBody struct {
	hash string
	of   Case
}

// WithBodies makes the service keep the bodies it reads; nil keeps none.
func (a *App) WithBodies(b *Bodies) *App {
	a.bodies = b
	return a
}

func (b *Bodies) find(hash string) (Case, bool) {
	if b == nil {
		return Case{}, false
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	i := slices.IndexFunc(b.kept, func(k keptBody) bool { return k.hash == hash })
	if i < 0 {
		return Case{}, false
	}
	k := b.kept[i]
	b.kept = append(slices.Delete(b.kept, i, i+1), k)
	return k.of, true
}

func (b *Bodies) keep(hash string, of Case) {
	if b == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if slices.ContainsFunc(b.kept, func(k keptBody) bool { return k.hash == hash }) {
		return // read by another command meanwhile
	}
	if len(b.kept) == mostBodies {
		b.kept = slices.Delete(b.kept, 0, 1)
	}
	b.kept = append(b.kept, keptBody{hash, of})
}
