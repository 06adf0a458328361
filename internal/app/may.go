package app

import (
	"context"
	"strings"

	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/explain"
	"fettle/internal/halt"
	"fettle/internal/unit"
)

// May is what a procedure file alone says to a question about one spot, of which is known
// what is given as NAME=VALUE.
func (a *App) May(ctx context.Context, file string, known []string, on unit.Date) (decide.Ruled, error) {
	return asked(ctx, a, file, known, on, decide.Single.Rule)
}

// MayTable is all that a procedure file says of a zone.
func (a *App) MayTable(ctx context.Context, file string, known []string, on unit.Date) (decide.RuleTable, error) {
	return asked(ctx, a, file, known, on, decide.Single.Table)
}

// asked asks a procedure file.
func asked[T any](ctx context.Context, a *App, file string, known []string, on unit.Date, answer func(decide.Single) (T, error)) (T, error) {
	return while(ctx, func(w *halt.Work) (out T, err error) {
		said, err := saidOf(known)
		if err != nil {
			return out, err
		}
		p, err := a.readProcedure(file)
		if err != nil {
			return out, err
		}
		w.Step()
		return answer(decide.Single{Procedure: *p, Said: said, On: on})
	})
}

// MayText is the answer to a single question, for a terminal.
func (a *App) MayText(r decide.Ruled, col Column) string { return explain.Ruled(r, col) }

// MayTableText is a table, for a terminal.
func (a *App) MayTableText(t decide.RuleTable, col Column) string { return explain.RuleTable(t, col) }

func saidOf(known []string) ([]decide.Said, error) {
	var out []decide.Said
	for _, k := range known {
		name, value, ok := strings.Cut(k, "=")
		if !ok {
			return nil, &diag.Error{Kind: diag.Usage, Op: "read what is known", Subject: k, Msg: "has no '='", Hint: "write NAME=VALUE, for example zones=RAIL-L, with quotes around what holds blanks"}
		}
		out = append(out, decide.Said{Name: strings.TrimSpace(name), Value: value})
	}
	return out, nil
}
