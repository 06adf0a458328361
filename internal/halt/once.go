package halt

import (
	"sync"
	"sync/atomic"
)

// Once is a value that is found when it is first asked for, once however many goroutines ask.
// Who is stopped on the way to it leaves it to the next who asks; who only waits for it is
// stopped too. The zero value is ready.
type Once[T any] struct {
	of       atomic.Pointer[T]
	mu       sync.Mutex
	underWay chan struct{} // closed when the search for it ends; nil while nobody looks
}

// Get is the value, found now or before.
func (o *Once[T]) Get(w *Work, find func() T) T {
	for {
		of, ready := o.turn()
		switch {
		case of != nil:
			return *of
		case ready == nil:
			return o.find(find)
		}
		w.Wait(ready)
	}
}

// turn is the value where it was found, or else what to wait for; neither when it is for the
// caller to find it.
func (o *Once[T]) turn() (*T, <-chan struct{}) {
	if of := o.of.Load(); of != nil {
		return of, nil
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if of := o.of.Load(); of != nil || o.underWay != nil {
		return of, o.underWay
	}
	o.underWay = make(chan struct{})
	return nil, nil
}

func (o *Once[T]) find(find func() T) T {
	defer func() {
		o.mu.Lock()
		defer o.mu.Unlock()
		close(o.underWay)
		o.underWay = nil
	}()
	found := find()
	o.of.Store(&found)
	return found
}

// Found is the value where it was found already.
func (o *Once[T]) Found() (T, bool) {
	if of := o.of.Load(); of != nil {
		return *of, true
	}
	var none T
	return none, false
}
