package app

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path"

	"fettle/internal/diag"
	"fettle/internal/job"
)

// Evidence is a piece of evidence as it was read.
type Evidence struct {
	ID     string `json:"id"`
	File   string `json:"file"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"` // of the file
	Noted  bool   `json:"noted"`  // the job notes this hash
}

// evidenceOfJob reads every piece of evidence once, and names those whose file
// is not there, may not be read, or is not the one that was recorded.
func (a *App) evidenceOfJob(c *Case, dir string) ([]Evidence, diag.Problems, error) {
	var out []Evidence
	var problems diag.Problems
	read := map[string]Evidence{} // by file: two pieces may lie in one file
	sum := int64(0)
	for i, e := range c.Job.Evidence {
		fault := func(field, msg, hint string) {
			problems = append(problems, c.Job.Problem(fmt.Sprintf("evidence[%d].%s", i, field), msg, hint))
		}
		seen, again := read[path.Clean(e.File)]
		if !again {
			hash, n, err := a.sum(dir, e.File, evidence)
			if err != nil {
				msg, hint := evidenceFault(e, err)
				if msg == "" {
					return nil, nil, notRead(path.Join(dir, e.File), evidence, err, "check that the file may be read")
				}
				fault("file", msg, hint)
				continue
			}
			seen = Evidence{File: e.File, Bytes: n, SHA256: hash}
			read[path.Clean(e.File)] = seen
			if sum += n; sum > maxEvidenceBytes {
				fault("file", fmt.Sprintf("the evidence of this job has more than %s together", byteCount(maxEvidenceBytes)), "save the largest files smaller")
				break
			}
		}
		seen.ID, seen.Noted = e.ID, e.SHA256 == seen.SHA256
		if e.SHA256 != "" && !seen.Noted {
			fault("sha256", "the file "+e.File+" is not the one that was recorded: its hash is "+seen.SHA256, "bring the original back, or record the new file as evidence of its own")
			continue
		}
		out = append(out, seen)
	}
	return out, located(problems, dir), nil
}

// evidenceFault is what is wrong with a file, in the words of the job; empty
// when it is a trouble of the machine.
func evidenceFault(e job.Evidence, err error) (msg, hint string) {
	if missing(err) {
		return "the file " + e.File + " does not exist", "put it into the job's folder or correct the path"
	}
	if msg, hint = refusedFile(evidence, err); msg != "" {
		msg = "the file " + e.File + " " + msg
	}
	return msg, hint
}

// evidenceHash names the evidence as it was read: SHA-256 over the identity, the
// file name and the hash of each piece in the order of the job, each preceded by
// its length.
func evidenceHash(list []Evidence) string {
	h := sha256.New()
	for _, e := range list {
		for _, text := range []string{e.ID, e.File, e.SHA256} {
			fmt.Fprintf(h, "%d:%s", len(text), text)
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// evidenceNotes has a caution for every piece whose hash the job does not note:
// nobody could tell if the file were another one tomorrow.
func evidenceNotes(list []Evidence) []diag.Note {
	var out []diag.Note
	for _, e := range list {
		if !e.Noted {
			out = append(out, diag.Note{Code: CodeEvidenceWithoutHash, Severity: diag.Caution, Where: e.ID,
				Text: "the job notes no hash of " + e.File + ", so nobody can tell whether it is still the file that was recorded",
				Hint: "write into the job: sha256: " + e.SHA256})
		}
	}
	return out
}

// CodeEvidenceWithoutHash marks evidence whose hash is not noted.
const CodeEvidenceWithoutHash = "evidence.no-hash"

// seenEvidence is a piece as it was read.
func (c *Case) seenEvidence(id string) (Evidence, bool) {
	for _, e := range c.Evidence {
		if e.ID == id {
			return e, true
		}
	}
	return Evidence{}, false
}

// hashesOf is the hash of each piece of evidence by its identity.
func hashesOf(list []Evidence) map[string]string {
	out := map[string]string{}
	for _, e := range list {
		out[e.ID] = e.SHA256
	}
	return out
}
