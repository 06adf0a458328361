package job

import (
	"strings"
	"testing"
)

// A name that some computer takes for another place, a device or another file is none of the
// job's folder. The names of devices are from memory (Naming Files, Paths, and Namespaces).
func TestNamesOfFilesInTheFolder(t *testing.T) {
	for name, want := range map[string]string{
		"a.jpg": "", "photos/a b.jpg": "", "a/b/c.d.e": "", "com.jpg": "", "com10.jpg": "", "console": "", "lpt": "", "x-com1": "", "com1x.jpg": "", "com1-2": "",
		"/a":  "it begins at the root of the computer",
		`a\b`: "it holds one of", "c:a": "it holds one of", "a*": "it holds one of", "a?": "it holds one of", `a"`: "it holds one of", "a<": "it holds one of", "a>": "it holds one of", "a|": "it holds one of",
		"": "a name between slashes is empty", "a//b": "a name between slashes is empty", "a/": "a name between slashes is empty",
		".": "it holds .", "a/../b": "it holds ..", "./a": "it holds .",
		".a": ".a is a hidden file", "a/.b/c": ".b is a hidden file",
		"-a": "-a begins with a dash or a space", "a/ b": " b begins with a dash or a space",
		"a.": "a. ends in a dot or a space", "a /b": "a  ends in a dot or a space",
		"con": "con is a device on some computers", "a/NUL.txt": "NUL.txt is a device", "prn": "prn is a device", "aux.c": "aux.c is a device", "conin$": "conin$ is a device",
		"conout$": "conout$ is a device", "clock$": "clock$ is a device", "com1": "com1 is a device", "lpt9.tar.gz": "lpt9.tar.gz is a device", "COM0": "COM0 is a device", "com².x": "com².x is a device", "con .x": "con .x is a device",
	} {
		if got := notInside(name); (got == "") != (want == "") || !strings.HasPrefix(got, want) {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
	for name, fault := range map[string]bool{"../bodies/van": false, "van": false, "/van": true, `..\van`: true, "c:van": true} {
		c := &checker{s: &State{}}
		if c.file("body", name); (len(c.problems) > 0) != fault {
			t.Errorf("%q: %v", name, c.problems)
		}
	}
}

// Somebody whom the shop file does not name may have left: that is said unless a name is near.
func TestHintForAPersonWhoIsNotThere(t *testing.T) {
	for id, want := range map[string]string{"W1": "", Erased: "", "W3": `did you mean "W1"?`, "the boss": "people: "} {
		c := &checker{s: &State{}}
		c.person("author", id, known{list: []string{"W1", "W2"}, in: map[string]bool{"W1": true, "W2": true}})
		switch {
		case want == "" && len(c.problems) > 0, want != "" && len(c.problems) != 1:
			t.Errorf("%q: %v", id, c.problems)
		case want != "" && strings.HasPrefix(want, "did") && c.problems[0].Hint != want:
			t.Errorf("%q: %v", id, c.problems)
		case want == "people: " && !strings.HasSuffix(c.problems[0].Hint, "; somebody who has left stays in the shop file, with an absence ('absences')"):
			t.Errorf("%q: %v", id, c.problems)
		}
	}
	c := &checker{s: &State{}, hints: maxHints}
	if c.person("author", "W3", known{list: []string{"W1"}}); c.problems[0].Hint != "enter it first, or see whether the name is right; somebody who has left stays in the shop file, with an absence ('absences')" {
		t.Errorf("beyond the hints: %v", c.problems)
	}
}
