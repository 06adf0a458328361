package cli

import (
	"errors"
	"regexp"
	"strings"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/mesh"
)

// width is that of a line on a terminal, in characters; summaryWidth that of the summary,
// which is made for the narrowest.
const width, summaryWidth = 96, 80

// column is how texts are laid out here.
var column = app.Column{Width: width, How: typed}

// commands are the commands that do what a remedy names. A word {name|WORD} is the argument of
// that name, or WORD where it is not given; one in brackets is left out without the argument,
// and is there for each that is given; ~ keeps two words together.
var commands = map[diag.Deed]string{
	job.ToCheck:      "fettle check {job|JOB}",
	job.ToAssess:     "fettle assess {job|JOB}",
	job.ToPlan:       "fettle plan {job|JOB} [--route~{route|ID}]",
	job.ToAgree:      "fettle plan {job|JOB} --agree WHO",
	job.ToAsk:        "fettle ask {job|JOB} {about|FINDING} --out DIR [--sent-by~{by|PERSON}]",
	job.ToRecord:     "fettle record {job|JOB}",
	job.ToSeeMissing: "fettle release {job|JOB}",
	job.ToReopen:     "fettle release {job|JOB} --reopen REASON --by PERSON",
	job.ToKeep:       "fettle keep {job|JOB}",
	job.ToSeeHistory: "fettle events {job|JOB} --codes",
	job.ToFindZones:  "fettle zones find {file|FILE}",
	mesh.ToDescribe:  "fettle mesh {file|FILE}",
	mesh.ToMend:      "fettle mesh {file|FILE} --mend MM --out NEW",
	mesh.ToCut:       "fettle cut --mesh {file|FILE} --unit {unit|UNIT} [--along={along|}] [--outer={outer|}] [--plane={plane|}] [--window={window|}] --picture {picture|FILE}",
}

// given are the options of the command itself.
var given = map[string]string{
	job.GiveStd: "--std MM", job.GiveEarlier: "--earlier DIR", job.GiveRoute: "--route ID", job.GiveVerdict: "--allow or --forbid TREATMENT",
	job.GiveData: "--json", job.GiveAll: "--all",
	job.GiveSharp: "--sharp DEG", job.GiveBoreTolerance: "--bore-tolerance MM", job.GiveWall: "--wall MM", job.GiveLeast: "--least SHARE",
}

var blank = regexp.MustCompile(`\{([a-z]+)\|([A-Z]*)\}`)

// typed says how a remedy is typed.
func typed(r diag.Remedy) string {
	if r.Do == job.ToGive {
		return given[strings.Join(r.All("what"), "")]
	}
	var words []string
	for word := range strings.FieldsSeq(commands[r.Do]) {
		m := blank.FindStringSubmatch(word)
		if m == nil {
			words = append(words, word)
			continue
		}
		values := r.All(m[1])
		inner, optional := strings.CutPrefix(word, "[")
		if optional {
			inner = strings.TrimSuffix(inner, "]")
		} else if len(values) == 0 {
			values = []string{""}
		}
		for _, v := range values {
			if v == "" {
				v = m[2]
			}
			for w := range strings.SplitSeq(inner, "~") {
				words = append(words, quoted(strings.Replace(w, m[0], v, 1)))
			}
		}
	}
	return strings.Join(words, " ")
}

// quoted is a word as a shell takes it.
func quoted(w string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./=,:+", r)
	}
	if strings.IndexFunc(w, func(r rune) bool { return !plain(r) }) < 0 {
		return w
	}
	return "'" + strings.ReplaceAll(w, "'", `'\''`) + "'"
}

// How the commands call the fields of the records they add, by list and field.
var (
	answerOptions = map[string]string{
		"answers.vin": "--vin", "answers.allow": "--allow", "answers.forbid": "--forbid", "answers.conditions": "--conditions", "answers.when": "--when", "answers.by": "--by",
		"answers.on": "--dated", "answers.expires": "--expires", "answers.document": "--document", "answers.recorded_by": "--recorded-by", "answers.question": "QUESTION",
		"evidence.file": "--document", "evidence.sha256": "--document", "evidence.on": "--dated", "evidence.by": "--by"}
	askOptions = map[string]string{"questions.by": "--sent-by", "questions.on": "--on", "questions.id": "QUESTION"}
)

// asTyped puts the faults of what was asked to be recorded into the words of the command.
func asTyped(err error, command string, options map[string]string) error {
	var ps diag.Problems
	if !errors.As(err, &ps) {
		return err
	}
	for i := range ps {
		if ps[i].File != app.Asked {
			continue
		}
		ps[i].File = command
		if name, ok := options[ps[i].Field]; ok {
			ps[i].Field = name
		}
	}
	return ps
}
