package api

import (
	"path"
	"regexp"
	"strings"

	"fettle/internal/diag"
)

// Cause is an error below another one or beside it, as far as it may be told.
type Cause struct {
	Kind   string       `json:"kind,omitempty" enum:"internal,invalid,not-found,conflict,denied,unsupported,integrity,unavailable,usage" doc:"What sort of error it is; none of faults alone."`
	Doing  string       `json:"doing,omitempty" doc:"What was being done."`
	Record string       `json:"record,omitempty" doc:"What it is about."`
	Detail string       `json:"detail,omitempty" doc:"What is wrong."`
	Hint   string       `json:"hint,omitempty" doc:"What would be right."`
	Remedy *diag.Remedy `json:"remedy,omitempty" doc:"What the program does about it."`
	Faults []Fault      `json:"faults,omitempty" doc:"Faults of documents."`
	Causes []Cause      `json:"causes,omitempty" doc:"What it comes of."`
}

// causesOf is what an error is made of. Of errors that are none of ours nothing is told: those are for the log.
func causesOf(err error) []Cause {
	switch e := err.(type) {
	case nil:
		return nil
	case *diag.Error:
		return []Cause{causeOf(e)}
	case diag.Problems:
		out := Cause{}
		for _, f := range e {
			out.Faults = append(out.Faults, faultOf(f))
		}
		if len(e) == 0 {
			return nil
		}
		return []Cause{out}
	case interface{ Unwrap() error }:
		return causesOf(e.Unwrap())
	case interface{ Unwrap() []error }:
		var out []Cause
		for _, x := range e.Unwrap() {
			out = append(out, causesOf(x)...)
		}
		return out
	}
	return nil
}

func causeOf(e *diag.Error) Cause {
	kind, known := kinds[e.Kind]
	if !known || e.Kind == diag.Internal {
		return Cause{Kind: kinds[diag.Internal].code, Doing: diag.Plain(e.Op), Detail: told["internal"], Causes: causesOf(e.Err)}
	}
	out := Cause{Kind: kind.code, Doing: diag.Plain(e.Op), Record: outside(e.Subject), Detail: outside(e.Msg), Hint: outside(e.Hint), Remedy: remedyOf(e.Remedy), Causes: causesOf(e.Err)}
	if out.Detail == "" && len(out.Causes) == 0 {
		if out.Detail = told[kind.code]; out.Detail == "" {
			out.Detail = "it could not be done; the log says why"
		}
	}
	return out
}

// faultsIn is all faults of some causes, in their order.
func faultsIn(all []Cause) (out []Fault) {
	for _, c := range all {
		out = append(append(out, c.Faults...), faultsIn(c.Causes)...)
	}
	return out
}

// inside are words of the machinery, which nobody but the log is told.
var inside = regexp.MustCompile(`(?i)sqlstate|sql logic|sqlite|constraint failed|\bselect\b.+\bfrom\b|\binsert +into\b|\bdelete +from\b|\bupdate\b.+\bset\b.+=|\bpragma\b|runtime error|goroutine [0-9]|\.go:[0-9]|\b0x[0-9a-f]{6,}`)

// places are paths of a machine, and addresses.
var places = regexp.MustCompile(`[A-Za-z][A-Za-z0-9+.-]*://[^\s"'),;]+|[A-Za-z]:\\[^\s"']*|\\\\[^\s"']+|(^|[\s"'(=:,])((?:/[^\s"'/),;:]+)+/?)`)

// outside is a text without what it says of the inside of the server: a path is the name at its end, and an address is left out. A text
// with words of the machinery is none.
func outside(text string) string {
	if inside.MatchString(text) {
		return ""
	}
	return diag.Plain(places.ReplaceAllStringFunc(text, func(found string) string {
		if strings.Contains(found, "://") {
			return "…"
		}
		at := strings.IndexAny(found, `/\`)
		before := found[:at]
		if strings.HasSuffix(before, ":") && len(before) == 2 { // a drive
			before = ""
		}
		return before + path.Base(strings.ReplaceAll(found[at:], `\`, "/"))
	}))
}

// ofCauses makes the first of some causes the problem itself.
func (p *Problem) ofCauses(all []Cause) {
	first := all[0]
	p.Kind, p.Doing, p.Record, p.Detail, p.Hint, p.Remedy, p.Causes, p.Beside = first.Kind, first.Doing, first.Record, first.Detail, first.Hint, first.Remedy, first.Causes, all[1:]
	p.Faults = faultsIn(all)
	if len(p.Faults) == 0 {
		return
	}
	f := p.Faults[0]
	p.File, p.Field, p.Line, p.Column = f.File, f.Field, f.Line, f.Column
	if first.Kind == "" {
		p.Detail, p.Hint, p.Remedy = f.Detail, f.Hint, f.Remedy
	}
}

// remedyOf is a remedy without what its arguments say of the inside.
func remedyOf(r *diag.Remedy) *diag.Remedy {
	if r == nil {
		return nil
	}
	out := &diag.Remedy{Do: r.Do}
	for _, x := range r.With {
		out.With = append(out.With, diag.Arg{Name: x.Name, Value: outside(x.Value)})
	}
	return out
}
