package job

import (
	"maps"
	"reflect"

	"fettle/internal/diag"
	"fettle/internal/doc"
)

// Added is job.yaml with records put at the end of their lists: Evidence,
// Asked, Answer, Told, Figure, Accepted, Review, Record, Check, Choice, Actual or
// Inspection. What the person wrote stays
// as it is, comments and all. The result has been read back: it is the job
// there was and these records, or an error.
func Added(files map[string][]byte, records ...any) ([]byte, error) {
	want, err := Decode(files)
	if err != nil {
		return nil, err
	}
	text := files[MainFile]
	for _, r := range records {
		if x, ok := r.(Changed); ok {
			f := reflect.ValueOf(want).Elem().Field(fieldOf(x.List))
			f.Index(x.At).Set(reflect.ValueOf(x.Item))
			if text, err = doc.ReplaceItem(text, x.List, x.At, x.Item); err != nil {
				return nil, err
			}
			continue
		}
		list := ListOf(r)
		if list == "" {
			return nil, &diag.Error{Kind: diag.Internal, Op: "job.Added", Subject: reflect.TypeOf(r).Name(), Msg: "no list of the job holds records of this kind"}
		}
		if text, err = doc.AppendItem(text, list, r); err != nil {
			return nil, err
		}
		f := reflect.ValueOf(want).Elem().Field(fieldOf(list))
		f.Set(reflect.Append(f, reflect.ValueOf(r)))
	}
	after := maps.Clone(files)
	after[MainFile] = text
	got, err := Decode(after)
	if err != nil {
		return nil, err
	}
	want.setDefaults()
	want.at, got.at = doc.Positions{}, doc.Positions{}
	if !reflect.DeepEqual(want, got) {
		return nil, &diag.Error{Kind: diag.Conflict, Op: "add to", Subject: MainFile, Msg: "the file is written in a way that cannot be added to safely; nothing was changed", Hint: "add the lines by hand"}
	}
	return text, nil
}

// Changed is an entry that takes the place of one that has no identity: a hazard that was made
// safe, an area that was seen since.
type Changed struct {
	List string
	At   int
	Item any
}

// ListOf is the name of the list that a record belongs to; empty for what no list holds.
func ListOf(record any) string {
	if k, ok := sortOfData(record); ok && k.kind != ReadingsTaken {
		return k.list
	}
	return ""
}

// Lengths is how many records each list of a job has that Added adds to, by its name.
func Lengths(s *State) map[string]int {
	out := map[string]int{}
	v := reflect.ValueOf(s).Elem()
	for i := range v.NumField() {
		if f := v.Field(i); f.Kind() == reflect.Slice {
			out[v.Type().Field(i).Tag.Get("doc")] = f.Len()
		}
	}
	return out
}

// fieldOf is the place of a list in the state.
func fieldOf(list string) int {
	t := reflect.TypeFor[State]()
	for i := range t.NumField() {
		if t.Field(i).Tag.Get("doc") == list {
			return i
		}
	}
	return -1
}
