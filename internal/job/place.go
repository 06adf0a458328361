package job

import (
	"fmt"
	"path"
	"slices"
	"strings"
)

// document checks the name of the body or shop: of a stored job by its content, in a file a
// path, as in the chain of an earlier release.
func (c *checker) document(at, name string) {
	if _, ok := NamedHash(name); !ok || c.s.at.File() != "" {
		c.file(at, name)
	}
}

// file checks a path written in the job to a document that may lie elsewhere.
func (c *checker) file(at, p string) {
	if path.IsAbs(p) || strings.ContainsAny(p, `\:`) {
		c.fault(at, fmt.Sprintf("%q is not a path relative to this file", p), "write it with slashes, for example ../bodies/van")
	}
}

// inside checks a path to a file that has to lie in the folder of the job. What
// one computer takes for a way out, a device or another name, none may be given:
// a job is opened on many.
func (c *checker) inside(at, p string) {
	if why := notInside(p); why != "" {
		c.fault(at, fmt.Sprintf("%q is not the name of a file in the job's folder: %s", p, why), "put the file into the job's folder and name it with slashes, for example evidence/photo.jpg")
	}
}

// notInside is why a path may lead out of its folder, or to anything but a file
// there; empty when it does not.
func notInside(p string) string {
	switch {
	case path.IsAbs(p):
		return "it begins at the root of the computer"
	case strings.ContainsAny(p, `\:*?"<>|`):
		return `it holds one of \ : * ? " < > |`
	}
	for _, part := range strings.Split(p, "/") {
		switch {
		case part == "":
			return "a name between slashes is empty"
		case part == "." || part == "..":
			return "it holds " + part
		case strings.HasPrefix(part, "."):
			return part + " is a hidden file"
		case strings.HasPrefix(part, "-") || strings.HasPrefix(part, " "):
			return part + " begins with a dash or a space"
		case strings.HasSuffix(part, ".") || strings.HasSuffix(part, " "):
			return part + " ends in a dot or a space"
		case isDevice(part):
			return part + " is a device on some computers"
		}
	}
	return ""
}

// isDevice says that Windows takes a name for a device, with any ending (Naming
// Files, Paths, and Namespaces, Microsoft's documentation of Win32; from memory).
func isDevice(name string) bool {
	stem, _, _ := strings.Cut(strings.ToUpper(name), ".")
	stem = strings.TrimRight(stem, " ")
	if slices.Contains([]string{"CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$", "CLOCK$"}, stem) {
		return true
	}
	rest, com := strings.CutPrefix(stem, "COM")
	if !com {
		rest, com = strings.CutPrefix(stem, "LPT")
	}
	return com && slices.Contains([]string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "¹", "²", "³"}, rest)
}
