package safefile

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

func queueAt(t testing.TB, name string) *Queue {
	t.Helper()
	q, err := OpenQueue(name, filepath.Dir(name))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := q.Close(); err != nil {
			t.Error(err)
		}
	})
	return q
}

// places is how many have a place in the queue, or the turn.
func places(t testing.TB, name string) (n int) {
	t.Helper()
	q := queueAt(t, name)
	seen := map[int64]bool{}
	for from := int64(firstPlace); ; {
		lock := syscall.Flock_t{Type: syscall.F_RDLCK, Start: from, Len: untilTheEnd} // which only places are in the way of
		if err := q.ask(lockLook, &lock); err != nil {
			t.Fatal(err)
		}
		if lock.Type == syscall.F_UNLCK {
			return len(seen)
		}
		seen[lock.Start] = true
		from = lock.Start + 1
	}
}

// until waits until so many are in the queue.
func until(t testing.TB, name string, n int) {
	t.Helper()
	for began := time.Now(); places(t, name) != n; time.Sleep(time.Millisecond) {
		if time.Since(began) > 20*time.Second {
			t.Fatalf("%d are in the queue, want %d", places(t, name), n)
		}
	}
}

// TestQueueIsInOrder: who came first is first, always; one has the turn at a time.
func TestQueueIsInOrder(t *testing.T) {
	name := filepath.Join(t.TempDir(), "turn")
	first := queueAt(t, name)
	if err := first.Turn(0); err != nil {
		t.Fatal(err)
	}
	var order []int
	var has atomic.Int32
	var wg sync.WaitGroup
	for i := range 12 {
		q := queueAt(t, name)
		wg.Go(func() {
			if err := q.Turn(time.Minute); err != nil {
				t.Error(err)
				return
			}
			if has.Add(1) != 1 {
				t.Error("two have the turn")
			}
			order = append(order, i)
			time.Sleep(time.Millisecond)
			has.Add(-1)
			q.Pass()
		})
		until(t, name, i+2)
	}
	first.Pass()
	wg.Wait()
	if !slices.IsSorted(order) || len(order) != 12 {
		t.Errorf("they came in the order of their numbers, and had their turn as %v", order)
	}
	if n := places(t, name); n != 0 {
		t.Errorf("%d are in the queue after all", n)
	}
	if fi, err := os.Stat(name); err != nil || fi.Size() != 0 {
		t.Errorf("the file has something in it: %v %v", fi, err)
	}
}

// TestQueueLate: a turn that did not come in time holds nobody up later, and there are turns again.
func TestQueueLate(t *testing.T) {
	name := filepath.Join(t.TempDir(), "turn")
	first, second, third := queueAt(t, name), queueAt(t, name), queueAt(t, name)
	if err := first.Turn(0); err != nil {
		t.Fatal(err)
	}
	for range 3 { // of which the later ones do not wait at all
		if err := second.Turn(time.Millisecond); !errors.Is(err, ErrNoTurn) {
			t.Fatal(err)
		}
	}
	if n := places(t, name); n != 2 {
		t.Errorf("%d are in the queue, want the one that has the turn and the one that was left behind", n)
	}
	first.Pass()
	if err := third.Turn(time.Minute); err != nil {
		t.Fatal(err)
	}
	<-second.late
	third.Pass()
	if err := second.Turn(time.Minute); err != nil {
		t.Fatal(err)
	}
	second.Pass()
}

const queueChild = "FETTLE_TEST_QUEUE"

// TestQueueProgram is a program that others of this file start: it says when it has the turn, and keeps it.
func TestQueueProgram(t *testing.T) {
	name := os.Getenv(queueChild)
	if name == "" {
		return
	}
	q := queueAt(t, name)
	if err := q.Turn(time.Minute); err != nil {
		t.Fatal(err)
	}
	fmt.Println("turn")
	time.Sleep(time.Minute)
}

