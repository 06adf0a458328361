package job

import (
	"fmt"
	"reflect"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/ledger"
)

// Chain writes events as the entries of a new chain, all at the same time (in
// ledger.TimeForm) and by the same person.
func Chain(events []Event, at, by string) (ledger.Chain, error) {
	return Extend(nil, events, at, by)
}

// Extend adds events to a chain; the chain given is not changed.
func Extend(c ledger.Chain, events []Event, at, by string) (ledger.Chain, error) {
	out := slices.Grow(slices.Clone(c), len(events))
	for _, e := range events {
		if want := eventType(e.Kind); want == nil || reflect.TypeOf(e.Data) != want {
			return nil, &diag.Error{Kind: diag.Invalid, Op: "job.Extend", Subject: string(e.Kind),
				Msg: fmt.Sprintf("data of type %T do not belong to this kind of event", e.Data)}
		}
		next, err := out.Next(at, by, string(e.Kind), doc.Encode(e.Data))
		if err != nil {
			return nil, err
		}
		out = append(out, next)
	}
	return out, nil
}

// Events reads the events of a chain. It does not verify the chain: that is
// ledger.Chain.Verify.
func Events(c ledger.Chain) ([]Event, error) {
	out := make([]Event, len(c))
	for i, entry := range c {
		e, err := DecodeEvent(EventKind(entry.What), []byte(entry.Payload))
		if err != nil {
			return nil, &diag.Error{Kind: diag.KindOf(err), Op: "job.Events",
				Subject: fmt.Sprintf("event %d (%s)", i+1, entry.What), Msg: err.Error(), Err: err}
		}
		out[i] = e
	}
	return out, nil
}

// DecodeEvent reads the data of one event from JSON or YAML.
func DecodeEvent(k EventKind, payload []byte) (Event, error) {
	t := eventType(k)
	if t == nil {
		return Event{}, &diag.Error{Kind: diag.Unsupported, Op: "job.DecodeEvent", Subject: string(k),
			Msg: "this program does not know events of this kind", Hint: "use a newer release"}
	}
	v := reflect.New(t)
	if _, problems := doc.Decode(string(k), payload, v.Interface()); len(problems) > 0 {
		return Event{}, problems
	}
	return Event{k, v.Elem().Interface()}, nil
}
