package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"fettle/internal/app"
	"fettle/internal/diag"
)

// questions asks a person at a terminal, one line an answer.
type questions struct {
	env Env
	in  *bufio.Reader
}

func (env Env) questions() *questions {
	in := env.Stdin
	if in == nil {
		in = strings.NewReader("")
	}
	return &questions{env, bufio.NewReader(in)}
}

// line reads a line; the command can be left meanwhile.
func (q *questions) line() (string, error) {
	type read struct {
		text string
		err  error
	}
	got := make(chan read, 1)
	go func() {
		text, err := q.in.ReadString('\n')
		got <- read{text, err}
	}()
	select {
	case r := <-got:
		if r.err != nil && r.text == "" {
			return "", r.err
		}
		return strings.TrimRight(r.text, "\r\n"), nil
	case <-q.env.context().Done():
		return "", context.Canceled
	}
}

// ask asks one question.
func (q *questions) ask(text string) (string, error) {
	fmt.Fprint(q.env.Stderr, text+" ")
	answer, err := q.line()
	return strings.TrimSpace(answer), err
}

// pasted reads a table: from a person until an empty line, otherwise to the end.
func (q *questions) pasted() ([]byte, error) {
	if q.env.Asking {
		fmt.Fprintln(q.env.Stderr, "Paste the table, its first line with the names of the columns; an empty line ends it.")
	}
	text := []byte{}
	for {
		line, err := q.line()
		switch {
		case errors.Is(err, io.EOF) || err == nil && q.env.Asking && strings.TrimSpace(line) == "":
			return text, nil
		case err != nil:
			return nil, err
		}
		if text = append(append(text, line...), '\n'); int64(len(text)) > app.MaxDocument {
			return nil, &diag.Error{Kind: diag.Denied, Op: "read", Subject: app.PastedTable, Msg: "is too large", Hint: "paste a table of control points"}
		}
	}
}

// asked is a question about a field of a draft.
type asked struct {
	field, text string
	answer      func(*app.BodyDraft, string)
	whole       bool // the question says all that the fault says
}

// bodyQuestions is what is asked, in this order.
var bodyQuestions = []asked{
	{"name", "What do people call the vehicle?", func(d *app.BodyDraft, s string) { d.Name = s }, true},
	{"source", "Where do the data come from, and under which licence does the shop hold them?", func(d *app.BodyDraft, s string) { d.Source = s }, true},
	{"revision", "Which revision of the data, as published?", func(d *app.BodyDraft, s string) { d.Revision = s }, true},
	{"load_state", "For which state are the point data: loaded (drive line in) or unloaded?", func(d *app.BodyDraft, s string) { d.LoadState = s }, true},
	{"currency", "Which currency are prices in (three capital letters)?", func(d *app.BodyDraft, s string) { d.Currency = s }, true},
	{"id", "Short name of the body (letters, digits, '-', '_', '.'):", func(d *app.BodyDraft, s string) { d.ID = s }, false},
	{"unit", "Unit of the lengths whose column does not say it (mm, cm, m, in):", func(d *app.BodyDraft, s string) { d.Unit = s }, false},
	{"decimal", "Has the table a decimal point or a decimal comma (point, comma)?", func(d *app.BodyDraft, s string) { d.Decimal = s }, false},
	{"tol", "The maker's tolerance for the points without one, with its unit ('3 mm'):", func(d *app.BodyDraft, s string) { d.Tol = s }, false},
	{"reference", "Which points does the maker nominate as reference points (three or more, commas between)?", func(d *app.BodyDraft, s string) { d.References = strings.Split(s, ",") }, false},
	{"wall", "Thickness of the casting's wall, with its unit ('4 mm'):", func(d *app.BodyDraft, s string) { d.Wall = s }, false},
	{"part", "Which part of the table is the casting?", func(d *app.BodyDraft, s string) { d.CastingPart = s }, false},
	{"price", "Price of a new casting ('1900.00 EUR'):", func(d *app.BodyDraft, s string) { d.Price = s }, false},
	{"skill", "Skill of who takes the parts off and puts them back, as the shop file calls it:", func(d *app.BodyDraft, s string) { d.Skill = s }, false},
}

// untilMade makes something of a draft, and asks a person for what it says is missing until it
// is made, or a fault is left that no answer mends.
func (q *questions) untilMade(d *app.BodyDraft, do func() (app.DraftedBody, error)) (app.DraftedBody, error) {
	if q.env.Asking && d.Points == "" && d.Pasted == nil && d.Parts == "" && len(d.Procedures) == 0 {
		if err := q.tables(d); err != nil {
			return app.DraftedBody{}, err
		}
	}
	before, told := "", map[string]bool{}
	for {
		made, err := do()
		missing := missingFields(err)
		if len(missing) == 0 || !q.env.Asking {
			return made, err
		}
		for _, m := range bodyQuestions {
			p := slices.IndexFunc(missing, func(p diag.Problem) bool { return p.Field == m.field })
			if p < 0 {
				continue
			}
			if !m.whole || told[m.field] {
				fmt.Fprintln(q.env.Stderr, wrapped(missing[p].Msg+"; "+missing[p].Hint+"."))
			}
			told[m.field] = true
			answer, e := q.ask(m.text)
			if e != nil {
				return made, leftOff(e, err)
			}
			m.answer(d, answer)
		}
		if before == err.Error() && before != "" {
			return made, err // the same again: no answer mends it
		}
		before = err.Error()
	}
}

// leftOff is why asking ended: the command was left, or nobody answers.
func leftOff(asking, fault error) error {
	if errors.Is(asking, io.EOF) {
		return fault
	}
	return asking
}

// missingFields are the faults that answers mend; none where another one stands beside them.
func missingFields(err error) []diag.Problem {
	var ps diag.Problems
	if !errors.As(err, &ps) {
		return nil
	}
	for _, p := range ps {
		if p.File != app.Asked || !slices.ContainsFunc(bodyQuestions, func(m asked) bool { return m.field == p.Field }) {
			return nil
		}
	}
	return ps
}

// tables asks for the files.
func (q *questions) tables(d *app.BodyDraft) error {
	points, err := q.ask("Table of control points (a file; - to paste it; nothing: there is none):")
	if err != nil {
		return err
	}
	if d.Points = filepath.ToSlash(points); points == pastedHere {
		d.Points = ""
		if d.Pasted, err = q.pasted(); err != nil {
			return err
		}
	}
	parts, err := q.ask("Table of parts (a file; nothing: there is none):")
	if err != nil {
		return err
	}
	d.Parts = filepath.ToSlash(parts)
	procedure, err := q.ask("Procedure of the casting (a file; nothing: there is none):")
	if procedure != "" {
		d.Procedures = []string{filepath.ToSlash(procedure)}
	}
	return err
}

// wrapped breaks a text into lines of a terminal; those after the first begin under its words.
func wrapped(text string) string {
	var b strings.Builder
	col := 0
	for w := range strings.FieldsSeq(text) {
		n := utf8.RuneCountInString(w)
		switch {
		case col == 0:
		case col+1+n > width:
			b.WriteString("\n  ")
			col = 2
		default:
			b.WriteString(" ")
			col++
		}
		b.WriteString(w)
		col += n
	}
	return b.String()
}
