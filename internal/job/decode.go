package job

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
)

// Names of the files of a job folder.
const (
	MainFile     = "job.yaml"
	ReadingsFile = "readings.csv"
	EventsFile   = "events.jsonl" // of a stored job, in place of both
)

// Decode reads a job folder: files maps slash paths relative to the folder to
// their content; only job.yaml and readings.csv are read. The error is
// diag.Problems with every fault.
func Decode(files map[string][]byte) (*State, error) {
	s := &State{}
	problems := s.read(files)
	if len(problems) == 0 {
		s.setDefaults()
		problems = s.Validate()
	}
	problems.Sort()
	if err := problems.OrNil(); err != nil {
		return nil, err
	}
	return s, nil
}

func (s *State) read(files map[string][]byte) diag.Problems {
	main, ok := files[MainFile]
	if !ok {
		return diag.Problems{{File: MainFile, Msg: "the file is missing", Hint: "a job folder holds job.yaml and, once measured, readings.csv"}}
	}
	pos, problems := doc.Decode(MainFile, main, s)
	s.at = pos
	if table, ok := files[ReadingsFile]; ok {
		rows, lines, found := doc.DecodeCSV[Reading](ReadingsFile, table)
		for i := range rows {
			rows[i].Line = lines[i]
		}
		s.Readings = rows
		problems = append(problems, found...)
	}
	return problems
}

// setDefaults fills in what may be left out.
func (s *State) setDefaults() {
	for i := range s.Setups {
		s.Setups[i] = s.Setups[i].withDefaults()
	}
	for i := range s.Findings {
		s.Findings[i] = s.Findings[i].withDefaults()
	}
	for i := range s.Told {
		s.Told[i] = s.Told[i].withDefaults()
	}
	for i := range s.Records {
		s.Records[i] = s.Records[i].withDefaults()
	}
}

func (r Record) withDefaults() Record {
	if len(r.Indications) > 0 {
		r.Indications = slices.Clone(r.Indications)
	}
	for i := range r.Indications {
		if r.Indications[i].Crack == "" {
			r.Indications[i].Crack = body.Unknown
		}
	}
	return r
}

func (x Setup) withDefaults() Setup {
	if x.Stage == "" {
		x.Stage = StageBefore
	}
	return x
}

func (f Finding) withDefaults() Finding {
	if f.Through == "" {
		f.Through = body.Unknown
	}
	return f
}

// Encode writes the job as the files Decode reads.
func Encode(s *State) map[string][]byte {
	files := map[string][]byte{MainFile: doc.EncodeYAML(*s)}
	if len(s.Readings) > 0 {
		files[ReadingsFile] = doc.EncodeCSV(s.Readings)
	}
	return files
}

// Problem is a fault of the job at a field, whichever file that is in:
// "findings[2].part", "readings[3].from". A state that was not read from files
// gives problems without lines.
func (s *State) Problem(path, msg, hint string) diag.Problem {
	if s.places != nil {
		return s.eventProblem(path, msg, hint)
	}
	if rest, ok := strings.CutPrefix(path, "readings["); ok {
		return s.readingProblem(rest, msg, hint)
	}
	if s.at.File() == "" {
		return diag.Problem{File: MainFile, Field: path, Msg: msg, Hint: hint}
	}
	return s.at.Problem(path, msg, hint)
}

// Place is where a person enters something of the job, in words: a field of job.yaml, or of a stored
// job the sort of record that has it.
func (s *State) Place(field string) string {
	if s.places == nil {
		return "'" + field + "' in " + MainFile
	}
	if i, ok := byList[field]; ok {
		return "record '" + sorts[i].word + "'"
	}
	if slices.Contains(startFields, field) {
		return "record '" + string(OfStart) + "'"
	}
	if _, ok := byWord[field]; ok {
		return "record '" + field + "'"
	}
	return "'" + field + "' of its opening, which stays as it is"
}

// Written says that the job is a state that was written by hand, and no stored one.
func (s *State) Written() bool { return s.places == nil }

// readingProblem takes the path after "readings[".
func (s *State) readingProblem(path, msg, hint string) diag.Problem {
	p := diag.Problem{File: ReadingsFile, Msg: msg, Hint: hint}
	index, column, _ := strings.Cut(path, ".")
	if i, err := strconv.Atoi(strings.TrimSuffix(index, "]")); err == nil && i < len(s.Readings) {
		p.Line = s.Readings[i].Line
		if p.Line == 0 {
			p.Field = fmt.Sprintf("reading %d", i+1)
		}
	}
	if column != "" {
		p.Field = strings.TrimSpace(p.Field + " column " + column)
	}
	return p
}

// eventProblem is a fault of a stored job, at the event of the record it is in: line n of
// the file of events is event n.
func (s *State) eventProblem(path, msg, hint string) diag.Problem {
	if slices.Contains(startFields, path) && s.places[string(OfStart)] != nil {
		path = string(OfStart) + "." + path
	}
	out := diag.Problem{File: EventsFile, Field: path, Msg: msg, Hint: hint, Line: 1}
	if p, ok := s.placeOf(path); ok {
		out.Line, out.Field = int(p.seq), string(p.of)
		if _, field, ok := strings.Cut(path, "."); ok {
			out.Field += "." + field
		}
	}
	return out
}

// placeOf is the event that the record at a path comes from.
func (s *State) placeOf(path string) (place, bool) {
	record, _, _ := strings.Cut(path, ".")
	list, index, many := strings.Cut(strings.TrimSuffix(record, "]"), "[")
	i := 0
	if many {
		var err error
		if i, err = strconv.Atoi(index); err != nil {
			return place{}, false
		}
	}
	all := s.places[list]
	if i < 0 || i >= len(all) {
		return place{}, false
	}
	return all[i], true
}
