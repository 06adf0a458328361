package database_test

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"testing"
	"time"

	"fettle/internal/store/datafolder"
	"fettle/internal/store/storetest"
)

// times is how often something is tried: few times, or FETTLE_FAULTS parts of a thousand of many.
func times(t *testing.T, few, many int) int {
	t.Helper()
	s := os.Getenv("FETTLE_FAULTS")
	if s == "" {
		return few
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatalf("FETTLE_FAULTS: %v", err)
	}
	return max(few, many*n/2100)
}

// percentiles is how long something took.
func percentiles(took []time.Duration) string {
	if len(took) == 0 {
		return "none"
	}
	slices.Sort(took)
	at := func(p int) time.Duration { return took[min(len(took)-1, len(took)*p/100)].Round(10 * time.Microsecond) }
	return fmt.Sprintf("p50 %v, p99 %v, longest %v", at(50), at(99), took[len(took)-1].Round(10*time.Microsecond))
}

// folder opens a data folder, and makes it where there is none.
func folder(ctx context.Context, dir string) (*datafolder.Store, error) {
	none := func(string) (string, bool) { return "", false }
	return datafolder.Open(ctx, dir, true, datafolder.World{Lookup: none, Now: time.Now, Program: "test"})
}

// said is what a writer says before it makes a write, and after it was acknowledged.
type said struct {
	Begins *storetest.Write `json:",omitempty"`
	Made   *storetest.Wrote `json:",omitempty"`
}

// childDir names the folder for the program that TestKilled starts and kills.
const childDir, childSeed = "FETTLE_TEST_KILLED_DIR", "FETTLE_TEST_KILLED_SEED"

// TestKilledWriter is that program; otherwise it does nothing.
func TestKilledWriter(t *testing.T) {
	dir := os.Getenv(childDir)
	if dir == "" {
		return
	}
	seed, err := strconv.ParseUint(os.Getenv(childSeed), 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	st, err := folder(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	out := os.NewFile(3, "said")
	tell := func(s said) {
		line, err := json.Marshal(s)
		if err == nil {
			_, err = out.Write(append(line, '\n'))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for m := storetest.NewMixed(fmt.Sprint("life", seed), seed); ; {
		w := m.Next()
		tell(said{Begins: &w})
		made, err := w.Make(t.Context(), st)
		if err != nil {
			t.Fatal(err)
		}
		m.Made(made)
		tell(said{Made: &made})
	}
}

// life starts a program that writes, kills it after a while, and is what it said.
func life(t *testing.T, dir string, seed uint64, draw *rand.Rand) (made []storetest.Wrote, last *storetest.Write) {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	child := exec.Command(os.Args[0], "-test.run=^TestKilledWriter$", "-test.timeout=1m")
	child.Env = append(os.Environ(), childDir+"="+dir, fmt.Sprint(childSeed, "=", seed))
	child.ExtraFiles = []*os.File{w}
	err = child.Start()
	if err = errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	kill := func() {
		if err := child.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
			t.Error(err)
		}
	}
	// One in eight is killed while it opens the store, the others at any moment of their writes.
	wait, after := time.Duration(draw.IntN(20_000))*time.Microsecond, draw.IntN(24)
	if opens := draw.IntN(8) == 0; opens {
		time.AfterFunc(3*wait, kill)
		after = -1
	}
	in := bufio.NewReader(r)
	for {
		line, err := in.ReadBytes('\n')
		if errors.Is(err, io.EOF) { // a line that was begun says nothing
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		var s said
		if err := json.Unmarshal(line, &s); err != nil {
			t.Fatalf("%v: %s", err, line)
		}
		if last = s.Begins; s.Made != nil {
			made = append(made, *s.Made)
		} else if len(made) == after {
			time.AfterFunc(wait, kill)
		}
	}
	if err := child.Wait(); child.ProcessState.ExitCode() != -1 {
		t.Fatalf("the program was not killed, but ended: %v", err)
	}
	return made, last
}

// TestKilled kills a program that makes mixed writes: 25 times, or as FETTLE_FAULTS says. Whenever that is, what it
// had acknowledged is there, nothing is there by half, and the write that it was at can be made again as it
// was. Each folder is killed 20 times.
func TestKilled(t *testing.T) {
	kills := times(t, 25, 1000)
	draw := rand.New(rand.NewPCG(5, 5))
	var took []time.Duration
	var all []storetest.Wrote
	dir, acknowledged := t.TempDir(), 0
	for n := range kills {
		if n%20 == 19 {
			dir, all = t.TempDir(), nil
		}
		made, last := life(t, dir, uint64(n), draw)
		acknowledged += len(made)
		all = append(all, made...)
		began := time.Now()
		st, err := folder(t.Context(), dir)
		if err != nil {
			t.Fatalf("kill %d: %v", n, err)
		}
		if _, err := st.List(t.Context(), "", 1); err != nil {
			t.Fatalf("kill %d: %v", n, err)
		}
		took = append(took, time.Since(began))
		err = errors.Join(st.CheckSound(t.Context()), storetest.CheckWhole(t.Context(), st), storetest.CheckWrote(t.Context(), st, all))
		if err == nil && last != nil {
			var again storetest.Wrote
			if again, err = last.Make(t.Context(), st); err == nil {
				all = append(all, again)
				err = storetest.CheckWrote(t.Context(), st, []storetest.Wrote{again})
			}
		}
		if err = errors.Join(err, st.Close()); err != nil {
			t.Fatalf("kill %d, with %d writes acknowledged: %v", n, len(made), err)
		}
	}
	t.Logf("%d kills, %d writes acknowledged, 0 lost, 0 by half; open again: %s", kills, acknowledged, percentiles(took))
	if acknowledged < 5*kills {
		t.Errorf("only %d writes were acknowledged", acknowledged)
	}
}
