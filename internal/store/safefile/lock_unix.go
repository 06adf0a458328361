//go:build unix

package safefile

import (
	"errors"
	"os"
	"syscall"
	"time"
)

// ErrLocked says that another program kept the lock all the time.
var ErrLocked = errors.New("the folder is locked")

// Lock takes the lock of a folder: an advisory lock (flock) on the folder
// itself, so that no file is left behind, and none when the program dies.
func Lock(root *os.Root, wait time.Duration) (unlock func() error, err error) {
	f, err := root.Open(".")
	if err != nil {
		return nil, err
	}
	for start := time.Now(); ; time.Sleep(20 * time.Millisecond) {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		switch {
		case err == nil:
			return f.Close, nil
		case err != syscall.EWOULDBLOCK && err != syscall.EINTR:
			return nil, errors.Join(err, f.Close())
		case time.Since(start) > wait:
			return nil, errors.Join(ErrLocked, f.Close())
		}
	}
}
