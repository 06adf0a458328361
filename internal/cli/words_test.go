package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/geom"
)

// Where a mesh is cut is read as it stands, or refused by the flag that is wrong.
func TestWordsOfACut(t *testing.T) {
	plane := app.CutPlane{Normal: geom.Vec{1, 0, -2}, OffsetMM: 2.5}
	for name, c := range map[string]struct {
		c    cutCmd
		want app.CutOptions
		told string
	}{
		"a plane":           {cutCmd{Unit: "mm", Plane: []string{"1, 0,-2,2.5"}}, app.CutOptions{Unit: "mm", Planes: []app.CutPlane{plane}}, ""},
		"two and a window":  {cutCmd{Plane: []string{"1,0,-2,2.5", "1,0,-2,2.5"}, Window: "1,2,3; 4,5,6"}, app.CutOptions{Planes: []app.CutPlane{plane, plane}, Window: &[2]geom.Vec{{1, 2, 3}, {4, 5, 6}}}, ""},
		"a curve":           {cutCmd{Along: "1,2,3;4,5,6; 7,8,9;", Outer: "0,0,1"}, app.CutOptions{Along: []geom.Vec{{1, 2, 3}, {4, 5, 6}, {7, 8, 9}}, Outer: geom.Vec{0, 0, 1}}, ""},
		"nothing":           {cutCmd{}, app.CutOptions{}, "--plane: is missing"},
		"plane and curve":   {cutCmd{Plane: []string{"1,0,0,1"}, Along: "1,2,3", Outer: "0,0,1"}, app.CutOptions{}, "--along: takes no planes and no window"},
		"window and curve":  {cutCmd{Window: "1,2,3; 4,5,6", Along: "1,2,3", Outer: "0,0,1"}, app.CutOptions{}, "--along: takes no planes and no window"},
		"a side alone":      {cutCmd{Plane: []string{"1,0,0,1"}, Outer: "0,0,1"}, app.CutOptions{}, "--outer: goes with --along"},
		"a curve alone":     {cutCmd{Along: "1,2,3"}, app.CutOptions{}, "--outer: goes with --along"},
		"a bad curve":       {cutCmd{Along: "1,2,3; 4,5", Outer: "0,0,1"}, app.CutOptions{}, `--along, point 2: "4,5" is not a point`},
		"two sides":         {cutCmd{Along: "1,2,3", Outer: "0,0,1; 0,0,2"}, app.CutOptions{}, "--outer: is one point"},
		"a bad side":        {cutCmd{Along: "1,2,3", Outer: "here"}, app.CutOptions{}, `--outer, point 1: "here" is not a point`},
		"three numbers":     {cutCmd{Plane: []string{"1,0,0"}}, app.CutOptions{}, "--plane 1,0,0: is not a plane"},
		"five numbers":      {cutCmd{Plane: []string{"1,0,0,1,1"}}, app.CutOptions{}, "is not a plane"},
		"beyond all bounds": {cutCmd{Plane: []string{"1,0,0,Inf"}}, app.CutOptions{}, "is not a plane"},
		"no number":         {cutCmd{Plane: []string{"1,0,0,NaN"}}, app.CutOptions{}, "is not a plane"},
		"no direction":      {cutCmd{Plane: []string{"0,0,0,1"}}, app.CutOptions{}, "has no direction"},
		"half a window":     {cutCmd{Plane: []string{"1,0,0,1"}, Window: "1,2,3"}, app.CutOptions{}, "--window: is not a box"},
		"a bad window":      {cutCmd{Plane: []string{"1,0,0,1"}, Window: "1,2,3; all"}, app.CutOptions{}, "--window: is not a box"},
	} {
		o, err := c.c.options()
		switch {
		case c.told != "":
			if err == nil || diag.KindOf(err) != diag.Usage || !strings.Contains(err.Error(), c.told) {
				t.Errorf("%s: %v", name, err)
			}
		case err != nil || fmt.Sprintf("%+v", noWindow(o)) != fmt.Sprintf("%+v", noWindow(c.want)) || (o.Window == nil) != (c.want.Window == nil) || o.Window != nil && *o.Window != *c.want.Window:
			t.Errorf("%s: %+v, %v", name, o, err)
		}
	}
}

