package database_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/store/datafolder"
	"fettle/internal/store/storetest"
)

// Variables of a program that TestTurns starts: its folder, its name, for how long it writes, and whether it waits for its turn.
const turnsDir, turnsName, turnsFor, turnsNone = "FETTLE_TEST_TURNS_DIR", "FETTLE_TEST_TURNS_NAME", "FETTLE_TEST_TURNS_FOR", "FETTLE_TEST_TURNS_NONE"

// turn is a change that such a program made: the newest event then, and how long it waited; or it says that the program is ready.
type turn struct {
	Ready  bool          `json:",omitempty"`
	Seq    int64         `json:",omitempty"`
	Waited time.Duration `json:",omitempty"`
}

// TestTurnsWriter is that program; otherwise it does nothing. It writes without a pause.
func TestTurnsWriter(t *testing.T) {
	dir, name := os.Getenv(turnsDir), os.Getenv(turnsName)
	if dir == "" {
		return
	}
	span, err := time.ParseDuration(os.Getenv(turnsFor))
	if err != nil {
		t.Fatal(err)
	}
	st, err := folder(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	}()
	if os.Getenv(turnsNone) != "" {
		st.NoTurns()
	}
	out := os.NewFile(3, "said")
	tell := func(s turn) {
		line, err := json.Marshal(s)
		if err == nil {
			_, err = out.Write(append(line, '\n'))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if _, err := st.Create(t.Context(), name, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(name))}); err != nil {
		t.Fatal(err)
	}
	tell(turn{Ready: true})
	if _, err := os.Stdin.Read(make([]byte, 1)); err != nil && !errors.Is(err, io.EOF) { // all begin at once
		t.Fatal(err)
	}
	for n, until := 0, time.Now().Add(span); time.Now().Before(until); n++ {
		began := time.Now()
		h, err := st.Append(t.Context(), name, app.Change{Key: fmt.Sprint(n), By: "p-1", Events: []job.Event{{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: storetest.State("").Opened}}}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		tell(turn{Seq: h.Seq, Waited: time.Since(began)})
	}
}

// crowd is programs that write without a pause; the first is killed after a third of the time. What is told is what each did.
func crowd(t *testing.T, dir string, programs int, span time.Duration, none string) [][]turn {
	t.Helper()
	all := make([][]turn, programs)
	begin, now, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer begin.Close()
	done, ready := make(chan error), make(chan struct{}, programs)
	for i := range programs {
		r, w, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		child := exec.Command(os.Args[0], "-test.run=^TestTurnsWriter$", "-test.timeout=5m")
		child.Env = append(os.Environ(), turnsDir+"="+dir, fmt.Sprint(turnsName, "=J-", i), turnsFor+"="+span.String(), turnsNone+"="+none)
		child.Stdin, child.ExtraFiles = begin, []*os.File{w}
		var says bytes.Buffer
		child.Stdout = &says
		if err := errors.Join(child.Start(), w.Close()); err != nil {
			t.Fatal(err)
		}
		go func() {
			in := bufio.NewScanner(r)
			for in.Scan() {
				var s turn
				if json.Unmarshal(in.Bytes(), &s) != nil {
					break // a line that was begun when it was killed; any other is missed below
				}
				if s.Ready {
					ready <- struct{}{}
					if i == 0 {
						time.AfterFunc(span/3, func() { child.Process.Kill() }) // seen by how it ends
					}
					continue
				}
				all[i] = append(all[i], s)
			}
			err := errors.Join(in.Err(), r.Close())
			if ended := child.Wait(); child.ProcessState.Success() == (i == 0) {
				err = errors.Join(err, fmt.Errorf("program %d: %v\n%s", i, ended, says.String()))
			}
			done <- err
		}()
	}
	for range programs {
		select {
		case <-ready:
		case err := <-done:
			t.Fatalf("a program did not begin: %v", err)
		}
	}
	if err := now.Close(); err != nil {
		t.Fatal(err)
	}
	for range programs {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	return all
}

// gaps is how many changes of others there were between two of each program but the first.
func gaps(t *testing.T, st *datafolder.Store) (out []int) {
	t.Helper()
	last, n := map[string]int{}, 0
	opened := len(job.FromState(storetest.State("J"))) // of the change that a job begins with
	err := st.Read(t.Context(), "select name from leaves where kind = 'event' and seq > $1 order by n", []any{opened}, func(scan func(...any) error) error {
		var name string
		err := scan(&name)
		if at, ok := last[name]; ok && name != "J-0" {
			out = append(out, n-at-1)
		}
		last[name] = n
		n++
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(out)
	return out
}

// TestTurns lets programs write into one file without a pause, and kills one in the middle. None is told of anything, each of the others has
// its share, and between two changes of one there is hardly ever more than one of each other. FETTLE_CROWD is for how many seconds (60 for the
// whole campaign); then there are eleven, and it is told what happens without turns.
func TestTurns(t *testing.T) {
	programs, span, ways := 5, 1200*time.Millisecond, []string{""}
	if n, err := strconv.ParseFloat(os.Getenv("FETTLE_CROWD"), 64); err == nil {
		programs, span, ways = 11, time.Duration(n*float64(time.Second)), []string{"", "without turns"}
	}
	for _, none := range ways {
		dir := filepath.Join(t.TempDir(), "data")
		all := crowd(t, dir, programs, span, none)
		st, err := folder(t.Context(), dir)
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(st.CheckSound(t.Context()), storetest.CheckWhole(t.Context(), st)); err != nil {
			t.Error(err)
		}
		var waits []time.Duration
		var shares []int
		for i, of := range all {
			for _, w := range of {
				waits = append(waits, w.Waited)
			}
			if i > 0 {
				shares = append(shares, len(of))
			}
			chain, err := st.Load(t.Context(), fmt.Sprint("J-", i), 0)
			if err != nil || len(of) > 0 && of[len(of)-1].Seq > int64(len(chain)) {
				t.Errorf("program %d: %v acknowledged, and there are %d events: %v", i, of[len(of)-1], len(chain), err)
			}
		}
		slices.Sort(shares)
		between := gaps(t, st)
		often := between[len(between)*99/100]
		t.Logf("%d programs for %v %s: %d changes of one that was killed, then %v; %s; changes of others between two: 99 of 100 at most %d, all at most %d",
			programs, span, none, len(all[0]), shares, percentiles(waits), often, between[len(between)-1])
		if none == "" && runtime.GOOS == "linux" && (2*shares[0] < shares[len(shares)-1] || often > 4*programs) {
			t.Error("they do not take turns")
		}
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	}
}
