package body

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path"
	"slices"
	"sort"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
)

// Names of the files of a body folder.
const (
	MainFile     = "body.yaml"
	PointsFile   = "points.csv"
	PartsFile    = "parts.csv"
	procedureDir = ProceduresFolder + "/"

	// ProceduresFolder holds the procedures, one revision a file.
	ProceduresFolder = "procedures"
)

// Decode reads a body folder: files maps slash paths relative to the folder to
// their content. The error is diag.Problems with every fault of every file;
// what holds the files together is judged once each of them can be read.
func Decode(files map[string][]byte) (*Body, error) {
	b := &Body{}
	problems := b.read(files)
	if len(problems) == 0 {
		b.setDefaults()
		problems = b.validate(files)
	}
	problems.Sort()
	if err := problems.OrNil(); err != nil {
		return nil, err
	}
	return b, nil
}

// read fills the body from its files.
func (b *Body) read(files map[string][]byte) diag.Problems {
	var problems diag.Problems
	main, ok := files[MainFile]
	if !ok {
		return diag.Problems{{File: MainFile, Msg: "the file is missing", Hint: "a body folder holds body.yaml, points.csv, parts.csv and the folder procedures"}}
	}
	var found diag.Problems
	b.at.main, found = doc.Decode(MainFile, main, b)
	problems = append(problems, found...)
	if points, ok := files[PointsFile]; ok {
		b.Points, b.at.points, found = doc.DecodeCSV[Point](PointsFile, points)
		problems = append(problems, found...)
	}
	if parts, ok := files[PartsFile]; ok {
		b.Parts, b.at.parts, found = doc.DecodeCSV[Part](PartsFile, parts)
		problems = append(problems, found...)
	}
	for _, name := range procedureFiles(files) {
		var p Procedure
		pos, found := doc.Decode(name, files[name], &p)
		problems = append(problems, found...)
		b.Procedures = append(b.Procedures, p)
		b.at.procedures = append(b.at.procedures, pos)
	}
	return problems
}

// procedureFiles are the names of the procedure files in alphabetical order.
func procedureFiles(files map[string][]byte) []string {
	var out []string
	for name := range files {
		if strings.HasPrefix(name, procedureDir) && path.Ext(name) == ".yaml" {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

// Encode writes the body as the files Decode reads. Meshes and other files of
// the folder are not part of it.
func Encode(b *Body) map[string][]byte {
	files := map[string][]byte{MainFile: doc.EncodeYAML(*b)}
	if len(b.Points) > 0 {
		files[PointsFile] = doc.EncodeCSV(b.Points)
	}
	if len(b.Parts) > 0 {
		files[PartsFile] = doc.EncodeCSV(b.Parts)
	}
	for i, p := range b.Procedures {
		files[fmt.Sprintf("%s%03d.yaml", procedureDir, i)] = doc.EncodeYAML(p)
	}
	return files
}

// Hash names the content of a body folder: SHA-256 over every path and content
// in alphabetical order of the paths, each preceded by its length, in
// hexadecimal. Two folders with the same hash hold the same files.
func Hash(files map[string][]byte) string {
	names := make([]string, 0, len(files))
	for name := range files {
		names = append(names, name)
	}
	sort.Strings(names)
	h := sha256.New()
	for _, name := range names {
		fmt.Fprintf(h, "%d:%s%d:", len(name), name, len(files[name]))
		h.Write(files[name])
	}
	return hex.EncodeToString(h.Sum(nil))
}
