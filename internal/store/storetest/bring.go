package storetest

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// written is a job with a few changes, one of which erases, and its lines.
func (u *under) written(t *testing.T, id string) []job.Line {
	t.Helper()
	s := u.create(t, id)
	for i, e := range []job.Event{found(s, "D1", "Larger"), found(s, "D4", "Seen by a person"), {Kind: job.WorkplaceMeasured, Data: job.Climate{Temp: 16, Std: 1, By: "W1", On: day}}} {
		u.clock.add(time.Minute)
		if _, err := u.Append(u.ctx, id, app.Change{Key: fmt.Sprint("k", i), By: "p-2", Events: []job.Event{e}}, nil); err != nil {
			t.Fatal(err)
		}
	}
	s = u.read(t, id)
	erase := app.Change{Key: "erase", By: "p-1", Events: s.Erasing([]job.RecordName{"finding/D4"}, job.Erasure{On: day, Reason: "Asked for"})}
	if _, err := u.Append(u.ctx, id, erase, nil); err != nil {
		t.Fatal(err)
	}
	lines, err := u.Lines(u.ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	return lines
}

// brought: lines of one store begin the same job in another, to the byte; whoever sent a change before the move and
// sends it again after has the first answer; what contradicts is refused and nothing is written.
func brought(t *testing.T, u *under) {
	lines := u.written(t, "J1")
	head, err := u.Bring(u.ctx, "J2", lines)
	if err != nil {
		t.Fatal(err)
	}
	last := lines[len(lines)-1]
	if h, err := u.again().Head(u.ctx, "J1"); err != nil || h != (app.Head{Seq: last.Seq, Hash: last.Hash}) {
		t.Errorf("%+v %v", h, err)
	}
	if _, err := u.Head(u.ctx, "J8"); diag.KindOf(err) != diag.NotFound {
		t.Error(err)
	}
	if head != (app.Head{Seq: last.Seq, Hash: last.Hash}) {
		t.Errorf("%+v", head)
	}
	again, err := u.again().Lines(u.ctx, "J2")
	if err != nil || !reflect.DeepEqual(again, lines) {
		t.Errorf("%v\n%+v\nwant\n%+v", err, again, lines)
	}
	if _, err := u.Bring(u.ctx, "J2", lines); err != nil {
		t.Errorf("brought twice: %v", err)
	}
	was := u.read(t, "J2")
	first := opening("J1", "create-J1")
	if h, err := u.Create(u.ctx, "J2", first); err != nil || h.Seq != int64(len(first.Events)) {
		t.Errorf("a change sent again after the move: %v %v", h, err)
	}
	if _, err := u.Append(u.ctx, "J2", app.Change{Key: "k0", By: "p-2", Events: []job.Event{found(was, "D1", "Another")}}, nil); diag.KindOf(err) != diag.Conflict {
		t.Errorf("a key of another change: %v", err)
	}
	for name, bad := range map[string][]job.Line{
		"none":             {},
		"half a change":    lines[:1],
		"the first is out": lines[1:],
		"two the other way": func() []job.Line {
			l := slices.Clone(lines)
			n := len(l)
			l[n-1], l[n-2] = l[n-2], l[n-1]
			return l
		}(),
		"a text changed": changedLine(lines, func(l *job.Line) { l.Payload += " " }),
		"a key twice":    changedLine(lines, func(l *job.Line) { l.Change = "k1" }),
		"no key":         changedLine(lines, func(l *job.Line) { l.Change = "" }),
		"a person":       changedLine(lines, func(l *job.Line) { l.By = "p-9" }),
	} {
		if _, err := u.Bring(u.ctx, "J3", bad); err == nil {
			t.Errorf("%s was brought", name)
		}
		if _, err := u.again().Lines(u.ctx, "J3"); diag.KindOf(err) != diag.NotFound {
			t.Errorf("%s was refused, and is there: %v", name, err)
		}
	}
	shorter := lines[:len(lines)-1]
	_, err = u.Bring(u.ctx, "J2", shorter)
	u.refused(t, "J2", was, err, diag.Conflict)
	u.clock.add(time.Minute)
	if _, err := u.Append(u.ctx, "J2", app.Change{Key: "on", By: "p-3", Events: []job.Event{found(was, "D7", "It goes on")}}, nil); err != nil {
		t.Fatal(err)
	}
	_, err = u.Bring(u.ctx, "J2", lines)
	u.refused(t, "J2", u.read(t, "J2"), err, diag.Conflict)
}

// changedLine is lines with the last changed.
func changedLine(lines []job.Line, change func(*job.Line)) []job.Line {
	out := slices.Clone(lines)
	change(&out[len(out)-1])
	return out
}

func setAside(t *testing.T, u *under) {
	files := map[string][]byte{"as-written.yaml": []byte("# by hand\nid: J1\n"), "as-written.csv": []byte("a,b\n")}
	if got, err := u.Aside(u.ctx, "J1"); err != nil || len(got) != 0 {
		t.Errorf("%v %v", got, err)
	}
	for range 2 { // put aside twice it is there once
		if err := u.SetAside(u.ctx, "J1", files); err != nil {
			t.Fatal(err)
		}
	}
	u.create(t, "J1")
	if got, err := u.again().Aside(u.ctx, "J1"); err != nil || !reflect.DeepEqual(got, files) {
		t.Errorf("%q %v", got, err)
	}
	for _, other := range []map[string][]byte{{"as-written.yaml": []byte("other")}, {"as-written.yaml": files["as-written.yaml"]}} {
		if err := u.SetAside(u.ctx, "J1", other); diag.KindOf(err) != diag.Conflict {
			t.Errorf("%q: %v", other, err)
		}
	}
	for _, bad := range []map[string][]byte{{}, {"job.yaml": nil}, {"events.jsonl": nil}, {"a/b": nil}, {"..": nil}} {
		if err := u.SetAside(u.ctx, "J9", bad); err == nil {
			t.Errorf("%q was set aside", bad)
		}
	}
	if got, err := u.again().Aside(u.ctx, "J9"); err != nil || len(got) != 0 {
		t.Errorf("%q %v", got, err)
	}
}