func noWindow(o app.CutOptions) app.CutOptions { o.Window = nil; return o }

// Vertices are whole numbers from 0 on.
func TestWordsOfVertices(t *testing.T) {
	if v, err := numbers("0, 7,100"); err != nil || fmt.Sprint(v) != "[0 7 100]" {
		t.Errorf("%v, %v", v, err)
	}
	for _, s := range []string{"", "-1", "1.5", "0,,1", "x"} {
		if v, err := numbers(s); diag.KindOf(err) != diag.Usage || v != nil || !strings.Contains(err.Error(), "is not a vertex") {
			t.Errorf("%q: %v, %v", s, v, err)
		}
	}
}

// Folders of earlier jobs are named from the folder of the job; an argument is quoted where a shell
// would take it apart; asking ends with the fault where nobody answers any more.
func TestNamesForAReader(t *testing.T) {
	if got := strings.Join(fromJob("a/job", []string{"a/other", "a/job/in", "job", "a/job"}), " "); got != "../other in ../../job ." {
		t.Errorf("%s", got)
	}
	for arg, want := range map[string]string{"plain.yaml": "plain.yaml", "a b": "'a b'", "a;b": "'a;b'", "$x": "'$x'", "it's a": "it's a", "../x-1": "../x-1", "a*": "'a*'"} {
		if got := forShell(arg); got != want {
			t.Errorf("%s is %s", arg, got)
		}
	}
	fault, left := errors.New("fault"), errors.New("left")
	if leftOff(fmt.Errorf("x: %w", io.EOF), fault) != fault || leftOff(left, fault) != left {
		t.Error("asking ends with another error")
	}
	if got := DefaultCache(CacheOff) + DefaultCache("here"); got != "here" {
		t.Errorf("kept in %s", got)
	}
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	t.Setenv("HOME", os.Getenv("XDG_CACHE_HOME"))
	if got := DefaultCache(""); filepath.Base(got) != "fettle" || !filepath.IsAbs(got) {
		t.Errorf("kept in %s", got)
	}
	if v := ThisVersion("9.9"); !strings.HasPrefix(v, "9.9+") && !strings.HasPrefix(v, "9.9.") {
		t.Errorf("version %s", v)
	}
}

// Where a later file of a record cannot be written, the earlier ones are as they were and the new ones gone.
func TestFilesOfARecordArePutBack(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"job.yaml": "was", "readings.csv": "was too"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := openFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer f.close()
	changed := []app.NewFile{{Name: "job.yaml", Was: []byte("was"), Data: []byte("is")}, {Name: "new.csv", Data: []byte("is")}}
	for _, x := range changed {
		if err := f.write(x.Name, x.Data); err != nil {
			t.Fatal(err)
		}
	}
	if err := putBack(f, changed); err != nil {
		t.Fatal(err)
	}
	if got, err := os.ReadFile(filepath.Join(dir, "job.yaml")); err != nil || string(got) != "was" {
		t.Errorf("%q, %v", got, err)
	}
	if f.has("new.csv") {
		t.Error("what was new is there still")
	}
	for _, x := range []app.NewFile{{Name: "job.yaml", Was: []byte("wa")}, {Name: "job.yaml", Was: []byte("was so")}, {Name: "job.yaml"}, {Name: "readings.csv", Was: []byte("was")}} {
		if err := unchanged(f, x); diag.KindOf(err) != diag.Conflict {
			t.Errorf("%+v: %v", x, err)
		}
	}
	for _, x := range []app.NewFile{{Name: "job.yaml", Was: []byte("was")}, {Name: "none.csv"}} {
		if err := unchanged(f, x); err != nil {
			t.Errorf("%+v: %v", x, err)
		}
	}
}