// program starts it, and waits until it is in the queue; with holds until it has the turn.
func program(t *testing.T, name string, nth int, holds bool) *os.Process {
	t.Helper()
	child := exec.Command(os.Args[0], "-test.run=^TestQueueProgram$")
	child.Env = append(os.Environ(), queueChild+"="+name)
	out, err := child.StdoutPipe()
	if err = errors.Join(err, child.Start()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		child.Process.Kill() // it may be dead
		child.Wait()
	})
	until(t, name, nth)
	if line, err := "", error(nil); holds {
		if line, err = bufio.NewReader(out).ReadString('\n'); line != "turn\n" {
			t.Fatal(line, err)
		}
	}
	return child.Process
}

// TestQueueOfTheDead: who dies with the turn passes it on, and who dies while waiting lets nobody pass too early.
func TestQueueOfTheDead(t *testing.T) {
	name := filepath.Join(t.TempDir(), "turn")
	holds := program(t, name, 1, true)
	waits := program(t, name, 2, false)
	q, turn := queueAt(t, name), make(chan error, 1)
	go func() { turn <- q.Turn(time.Minute) }()
	until(t, name, 3)
	if err := waits.Kill(); err != nil {
		t.Fatal(err)
	}
	until(t, name, 2)
	select {
	case err := <-turn:
		t.Fatalf("two have the turn: %v", err)
	case <-time.After(50 * time.Millisecond):
	}
	if err := holds.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := <-turn; err != nil {
		t.Fatal(err)
	}
	q.Pass()
}

// TestQueueOfTheHalted: who was halted with the turn holds others up for as long as they wait for it, once.
func TestQueueOfTheHalted(t *testing.T) {
	name := filepath.Join(t.TempDir(), "turn")
	halted := program(t, name, 1, true)
	if err := halted.Signal(syscall.SIGSTOP); err != nil {
		t.Fatal(err)
	}
	q := queueAt(t, name)
	if err := q.Turn(10 * time.Millisecond); !errors.Is(err, ErrNoTurn) {
		t.Fatal(err)
	}
	if began, err := time.Now(), q.Turn(time.Minute); !errors.Is(err, ErrNoTurn) || time.Since(began) > 30*time.Second {
		t.Fatalf("after %v: %v", time.Since(began), err)
	}
	if err := halted.Kill(); err != nil {
		t.Fatal(err)
	}
	<-q.late
	if err := q.Turn(time.Minute); err != nil {
		t.Fatal(err)
	}
	q.Pass()
}

// A queue goes through no link, and its file has the rights of the one that it is beside.
func TestQueueFile(t *testing.T) {
	dir := t.TempDir()
	like, name := filepath.Join(dir, "a"), filepath.Join(dir, "a-turn")
	if err := errors.Join(os.WriteFile(like, nil, 0o640), os.Symlink(like, name)); err != nil {
		t.Fatal(err)
	}
	if q, err := OpenQueue(name, like); err == nil {
		q.Close()
		t.Error("it went through a link")
	}
	if err := os.Remove(name); err != nil {
		t.Fatal(err)
	}
	q, err := OpenQueue(name, like)
	if err != nil {
		t.Fatal(err)
	}
	if fi, err := os.Stat(name); err != nil || fi.Mode().Perm()&^0o640 != 0 {
		t.Errorf("%v %v", fi, err)
	}
	if err := q.Close(); err != nil {
		t.Error(err)
	}
	if _, err := OpenQueue(name, filepath.Join(dir, "none")); err == nil {
		t.Error("it is beside nothing")
	}
}

// BenchmarkQueueAlone is the turn of a program that is alone.
func BenchmarkQueueAlone(b *testing.B) {
	q := queueAt(b, filepath.Join(b.TempDir(), "turn"))
	for b.Loop() {
		if err := q.Turn(time.Second); err != nil {
			b.Fatal(err)
		}
		q.Pass()
	}
}
