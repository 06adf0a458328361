package safefile

import (
	"errors"
	"math"
	"os"
	"syscall"
	"time"
)

// ErrNoTurn says that the turn did not come in time.
var ErrNoTurn = errors.New("others had the turn all the time")

// Queue is where programs of one machine that want the same wait for their turn, in the order in which they came. A place in it is a
// lock of the system on one byte of a file that stays empty, behind the bytes of all who came before; whose turn it
// is nobody has a lock on a byte before. So who dies has lost place and turn in that moment, and nothing has to be cleaned up. It is of
// one goroutine.
type Queue struct {
	file *os.File
	late chan struct{} // closed when a turn that was not waited for has come and was passed on; nil: there is none
}

// OpenQueue opens a queue at a file, which is made where there is none, with rights and owner of another file.
func OpenQueue(name, like string) (*Queue, error) {
	fi, err := os.Stat(like)
	if err != nil {
		return nil, err
	}
	file, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|syscall.O_NOFOLLOW, fi.Mode().Perm())
	if err != nil {
		return nil, err
	}
	if of, ok := fi.Sys().(*syscall.Stat_t); ok && os.Geteuid() == 0 {
		if err := file.Chown(int(of.Uid), int(of.Gid)); err != nil {
			return nil, errors.Join(err, file.Close())
		}
	}
	return &Queue{file: file}, nil
}

// Locks of open files (F_OFD_SETLK and so on, which package syscall does not name): unlike those of a program they are not lost when another
// part of the program closes the same file. Their numbers are the same on all processors.
const (
	lockLook  = 36
	lockTry   = 37
	lockAwait = 38
)

// The bytes of the file: who takes a place has the first one, for that moment; then come the places.
const (
	gate        = 0
	firstPlace  = 1
	untilTheEnd = 0
)

// Turn waits for the turn. Who has it passes it on with Pass. A turn that has not come in time is passed on as soon as it comes; until
// then there is none.
func (q *Queue) Turn(wait time.Duration) error {
	if q.late != nil {
		select {
		case <-q.late:
			q.late = nil
		default:
			return ErrNoTurn
		}
	}
	place, err := q.join(lockTry)
	if err == nil && place == firstPlace {
		return nil
	}
	if err != nil && !isTaken(err) {
		return err
	}
	come := make(chan error, 1)
	go func() { come <- q.await(place) }()
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case err := <-come:
		return err
	case <-timer.C:
	}
	late := make(chan struct{})
	q.late = late
	go func() {
		if <-come == nil {
			q.Pass()
		}
		close(late)
	}()
	return ErrNoTurn
}

// join takes a place behind all others.
func (q *Queue) join(how int) (place int64, err error) {
	if err := q.lock(how, syscall.F_WRLCK, gate, 1); err != nil {
		return 0, err
	}
	place = firstPlace
	for {
		other := syscall.Flock_t{Type: syscall.F_WRLCK, Start: place, Len: untilTheEnd}
		if err = q.ask(lockLook, &other); err != nil || other.Type == syscall.F_UNLCK {
			break
		}
		if other.Len == untilTheEnd || other.Start > math.MaxInt64-other.Len {
			err = errors.New("somebody has locked the whole queue")
			break
		}
		place = other.Start + other.Len
	}
	if err == nil {
		err = q.lock(lockTry, syscall.F_WRLCK, place, 1)
	}
	return place, errors.Join(err, q.lock(lockTry, syscall.F_UNLCK, gate, 1))
}

// await waits until nobody has a place before ours, which is taken first where there is none yet.
func (q *Queue) await(place int64) error {
	var err error
	if place == 0 {
		place, err = q.join(lockAwait)
	}
	if err == nil && place > firstPlace {
		err = q.lock(lockAwait, syscall.F_RDLCK, firstPlace, place-firstPlace)
	}
	if err != nil {
		q.Pass()
	}
	return err
}

// Pass gives the turn to the next one.
func (q *Queue) Pass() {
	q.lock(lockTry, syscall.F_UNLCK, gate, untilTheEnd) // fails for no file that is open, and would be undone by closing it
}

// Close leaves the queue.
func (q *Queue) Close() error {
	if q.late == nil {
		return q.file.Close()
	}
	go func() {
		<-q.late
		q.file.Close() // nothing was written into it
	}()
	return nil
}

func (q *Queue) lock(how int, kind int16, from, length int64) error {
	return q.ask(how, &syscall.Flock_t{Type: kind, Start: from, Len: length})
}

// ask is a call of the system, made again where a signal has interrupted it.
func (q *Queue) ask(how int, lock *syscall.Flock_t) error {
	for {
		err := syscall.FcntlFlock(q.file.Fd(), how, lock)
		if !errors.Is(err, syscall.EINTR) {
			return err
		}
	}
}

func isTaken(err error) bool {
	return errors.Is(err, syscall.EAGAIN) || errors.Is(err, syscall.EACCES)
}
