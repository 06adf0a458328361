package api

import (
	"encoding/csv"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"

	"fettle/internal/right"
)

// A second reading of the matrix, made from docs/people.md and the file alone: it shares no line with package right but the words, so that a mistake of one is
// found by the other.

// sheet is the matrix as the file has it: of each act, the columns.
type sheet map[right.Act]map[string]string

func readSheet(t *testing.T) sheet {
	t.Helper()
	f, err := os.Open("../../right/matrix.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := sheet{}
	for _, row := range rows[1:] {
		of := map[string]string{}
		for i, name := range rows[0] {
			of[name] = row[i]
		}
		out[right.Act(row[0])] = of
	}
	return out
}

// asker is what the reading knows of who asks.
type asker struct {
	person, shop string
	roles        []string
	fresh        bool // has proved it just now, in person
	program      bool // acts by a token
	reads        bool // by one that only reads
	link         string
	files        bool // may take all along
}

// thing is what the reading knows of what it is about.
type thing struct {
	shop, job, stage  string
	author            string
	authors           []string
	person            string // whose roles or sign-in it is about
	administratorLeft bool
}

// holds says whether what a word of a cell asks for is so; a word that is not known is not.
func holds(word string, a asker, on thing) bool {
	switch word {
	case "own":
		return a.person != "" && on.author == a.person
	case "before review":
		return on.stage == "draft"
	case "draft":
		return on.stage == "draft"
	case "approved or released":
		return on.stage == "approved" || on.stage == "released"
	case "not the author":
		return len(on.authors) > 0 && !slices.Contains(on.authors, a.person)
	case "fresh":
		return a.fresh && !a.program && a.link == ""
	case "in person":
		return !a.program && a.link == ""
	case "assigned":
		return true // both shops let everybody see all
	case "linked":
		return a.link != "" && a.link == on.job
	case "link gives files":
		return a.files
	case "not the own role":
		return on.person != a.person
	case "not the last administrator":
		return on.administratorLeft
	}
	return false // nothing here is in review, nobody has agreed to an erasure, and nobody is at the console
}

// cell is what one role may: whether, and within which limits.
func cell(text string, a asker, on thing) (limits []string, may bool) {
	if text == "no" {
		return nil, false
	}
	if text == "yes" {
		return nil, true
	}
	for _, word := range strings.Split(text, " + ") {
		if strings.HasPrefix(word, "only ") {
			limits = append(limits, word)
		} else if !holds(word, a, on) {
			return nil, false
		}
	}
	return limits, true
}

// row is what somebody may by the best of their roles: the one with the fewest limits.
func (s sheet) row(act right.Act, a asker, on thing) (limits []string, may bool) {
	for _, role := range a.roles {
		l, is := cell(s[act][role], a, on)
		if is && (!may || len(l) < len(limits)) {
			limits, may = l, true
		}
	}
	return limits, may
}

// says is the status of a refusal, or 0 with the limits.
func (s sheet) says(act right.Act, a asker, on thing) (status int, limits []string) {
	r, known := s[act]
	if !known {
		return http.StatusForbidden, nil
	}
	switch r["about"] {
	case "shop":
		if on.shop != a.shop {
			return http.StatusNotFound, nil
		}
	case "self":
		if a.person == "" || on.person != a.person {
			return http.StatusForbidden, nil
		}
	case "job", "seen", "listed":
		_, sees := s.row(right.SeeJob, a, on)
		_, lists := cell(s[right.SeeJobs]["administrator"], a, on)
		if on.shop != a.shop || on.job == "" || !sees && !(lists && slices.Contains(a.roles, "administrator")) {
			return http.StatusNotFound, nil
		}
		if r["about"] == "job" && !sees {
			return http.StatusForbidden, nil
		}
	}
	limits, may := s.row(act, a, on)
	if !may || a.reads && r["changes"] == "yes" {
		return http.StatusForbidden, nil
	}
	return 0, limits
}
