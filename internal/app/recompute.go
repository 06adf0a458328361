package app

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/halt"
	"fettle/internal/job"
)

// AssessmentFormat is the version of assessment.json.
const AssessmentFormat = "fettle-assessment 1"

var anAssessment = fileKind{"an assessment", 256 << 20}

// Recomputed is an assessment on file beside the same computed again.
type Recomputed struct {
	File    string         `json:"file"`
	Job     string         `json:"job"`
	Made    time.Time      `json:"made"` // the moment both were made for
	Same    bool           `json:"same"` // inputs and figures, to the last digit
	Inputs  []InputChange  `json:"inputs"`
	Build   []ValueChange  `json:"build"`   // what differs between the programs
	Figures []ValueChange  `json:"figures"` // what differs in what was computed
	Counts  RecomputeCount `json:"counts"`
}

// RecomputeCount is how much was compared.
type RecomputeCount struct {
	Inputs  int `json:"inputs"`
	Figures int `json:"figures"` // values of assessment.json
}

// InputChange is an input that is not the one the assessment was made from; empty
// where it is not there.
type InputChange struct {
	Role string `json:"role"`
	File string `json:"file"`
	Was  string `json:"was"`
	Is   string `json:"is"`
}

// ValueChange is a value that differs, by its path.
type ValueChange struct {
	Path string `json:"path"`
	Was  string `json:"was"`
	Is   string `json:"is"`
}

// onFile is what is read of an assessment before it is compared.
type onFile struct {
	Format      string    `json:"format"`
	Made        time.Time `json:"made"`
	Build       Build     `json:"build"`
	Inputs      []Input   `json:"inputs"`
	EarlierJobs []string  `json:"earlierJobs"`
	tree        map[string]any
}

// Recompute computes an assessment on file again, from the folder of its job and
// for the same moment, and says what differs. No path that the file names is
// opened: the job says what belongs to it, and earlier jobs are given by the
// person. Where the job cannot be opened any more the error says why, and the
// result has the inputs that differ.
func (a *App) Recompute(ctx context.Context, file, dir string, earlier, names []string) (Recomputed, error) {
	return while(ctx, func(w *halt.Work) (Recomputed, error) { return a.recompute(w, file, dir, earlier, names) })
}

func (a *App) recompute(w *halt.Work, file, dir string, earlier, names []string) (Recomputed, error) {
	out := Recomputed{File: file, Job: dir}
	data, err := a.read("", file, anAssessment, "give the assessment.json that assessing the job wrote")
	if err != nil {
		return out, err
	}
	was, err := readOnFile(file, data)
	if err != nil {
		return out, err
	}
	out.Made = was.Made
	if len(was.EarlierJobs) > 0 && len(earlier) != len(was.EarlierJobs) {
		return out, &diag.Error{Kind: diag.Usage, Op: "recompute", Subject: file, Msg: fmt.Sprintf("it shows the times of earlier jobs: %s", strings.Join(was.EarlierJobs, ", ")), Hint: "give each of their folders, in this order", Remedy: job.Give(job.GiveEarlier)}
	}
	c, err := a.open(w, dir, newShelf())
	if err != nil {
		out.Inputs, out.Counts.Inputs = inputChanges(was.Inputs, a.inputsNow(w, dir)), len(was.Inputs)
		return out, err
	}
	r := a.assess(w, c, was.Made)
	if r, err = a.withEarlier(w, r, earlier, names); err != nil {
		return out, err
	}
	return out, out.compare(was, r)
}

// asWritten is what would be right where an assessment was changed.
const asWritten = "give the file as it was written when the job was assessed"

// readOnFile reads an assessment and refuses what is none.
func readOnFile(file string, data []byte) (onFile, error) {
	var was onFile
	fault := func(field, msg, hint string) (onFile, error) {
		return was, diag.Problems{{File: file, Field: field, Msg: msg, Hint: hint}}
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	err := d.Decode(&was.tree)
	if err == nil {
		if _, more := d.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("something stands behind its end")
		}
	}
	if err == nil {
		err = json.Unmarshal(data, &was)
	}
	if err != nil {
		p := diag.Problem{File: file, Msg: "is not a whole assessment: " + err.Error(), Hint: asWritten}
		if at := offsetOf(err, d); at > 0 {
			before := data[:min(int(at), len(data))]
			p.Line, p.Col = bytes.Count(before, []byte("\n"))+1, len(before)-bytes.LastIndexByte(before, '\n')
		}
		return was, diag.Problems{p}
	}
	if was.Format != AssessmentFormat {
		return fault("format", fmt.Sprintf("%q is not '%s'", was.Format, AssessmentFormat), "assess the job again: earlier versions wrote no build and no hash of each file")
	}
	if was.Made.IsZero() {
		return fault("made", "the moment it was made for is missing", asWritten)
	}
	for i, x := range was.Inputs {
		if b, err := hex.DecodeString(x.SHA256); err != nil || len(b) != 32 {
			return fault(fmt.Sprintf("inputs[%d].sha256", i), fmt.Sprintf("%q is no SHA-256", x.SHA256), asWritten)
		}
	}
	return was, nil
}

// offsetOf is where reading stopped; 0 when that is not known.
func offsetOf(err error, d *json.Decoder) int64 {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return syntax.Offset
	case errors.As(err, &kind):
		return kind.Offset
	}
	return d.InputOffset()
}

