package postgrestest

import (
	"os/exec"
	"runtime"
	"syscall"
)

// withParent starts a process that ends when this one does, however it does. The system counts the thread
// that started it as its parent, so that one stays.
func withParent(c *exec.Cmd, began chan<- error, ended chan<- struct{}) {
	runtime.LockOSThread()
	c.SysProcAttr.Pdeathsig = syscall.SIGINT
	err := c.Start()
	began <- err
	if err == nil {
		c.Wait() // how it ended is in its log
	}
	close(ended)
}
