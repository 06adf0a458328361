package cli

import (
	"bytes"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/halt"
)

// What is being done is told in words on one line that is written over, with which part of how
// many where there are several, and once for all that is the same; then the line is taken away.
func TestWorkIsToldOnOneLine(t *testing.T) {
	var bar bytes.Buffer
	env := Env{Terminal: true, bar: &bar}
	ctx, clear := env.work()
	err := halt.Do(ctx, func(w *halt.Work) {
		w.Begin(app.Measuring)
		w.Begin(app.Drawing)
		w.Part(0, 3)
		w.Part(0, 3)
		w.Part(2, 3)
		w.Begin(app.Replays)
		w.Part(0, 1)
	})
	if err != nil {
		t.Fatal(err)
	}
	clear()
	lines := strings.Split(bar.String(), "\r")
	for i, l := range lines {
		if n := len([]rune(l)); n != 0 && n < 60 {
			t.Errorf("line %q of %d characters leaves some of the one before", l, n)
		}
		lines[i] = strings.TrimSpace(l)
	}
	const want = "|… which points have moved|… drawing|… drawing, 1 of 3|… drawing, 3 of 3|… job||"
	if got := strings.Join(lines, "|"); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	bar.Reset()
	ctx, clear = Env{bar: &bar}.work()
	if err := halt.Do(ctx, func(w *halt.Work) { w.Begin(app.Drawing) }); err != nil {
		t.Fatal(err)
	}
	if clear(); bar.Len() > 0 {
		t.Errorf("told in a pipe: %q", bar.String())
	}
}
