package job

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
)

// With is the job with records and readings put at the end of their lists, and Changed ones in
// their place; s stays as it is. Faults of it are told as of job.yaml, and of the rows of
// readings.csv that the readings would be.
func (s *State) With(readings []Reading, records ...any) (*State, error) {
	out := *s
	out.at, out.places, out.later = doc.Positions{}, nil, nil
	out.Readings = slices.Concat(s.Readings, readings)
	for i := range out.Readings {
		out.Readings[i].Line = i + 2 // behind the header
	}
	v := reflect.ValueOf(&out).Elem()
	for _, r := range records {
		list, at, item := ListOf(r), -1, r
		if x, ok := r.(Changed); ok {
			list, at, item = x.List, x.At, x.Item
		}
		k, ok := sortOfData(item)
		if !ok || list == "" || k.list != list {
			return nil, noList(item)
		}
		f := v.Field(fieldOf(list))
		own := reflect.AppendSlice(reflect.MakeSlice(f.Type(), 0, f.Len()+1), f)
		if f.Set(own); at < 0 {
			f.Set(reflect.Append(own, reflect.ValueOf(full(k, item))))
		} else {
			f.Index(at).Set(reflect.ValueOf(full(k, item)))
		}
	}
	return &out, nil
}

func noList(record any) error {
	return &diag.Error{Kind: diag.Internal, Op: "job.With", Subject: reflect.TypeOf(record).String(), Msg: "no list of the job holds records of this kind"}
}

func full(k sort, data any) any {
	if k.full != nil {
		return k.full(data)
	}
	return data
}

// Recording is the events that put records and readings on record, as somebody does who has
// seen the job as it is: new ones, Changed ones in their place, and readings behind those of their
// set-up.
func (s *Stored) Recording(readings []Reading, records ...any) ([]Event, error) {
	now := s.State()
	var out []Event
	for _, r := range records {
		e := Event{Data: r}
		if x, ok := r.(Changed); ok {
			if x.At < 0 || x.At >= len(now.places[x.List]) {
				return nil, noList(x.Item)
			}
			e = Event{Data: x.Item, Of: now.places[x.List][x.At].of}
		}
		k, ok := sortOfData(e.Data)
		if !ok {
			return nil, noList(e.Data)
		}
		e.Kind = k.kind
		e.Seen = s.Newest(e.About())
		out = append(out, e)
	}
	for _, e := range bySetup(readings) {
		r := e.Data.(Readings)
		if was, ok := s.Record(e.About()); ok {
			r.Readings = slices.Concat(was.(Readings).Readings, r.Readings)
		}
		out = append(out, Event{Kind: e.Kind, Data: r, Seen: s.Newest(e.About())})
	}
	return out, nil
}

// DecodeRecord reads one record as its event takes it, from YAML or JSON. The name says of
// which sort it is, and which record: its own identity, its number, or, with the sort alone, a new
// one. It returns where each field stands.
func DecodeRecord(of RecordName, file string, data []byte) (Event, doc.Positions, error) {
	word, name, named := strings.Cut(string(of), "/")
	i, ok := byWord[word]
	if !ok || sorts[i].kind == JobOpened || sorts[i].list == "" && named {
		return Event{}, doc.Positions{}, &diag.Error{Kind: diag.NotFound, Op: "record", Subject: string(of), Msg: "there is no such sort of record", Hint: doc.DidYouMean(word, words())}
	}
	k := sorts[i]
	v := reflect.New(k.data)
	pos, problems := doc.Decode(file, data, v.Interface())
	if len(problems) > 0 {
		return Event{}, pos, problems
	}
	e := Event{Kind: k.kind, Data: v.Elem().Interface()}
	if own := k.of(e.Data); own == "" && named {
		e.Of = of
		if of.number() == 0 {
			return e, pos, diag.Problems{pos.Problem("", fmt.Sprintf("records of this sort have no identity but a number, and %q is none", name), "give the sort alone for a new one, or a number as in "+string(k.numbered(1)))}
		}
	} else if named && own != of {
		return e, pos, diag.Problems{pos.Problem("", fmt.Sprintf("this is %s, and %s was to be recorded", own, of), "record it under its own name")}
	}
	return e, pos, nil
}

// words are the words of the sorts that a person records.
func words() []string {
	var out []string
	for _, k := range sorts {
		if k.kind != JobOpened {
			out = append(out, k.word)
		}
	}
	return out
}

// EncodeRecord writes a record as DecodeRecord reads it.
func EncodeRecord(data any) []byte { return doc.EncodeYAML(data) }
