package right

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"

	"fettle/internal/diag"
)

//go:embed matrix.csv
var file string

// Matrix says for each act which role may do it, under which conditions and within which limits. The zero value permits nothing.
type Matrix struct{ rows map[Act]row }

// about is what an act is about: whom it has to belong to.
type about string

const (
	aboutJob    about = "job"    // a job that one may see
	aboutSeen   about = "seen"   // to see a job
	aboutListed about = "listed" // a job that one may know of
	aboutShop   about = "shop"   // the own shop
	aboutGroup  about = "group"
	aboutSelf   about = "self" // what is one's own in person
)

type row struct {
	about   about
	changes bool
	cells   map[Role]cell
}

type cell struct {
	granted    bool
	conditions []Condition
	limits     []Limit
}

// Of the program: every server and every test reads this one.
var shipped = mustRead(file)

// Shipped is the matrix of the program.
func Shipped() Matrix { return shipped }

func mustRead(text string) Matrix {
	m, err := Read(text)
	if err != nil {
		panic(err) // it is part of the program
	}
	return m
}

// Acts is all acts, in the order of the matrix.
func Acts() []Act { return slices.Clone(acts) }

// Changes says whether an act changes something; one that is not in the matrix does.
func (m Matrix) Changes(a Act) bool {
	r, known := m.rows[a]
	return !known || r.changes
}

// Read reads a matrix. It has a row for every act and a column for every role, each once, and knows no other words.
func Read(text string) (Matrix, error) {
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		return Matrix{}, diag.Problems{{File: "matrix.csv", Msg: err.Error()}}
	}
	m, ps := Matrix{map[Act]row{}}, diag.Problems(nil)
	head := []string{"act", "about", "changes"}
	for _, r := range Roles() {
		head = append(head, string(r))
	}
	if len(records) == 0 || !slices.Equal(records[0], head) {
		return Matrix{}, diag.Problems{{File: "matrix.csv", Line: 1, Msg: "its columns are not those of the roles", Hint: "write " + strings.Join(head, ",")}}
	}
	for i, rec := range records[1:] {
		fault := func(column, msg string) {
			ps = append(ps, diag.Problem{File: "matrix.csv", Line: i + 2, Field: "column " + column, Msg: msg})
		}
		a := Act(rec[0])
		if !slices.Contains(acts, a) {
			fault("act", fmt.Sprintf("%q is no act", a))
		}
		if _, twice := m.rows[a]; twice {
			fault("act", fmt.Sprintf("%q is there twice", a))
		}
		m.rows[a] = readRow(rec, fault)
	}
	for _, a := range acts {
		if _, there := m.rows[a]; !there {
			ps = append(ps, diag.Problem{File: "matrix.csv", Msg: fmt.Sprintf("it has no row for %q", a)})
		}
	}
	if err := ps.OrNil(); err != nil {
		return Matrix{}, err
	}
	return m, nil
}

func readRow(rec []string, fault func(column, msg string)) row {
	r := row{about: about(rec[1]), changes: rec[2] == "yes", cells: map[Role]cell{}}
	if !slices.Contains([]about{aboutJob, aboutSeen, aboutListed, aboutShop, aboutGroup, aboutSelf}, r.about) {
		fault("about", fmt.Sprintf("%q is none of job, seen, listed, shop, group, self", rec[1]))
	}
	if !r.changes && rec[2] != "no" {
		fault("changes", fmt.Sprintf("%q is neither yes nor no", rec[2]))
	}
	for i, role := range Roles() {
		c, wrong := readCell(rec[3+i])
		if wrong != "" {
			fault(string(role), wrong)
		}
		r.cells[role] = c
	}
	return r
}

// readCell reads yes, no, or conditions and limits with + between them.
func readCell(text string) (c cell, wrong string) {
	switch text {
	case "no":
		return cell{}, ""
	case "yes":
		return cell{granted: true}, ""
	}
	c.granted = true
	for _, word := range strings.Split(text, " + ") {
		switch {
		case slices.Contains(Conditions(), Condition(word)):
			c.conditions = append(c.conditions, Condition(word))
		case slices.Contains(Limits(), Limit(word)):
			c.limits = append(c.limits, Limit(word))
		default:
			return cell{}, fmt.Sprintf("%q is neither yes, no, a condition nor a limit", word)
		}
	}
	return c, ""
}
