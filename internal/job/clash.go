package job

import (
	"fmt"
	"maps"
	"slices"
	"strconv"

	"fettle/internal/doc"
	"fettle/internal/ledger"
)

// Clash is a record that two people have written at once: what both had before them, what one has written
// since, and what the other wanted to write.
type Clash struct {
	Of                 RecordName
	Seen, Now          int64  // number of the event that both had seen, and of the newest; 0: none
	By, At             string // who has written since, by the opaque name, and when; empty: nobody
	Base, Theirs, Mine any    // the record in each; nil where it is not there, or withdrawn
}

// ClashField is a field of a record in which the versions of a clash differ; empty where a version does not have it.
type ClashField struct{ Name, Base, Theirs, Mine string }

// Clashes is the records of events that somebody has written since their author read the job, whose
// events are c.
func Clashes(c ledger.Chain, events []Event) ([]Clash, error) {
	s, err := Read(c)
	if err != nil {
		return nil, err
	}
	was, err := Events(c)
	if err != nil {
		return nil, err
	}
	var out []Clash
	for _, e := range events {
		of := e.About()
		now := s.Newest(of)
		if of == "" || now == e.Seen {
			continue
		}
		x := Clash{Of: of, Seen: e.Seen, Now: now, Mine: recordIn(e)}
		x.Theirs, _ = s.Record(of)
		if now > 0 {
			x.By, x.At = c[now-1].By, c[now-1].At
		}
		if e.Seen > 0 && e.Seen <= int64(len(was)) && was[e.Seen-1].About() == of {
			x.Base = recordIn(was[e.Seen-1])
		}
		out = append(out, x)
	}
	return out, nil
}

// recordIn is the record that an event writes; nil where it takes one back or erases texts of it.
func recordIn(e Event) any {
	if e.Kind == RecordWithdrawn || e.Kind == TextsErased {
		return nil
	}
	return e.Data
}

// Fields is the fields in which the versions differ, in the order of their names.
func (c Clash) Fields() []ClashField {
	base, theirs, mine := fieldsOf(c.Base), fieldsOf(c.Theirs), fieldsOf(c.Mine)
	names := map[string]bool{}
	for _, of := range []map[string]string{base, theirs, mine} {
		for name := range of {
			names[name] = true
		}
	}
	var out []ClashField
	for _, name := range slices.SortedFunc(maps.Keys(names), doc.Natural) {
		f := ClashField{name, base[name], theirs[name], mine[name]}
		if f.Base != f.Theirs || f.Theirs != f.Mine {
			out = append(out, f)
		}
	}
	return out
}

// fieldsOf is the values of a record by the path of their fields.
func fieldsOf(data any) map[string]string {
	out := map[string]string{}
	if data != nil {
		addFields(out, "", doc.Encode(data))
	}
	return out
}

func addFields(to map[string]string, path string, v any) {
	switch v := v.(type) {
	case doc.Object:
		v.Each(func(name string, value any) {
			if path != "" {
				name = path + "." + name
			}
			addFields(to, name, value)
		})
	case []any:
		for i, x := range v {
			addFields(to, path+"["+strconv.Itoa(i)+"]", x)
		}
	default:
		to[path] = fmt.Sprint(v)
	}
}
