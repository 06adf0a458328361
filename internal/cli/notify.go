package cli

import (
	"context"
	"net"
	"os"
	"strconv"
	"strings"
	"time"

	"fettle/internal/web"
)

// notifier tells the service manager how far a server is, as sd_notify(3) has it; where there is none, nobody.
type notifier struct {
	socket string
	every  time.Duration // between two signs of life; zero: nobody waits for them
}

func (env Env) notifier() *notifier {
	n := &notifier{}
	n.socket, _ = env.lookup("NOTIFY_SOCKET")
	text, _ := env.lookup("WATCHDOG_USEC")
	usec, err := strconv.ParseInt(text, 10, 64)
	if pid, is := env.lookup("WATCHDOG_PID"); err != nil || usec <= 0 || is && pid != strconv.Itoa(os.Getpid()) {
		return n
	}
	n.every = time.Duration(usec) * time.Microsecond / 2
	return n
}

func (n *notifier) stage(is web.Stage) {
	switch is {
	case web.Serving:
		n.send("READY=1")
	case web.Stopping:
		n.send("STOPPING=1")
	}
}

// send is best effort: whoever does not hear of it acts on its own.
func (n *notifier) send(state string) {
	if n.socket == "" {
		return
	}
	name := n.socket
	if strings.HasPrefix(name, "@") { // of the abstract space
		name = "\x00" + name[1:]
	}
	c, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: name, Net: "unixgram"})
	if err != nil {
		return
	}
	_, _ = c.Write([]byte(state))
	_ = c.Close()
}

// watch gives signs of life while there is life.
func (n *notifier) watch(ctx context.Context, alive func(context.Context) error) {
	if n.every <= 0 {
		return
	}
	tick := time.NewTicker(n.every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		one, end := context.WithTimeout(ctx, n.every)
		if alive(one) == nil {
			n.send("WATCHDOG=1")
		}
		end()
	}
}
