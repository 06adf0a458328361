package job

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/ledger"
)

// Line is an event in the file of a stored job's events: line n is event n. Those of one change
// follow one another, and count once all of them are there: a change that was broken off while it
// was written was never made.
type Line struct {
	ledger.Entry
	Change string `json:"change"` // key of the change it belongs to
	Part   int    `json:"part"`   // 1, 2, ... of the events of that change
	Of     int    `json:"of"`     // how many they are
}

// Lines is the entries of one change as lines of the file.
func Lines(key string, c ledger.Chain) []Line {
	out := make([]Line, len(c))
	for i, e := range c {
		out[i] = Line{e, key, i + 1, len(c)}
	}
	return out
}

// EncodeLines writes lines, each with its end.
func EncodeLines(lines []Line) ([]byte, error) { return encode(lines) }

// EncodeChain writes entries one on each line, the same in whatever store they were kept. Which of
// them were written together is for the store.
func EncodeChain(c ledger.Chain) ([]byte, error) { return encode(c) }

// encode writes items one on each line.
func encode[T any](items []T) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	for i, x := range items {
		if err := enc.Encode(x); err != nil {
			return nil, fmt.Errorf("line %d cannot be written: %w", i+1, err)
		}
	}
	return b.Bytes(), nil
}

// DecodeLines reads the file of events: the lines of whole changes, and how many bytes those
// have. What stands behind them is a change that was broken off.
func DecodeLines(data []byte) (lines []Line, whole int, err error) {
	read := 0
	for at := 0; at < len(data); {
		end := bytes.IndexByte(data[at:], '\n')
		if end < 0 {
			break
		}
		l, err := decodeLine(data[at : at+end])
		n := len(lines) + 1
		if err == nil {
			err = l.follows(lines)
		}
		if err != nil {
			return nil, 0, diag.Problems{{File: EventsFile, Line: n, Msg: err.Error(), Hint: "bring the file back from a backup; nothing in it is mended by hand"}}
		}
		lines = append(lines, l)
		if at += end + 1; l.Part == l.Of {
			read, whole = n, at
		}
	}
	return lines[:read], whole, nil
}

func decodeLine(text []byte) (Line, error) {
	var l Line
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&l); err != nil {
		return l, fmt.Errorf("this is no event: %w", err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return l, errors.New("more stands here than one event")
	}
	return l, nil
}

// follows says what keeps the line from being the one after others.
func (l Line) follows(lines []Line) error {
	var last Line
	if len(lines) > 0 {
		last = lines[len(lines)-1]
	}
	switch {
	case l.Change == "" || l.Part < 1 || l.Of < l.Part:
		return errors.New("it does not say which change it belongs to")
	case last.Part < last.Of && (l.Change != last.Change || l.Of != last.Of || l.Part != last.Part+1):
		return fmt.Errorf("change %q before it is not whole", last.Change)
	case last.Part == last.Of && l.Part != 1:
		return fmt.Errorf("change %q begins with its part %d", l.Change, l.Part)
	}
	return nil
}

// ChainOf is the entries of lines.
func ChainOf(lines []Line) ledger.Chain {
	out := make(ledger.Chain, len(lines))
	for i, l := range lines {
		out[i] = l.Entry
	}
	return out
}

// Repeats says that entries are those that a person would have made of events, so that a
// change that is sent twice is done once: the same person, records and contents. Of a text that was
// erased since nobody can say that it was another.
func Repeats(c ledger.Chain, by string, events []Event) (bool, error) {
	if len(c) != len(events) {
		return false, nil
	}
	was, err := Events(c)
	if err != nil {
		return false, err
	}
	for i, e := range events {
		same, err := repeats(was[i], e)
		if err != nil || !same || c[i].By != by {
			return false, err
		}
	}
	return true, nil
}

func repeats(was, e Event) (bool, error) {
	if was.Kind != e.Kind || was.Seen != e.Seen || e.About() != "" && e.About() != was.About() {
		return false, nil
	}
	old, err := Texts(was.Data)
	if err != nil {
		return false, err
	}
	n := 0
	data, err := withTexts(e.Data, func(text string) (string, error) {
		if n++; n <= len(old) && old[n-1] == Erased {
			return Erased, nil
		}
		return text, nil
	})
	if err != nil {
		return false, err
	}
	return sameData(was.Data, data)
}

// sameData says that two records are written alike.
func sameData(a, b any) (bool, error) {
	x, err := ledger.Canonical(doc.Encode(a))
	if err != nil {
		return false, err
	}
	y, err := ledger.Canonical(doc.Encode(b))
	return bytes.Equal(x, y), err
}

// Texts is every text of a person in a record.
func Texts(data any) ([]string, error) {
	var out []string
	_, err := withTexts(data, func(s string) (string, error) {
		out = append(out, s)
		return s, nil
	})
	return out, err
}