// compare holds an assessment against the one on file.
func (out *Recomputed) compare(was onFile, r Assessment) error {
	data, err := json.Marshal(r)
	if err != nil {
		return err
	}
	is := onFile{}
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	if err := d.Decode(&is.tree); err != nil {
		return err
	}
	out.Inputs, out.Counts.Inputs = inputChanges(was.Inputs, r.Inputs), len(r.Inputs)
	differ(&out.Build, "build", was.tree["build"], is.tree["build"])
	for _, x := range []map[string]any{was.tree, is.tree} {
		delete(x, "build")
		delete(x, "version")
		delete(x, "inputs")
	}
	differ(&out.Figures, "", was.tree, is.tree)
	out.Counts.Figures = valueCount(is.tree)
	out.Same = len(out.Inputs) == 0 && len(out.Figures) == 0
	return nil
}

// inputChanges is every file of either list that the other has not, or has with
// other bytes.
func inputChanges(was, is []Input) []InputChange {
	type key struct{ role, file string }
	now := map[key]string{}
	for _, x := range is {
		now[key{x.Role, x.File}] = x.SHA256
	}
	out := []InputChange{}
	before := map[key]bool{}
	for _, x := range was {
		k := key{x.Role, x.File}
		before[k] = true
		if now[k] != x.SHA256 {
			out = append(out, InputChange{x.Role, x.File, x.SHA256, now[k]})
		}
	}
	for _, x := range is {
		if !before[key{x.Role, x.File}] {
			out = append(out, InputChange{x.Role, x.File, "", x.SHA256})
		}
	}
	return out
}

// differ adds every value that two trees do not have alike, by its path.
func differ(out *[]ValueChange, at string, was, is any) {
	switch w := was.(type) {
	case map[string]any:
		if i, ok := is.(map[string]any); ok {
			for _, k := range doc.Keys(w, i) {
				member := k
				if at != "" {
					member = at + "." + k
				}
				wv, inWas := w[k]
				iv, inIs := i[k]
				switch {
				case !inWas:
					*out = append(*out, ValueChange{member, absent, shown(iv)})
				case !inIs:
					*out = append(*out, ValueChange{member, shown(wv), absent})
				default:
					differ(out, member, wv, iv)
				}
			}
			return
		}
	case []any:
		if i, ok := is.([]any); ok {
			for k := range max(len(w), len(i)) {
				member := fmt.Sprintf("%s[%d]", at, k)
				switch {
				case k >= len(w):
					*out = append(*out, ValueChange{member, absent, shown(i[k])})
				case k >= len(i):
					*out = append(*out, ValueChange{member, shown(w[k]), absent})
				default:
					differ(out, member, w[k], i[k])
				}
			}
			return
		}
	default:
		if was == is {
			return
		}
	}
	*out = append(*out, ValueChange{at, shown(was), shown(is)})
}

const absent = "(not there)"

// shown is a value for a reader, cut where it is long.
func shown(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return err.Error()
	}
	s := []rune(string(b))
	if len(s) > 120 {
		return string(s[:117]) + "..."
	}
	return string(s)
}

// valueCount is how many values a tree has.
func valueCount(v any) int {
	n := 0
	switch v := v.(type) {
	case map[string]any:
		for _, x := range v {
			n += valueCount(x)
		}
	case []any:
		for _, x := range v {
			n += valueCount(x)
		}
	default:
		n = 1
	}
	return n
}

// mostShown is how many changed figures are printed.
const mostShown = 60

// String prints it.
func (r Recomputed) Text(col Column) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, computed again from %s for %s\n", r.File, r.Job, r.Made.Format("2 Jan 2006 15:04 MST"))
	if len(r.Inputs) == 0 {
		fmt.Fprintf(&b, "Inputs: all %d the same, byte for byte.\n", r.Counts.Inputs)
	} else {
		fmt.Fprintf(&b, "Inputs: %d of %d are not those it was made from.\n", len(r.Inputs), r.Counts.Inputs)
		for _, x := range r.Inputs {
			fmt.Fprintf(&b, "  %s %s: was %s, is %s\n", x.Role, x.File, orAbsent(x.Was), orAbsent(x.Is))
		}
	}
	if len(r.Build) == 0 {
		b.WriteString("Program: the same build.\n")
	} else {
		b.WriteString("Program: another build.\n")
		for _, x := range r.Build {
			fmt.Fprintf(&b, "  %s: was %s, is %s\n", x.Path, x.Was, x.Is)
		}
	}
	switch {
	case r.Counts.Figures == 0:
		b.WriteString("Figures: not computed.\n")
	case len(r.Figures) == 0:
		fmt.Fprintf(&b, "Figures: all %d values the same, to the last digit.\n", r.Counts.Figures)
	default:
		fmt.Fprintf(&b, "Figures: %d of %d values differ.\n", len(r.Figures), r.Counts.Figures)
		for _, x := range r.Figures[:min(len(r.Figures), mostShown)] {
			fmt.Fprintf(&b, "  %s: was %s, is %s\n", x.Path, x.Was, x.Is)
		}
		if left := len(r.Figures) - mostShown; left > 0 {
			fmt.Fprintf(&b, "  %s\n", more(col, left))
		}
	}
	return b.String()
}

func orAbsent(s string) string {
	if s == "" {
		return absent
	}
	return s
}
