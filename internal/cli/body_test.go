package cli

import (
	"bytes"
	"context"
	"io"
	"os"
	"strings"
	"testing"
	"time"
)

// answered runs a command whose questions are answered line by line.
func answered(t *testing.T, dir, answers string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	t.Chdir(dir)
	var out, errs bytes.Buffer
	code = Run(args, Env{Stdin: strings.NewReader(answers), Asking: true, Stdout: &out, Stderr: &errs, Now: time.Now, Version: "test", Bodies: &bodies})
	return code, out.String(), errs.String()
}

// TestBodyIsAskedFor: at a terminal what is missing is asked for, one question for each, again
// where the answer does not do; what the table says is not asked.
func TestBodyIsAskedFor(t *testing.T) {
	dir := t.TempDir()
	code, out, errs := answered(t, dir, strings.Join([]string{
		"-", "id\tx\ty\tz", "A\t0,5\t-450\t300", "B\t0,5\t450\t300", "C\t1500\t0\t330", "",
		"", "", // no parts, no procedure
		"My van", "Invented", "1", "unladen", "EUR", "furlong", "mm", "2 mm", "A,B,C",
		"unloaded",
	}, "\n")+"\n", "body", "new", "van")
	if code != Done || !strings.Contains(out, "mirror points by their places: A and B") {
		t.Fatalf("%d %s\n%s", code, out, errs)
	}
	for _, want := range []string{"Paste the table", "What do people call the vehicle?", "Unit of the lengths", "furlong is no unit of length; say mm, cm, m or in", "loaded"} {
		if !strings.Contains(errs, want) {
			t.Errorf("%q is not asked or told:\n%s", want, errs)
		}
	}
	for _, not := range []string{"decimal", "Thickness", "Price", "Short name"} {
		if strings.Contains(errs, not) {
			t.Errorf("%q is asked:\n%s", not, errs)
		}
	}
	text, err := os.ReadFile("van/points.csv")
	if want := "id,x_mm,y_mm,z_mm,tol_mm,mirror,reference\nA,0.5,-450,300,2,B,yes\nB,0.5,450,300,2,A,yes\nC,1500,0,330,2,,yes\n"; err != nil || string(text) != want {
		t.Errorf("%s %v", text, err)
	}
}

// TestAskingEnds: where nobody answers, where the same wrong answer comes again, and where an
// answer cannot mend the fault, the faults are told and nothing is written.
func TestAskingEnds(t *testing.T) {
	for name, c := range map[string]struct{ answers, want string }{
		"nobody":       {"", "EOF"},
		"leaves off":   {"t.csv\n\n\nMy van\n", "--source: is not said"},
		"same again":   {"t.csv\n\n\n" + strings.Repeat("\n", 40), "--name: is not said"},
		"no such file": {"u.csv\n\n\n", "u.csv: cannot be read"},
		"broken":       {"w.csv\n\n\nV\nS\n1\nloaded\nEUR\nmm\n2 mm\nA,B,C\n", "w.csv:2: column x"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			for file, text := range map[string]string{"t.csv": "id;x;y;z\nA;0;0;0\nB;9;0;0\nC;0;9;0\n", "w.csv": "id;x;y;z\nA;O;0;0\nB;9;0;0\nC;0;9;0\n"} {
				if err := os.WriteFile(dir+"/"+file, []byte(text), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			code, out, errs := answered(t, dir, c.answers, "body", "new", "van")
			if _, err := os.Stat("van"); code != Refused || err == nil || !strings.Contains(errs, c.want) {
				t.Errorf("%d %s\n%s", code, out, errs)
			}
		})
	}
}

// TestAskingCanBeStopped: while nobody answers, the command can be left.
func TestAskingCanBeStopped(t *testing.T) {
	t.Chdir(t.TempDir())
	ctx, stop := context.WithCancel(t.Context())
	in, hold := io.Pipe()
	defer hold.Close()
	time.AfterFunc(50*time.Millisecond, stop)
	var errs bytes.Buffer
	if code := Run([]string{"body", "new", "van"}, Env{Stdin: in, Asking: true, Stdout: io.Discard, Stderr: &errs, Now: time.Now, Version: "test", Stop: ctx}); code != Stopped {
		t.Errorf("%d %s", code, errs.String())
	}
	if left, err := os.ReadDir("."); err != nil || len(left) > 0 {
		t.Errorf("%v %v", left, err)
	}
}
