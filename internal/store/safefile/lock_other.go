//go:build !unix

package safefile

import (
	"errors"
	"io/fs"
	"os"
	"time"
)

// ErrLocked says that another program kept the lock all the time.
var ErrLocked = errors.New("the folder is locked")

// lockFile is there while a folder is written.
const lockFile = ".fettle-lock"

// Lock takes the lock of a folder: a file that only one program can make.
// One that is left by a program that died has to be taken away by hand.
func Lock(root *os.Root, wait time.Duration) (unlock func() error, err error) {
	for start := time.Now(); ; time.Sleep(20 * time.Millisecond) {
		f, err := root.OpenFile(lockFile, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		switch {
		case err == nil:
			return func() error { return errors.Join(f.Close(), root.Remove(lockFile)) }, nil
		case !errors.Is(err, fs.ErrExist):
			return nil, err
		case time.Since(start) > wait:
			return nil, errors.Join(ErrLocked, errors.New("take the file "+lockFile+" away if no other program is writing"))
		}
	}
}
