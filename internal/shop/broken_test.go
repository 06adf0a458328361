package shop

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"fettle/internal/diag"
)

// goodFiles is the folder testdata/good.
func goodFiles(t testing.TB) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	dir := os.DirFS("testdata/good")
	err := fs.WalkDir(dir, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		files[p], err = fs.ReadFile(dir, p)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// TestBroken runs every file of testdata/broken. A file changes the good
// folder and lists the exact problems that must be told; a new file is a new
// test. Its sections are
//
//	-- replace in FILE --   text that is in the file once
//	-- by --                what stands there instead
//	-- file FILE --         a whole file
//	-- without FILE --      the file is not there
//	-- want --              the problems, a line each
func TestBroken(t *testing.T) {
	names, err := filepath.Glob("testdata/broken/*.txt")
	if err != nil || len(names) < 8 {
		t.Fatalf("%d broken shops, %v", len(names), err)
	}
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txt"), func(t *testing.T) {
			archive, err := txtar.ParseFile(name)
			if err != nil {
				t.Fatal(err)
			}
			files, want := edit(t, goodFiles(t), archive)
			b, err := Decode("shop.yaml", files["shop.yaml"])
			if got := problemText(t, err); got != want {
				t.Errorf("%s\ngot:\n%swant:\n%s", archive.Comment, got, want)
			}
			if err != nil && b != nil {
				t.Error("a shop came with the problems")
			}
		})
	}
}

// edit carries out the sections of a broken file.
func edit(t *testing.T, files map[string][]byte, a *txtar.Archive) (map[string][]byte, string) {
	t.Helper()
	want, replaceIn, old := "", "", ""
	for _, f := range a.Files {
		verb, name, _ := strings.Cut(f.Name, " ")
		text := string(f.Data)
		switch verb {
		case "replace":
			replaceIn, old = strings.TrimPrefix(name, "in "), strings.TrimSuffix(text, "\n")
		case "by":
			content := string(files[replaceIn])
			if strings.Count(content, old) != 1 {
				t.Fatalf("%q is not once in %s", old, replaceIn)
			}
			files[replaceIn] = []byte(strings.Replace(content, old, strings.TrimSuffix(text, "\n"), 1))
		case "file":
			files[name] = f.Data
		case "without":
			delete(files, name)
		case "want":
			want = text
		default:
			t.Fatalf("unknown section %q", f.Name)
		}
	}
	if want == "" {
		t.Fatal("no section 'want'")
	}
	return files, want
}

func problemText(t *testing.T, err error) string {
	t.Helper()
	if err == nil {
		return ""
	}
	var problems diag.Problems
	if !errors.As(err, &problems) {
		t.Fatalf("the error is %T, not Problems", err)
	}
	return problems.Error() + "\n"
}

func TestGoodFolder(t *testing.T) {
	if _, err := Decode("shop.yaml", goodFiles(t)["shop.yaml"]); err != nil {
		t.Fatalf("\n%v", err)
	}
}
