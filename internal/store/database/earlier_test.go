package database_test

import (
	"encoding/json"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"fettle/internal/store/storetest"
)

var keep = flag.String("keep-folder", "", "name of a release: makes testdata/folders/NAME, a data folder of this version")

const earlierFolders, wroteFile = "testdata/folders", "wrote.json"

// TestKeepsFolder makes the folder of a release, when it is asked to.
func TestKeepsFolder(t *testing.T) {
	if *keep == "" {
		return
	}
	dir := filepath.Join(earlierFolders, *keep)
	st, err := folder(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	w := work(t.Context(), st, storetest.NewMixed("kept", 4), 16)
	text, err := json.MarshalIndent(w.made, "", " ")
	if err = errors.Join(err, w.err, st.Close(), os.WriteFile(filepath.Join(dir, wroteFile), text, 0o644)); err != nil {
		t.Fatal(err)
	}
}

// TestEarlierFolders: the data folder of every earlier release opens with this program, which brings it to its version;
// everything that was acknowledged then is there, and nothing is found to be altered.
func TestEarlierFolders(t *testing.T) {
	all, err := os.ReadDir(earlierFolders)
	if err != nil || len(all) == 0 {
		t.Fatal("no folder is kept", err)
	}
	for _, e := range all {
		dir := t.TempDir()
		if err := os.CopyFS(dir, os.DirFS(filepath.Join(earlierFolders, e.Name()))); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(filepath.Join(dir, wroteFile))
		var wrote []storetest.Wrote
		if err = errors.Join(err, json.Unmarshal(text, &wrote)); err != nil || len(wrote) < 10 {
			t.Fatalf("%s: %d writes: %v", e.Name(), len(wrote), err)
		}
		st, err := folder(t.Context(), dir)
		if err != nil {
			t.Fatalf("%s: %v", e.Name(), err)
		}
		faults, err := st.Database.Verify(t.Context())
		if err = errors.Join(err, st.CheckSound(t.Context()), storetest.CheckWhole(t.Context(), st), storetest.CheckWrote(t.Context(), st, wrote), st.Close()); err != nil || len(faults) > 0 {
			t.Errorf("%s: %v %v", e.Name(), faults, err)
		}
	}
}
