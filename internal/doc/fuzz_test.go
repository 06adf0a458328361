package doc

import (
	"path/filepath"
	"reflect"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
)

func seeds(f *testing.F, ending string) {
	names, err := filepath.Glob("testdata/broken/*.txt")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range names {
		a, err := txtar.ParseFile(name)
		if err != nil {
			f.Fatal(err)
		}
		if in := a.Files[0]; filepath.Ext(in.Name) == ending {
			f.Add(in.Data)
		}
	}
}

// FuzzDecode: nothing panics, and what was read, written and read again is the
// same.
func FuzzDecode(f *testing.F) {
	seeds(f, ".yaml")
	f.Add([]byte(full))
	f.Add([]byte(`{"name": "x", "count": 1, "at": [1, 2, 3], "notes": {"a": "b"}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var first, second recipe
		if _, p := Decode("r", data, &first); len(p) > 0 {
			return
		}
		text := EncodeYAML(first)
		if _, p := Decode("r", text, &second); len(p) > 0 || !reflect.DeepEqual(first, second) {
			t.Errorf("%s\n%v\nfirst  %+v\nsecond %+v", text, p.Error(), first, second)
		}
	})
}

// FuzzDecodeCSV: the same for tables.
func FuzzDecodeCSV(f *testing.F) {
	seeds(f, ".csv")
	f.Add([]byte("id,x_mm,price,ok\n\"a,\"\"b\",-1.5,3 EUR,yes\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		rows, lines, p := DecodeCSV[cell]("t", data)
		if len(p) > 0 {
			return
		}
		if len(rows) != len(lines) {
			t.Fatalf("%d rows, %d lines", len(rows), len(lines))
		}
		text := EncodeCSV(rows)
		again, _, p := DecodeCSV[cell]("t", text)
		if len(p) > 0 || !reflect.DeepEqual(rows, again) {
			t.Errorf("%q\n%v\nfirst  %+v\nsecond %+v", text, p.Error(), rows, again)
		}
	})
}
