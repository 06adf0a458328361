package job

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/ledger"
	"fettle/internal/unit"
)

// fileOf is the file of a job that was opened and changed twice, with its lines.
func fileOf(t *testing.T) ([]byte, []Line) {
	t.Helper()
	chain, now := chainOf(t, goodState(t))
	lines := Lines("open", chain)
	for _, key := range []string{"a", "b"} {
		v, _ := now.Record(OfVehicle)
		f, _ := now.Record("finding/F3")
		more, next, err := now.Write([]Event{{Kind: VehicleRecorded, Data: v, Seen: now.Newest(OfVehicle)}, {Kind: FindingRecorded, Data: f, Seen: now.Newest("finding/F3")}}, stamp(morning, "T2"))
		if err != nil {
			t.Fatal(err)
		}
		lines, now = append(lines, Lines(key, more)...), next
	}
	data, err := EncodeLines(lines)
	if err != nil {
		t.Fatal(err)
	}
	return data, lines
}

// TestFileCutAnywhere cuts the file after every so many bytes, and puts rubbish behind the
// cut as a disk may: what is read is the changes that are whole, and nothing of the others.
func TestFileCutAnywhere(t *testing.T) {
	data, lines := fileOf(t)
	for cut := len(data); cut >= 0; cut -= 97 {
		for _, tail := range []string{"", "\x00\x00", `{"seq":`} {
			got, whole, err := DecodeLines(append(slices.Clone(data[:cut]), tail...))
			if err != nil {
				if tail != "" && cut > 0 && data[cut-1] != '\n' {
					continue
				}
				t.Fatalf("cut at %d, %q behind: %v", cut, tail, err)
			}
			n := len(got)
			if !reflect.DeepEqual(got, lines[:n]) && n > 0 || n > 0 && got[n-1].Part != got[n-1].Of || whole > cut || n < len(lines) && bytes.Count(data[:cut], []byte("\n")) == len(lines) {
				t.Errorf("cut at %d: %d lines, %d bytes whole", cut, n, whole)
			}
			if want := bytes.Count(data[:whole], []byte("\n")); want != n {
				t.Errorf("cut at %d: %d lines in the %d bytes that are whole, %d read", cut, want, whole, n)
			}
		}
	}
}

// TestFileRefuses names the line of what is no event, or does not belong there.
func TestFileRefuses(t *testing.T) {
	_, lines := fileOf(t)
	write := func(l []Line) string {
		b, err := EncodeLines(l)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	n := len(lines)
	edit := func(k int, f func(*Line)) string {
		c := slices.Clone(lines)
		f(&c[k])
		return write(c)
	}
	for name, c := range map[string]struct {
		text string
		want string
	}{
		"no event":           {"{}x\n", "events.jsonl:1: more stands here than one event"},
		"rubbish":            {write(lines[:3]) + "rubbish\n", "events.jsonl:4: this is no event"},
		"a member of others": {`{"seq":1,"colour":"red"}` + "\n", "events.jsonl:1: this is no event: json: unknown field"},
		"no change":          {edit(n-1, func(l *Line) { l.Change = "" }), fmt.Sprintf("events.jsonl:%d: it does not say which change", n)},
		"half a change":      {write(lines[:n-3]) + write(lines[n-2:]), fmt.Sprintf("events.jsonl:%d: change \"a\" before it is not whole", n-2)},
		"the second half":    {write(lines[:n-2]) + write(lines[n-1:]), fmt.Sprintf("events.jsonl:%d: change \"b\" begins with its part 2", n-1)},
		"an empty line":      {write(lines[:3]) + "\n", "events.jsonl:4: this is no event"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := DecodeLines([]byte(c.text))
			var ps diag.Problems
			if !errors.As(err, &ps) || !strings.HasPrefix(strings.ReplaceAll(err.Error(), "line ", ""), c.want) && !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

// TestRepeats: a change sent again is known by its person, records and contents; one that
// differs in any is another.
func TestRepeats(t *testing.T) {
	_, now := chainOf(t, goodState(t))
	f, _ := now.Record("finding/F3")
	day := unit.Date{Year: 2026, Month: 3, Day: 9}
	events := []Event{{Kind: FindingRecorded, Data: f, Seen: now.Newest("finding/F3")}, {Kind: DecisionsReviewed, Data: Review{By: "T1", On: day, Text: "All right"}}}
	more, _, err := now.Write(events, stamp(morning, "T2"))
	if err != nil {
		t.Fatal(err)
	}
	without := slices.Clone(more)
	without[1].Beside = nil
	with := func(f func(e []Event)) []Event {
		c := slices.Clone(events)
		f(c)
		return c
	}
	for name, c := range map[string]struct {
		chain  ledger.Chain
		by     string
		events []Event
		want   bool
	}{
		"again":            {more, "T2", events, true},
		"after an erasure": {without, "T2", events, true},
		"by another":       {more, "T3", events, false},
		"fewer":            {more, "T2", events[:1], false},
		"another text":     {more, "T2", with(func(e []Event) { e[1].Data = Review{By: "T1", On: day, Text: "Not all right"} }), false},
		"another day": {more, "T2", with(func(e []Event) {
			e[1].Data = Review{By: "T1", On: unit.Date{Year: 2026, Month: 3, Day: 10}, Text: "All right"}
		}), false},
		"another day, erased": {without, "T2", with(func(e []Event) {
			e[1].Data = Review{By: "T1", On: unit.Date{Year: 2026, Month: 3, Day: 10}, Text: "All right"}
		}), false},
		"another number seen": {more, "T2", with(func(e []Event) { e[0].Seen++ }), false},
		"another record":      {more, "T2", with(func(e []Event) { e[1].Of = "review/#9" }), false},
		"another kind of it":  {more, "T2", with(func(e []Event) { e[0].Kind = RecordWithdrawn }), false},
	} {
		if got, err := Repeats(c.chain, c.by, c.events); err != nil || got != c.want {
			t.Errorf("%s: %v %v", name, got, err)
		}
	}
}
