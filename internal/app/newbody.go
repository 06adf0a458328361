package app

import (
	"cmp"
	"context"
	"path"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/format"
	"fettle/internal/halt"
	"fettle/internal/unit"
)

// BodyDraft is what a person says of a vehicle for which a body folder is begun, as they say it.
type BodyDraft struct {
	ID, Name, Revision, Source, Currency, LoadState string

	Invented bool
	Axes     []string // directions of x, y and z; none: as a body has them that says nothing

	Points       string // table of control points: CSV, XLSX or other text
	Pasted       []byte // the same when no file holds it
	Parts        string // table of parts
	Procedures   []string
	Unit         string // of lengths whose column does not say it
	Decimal      string // mark of the tables: point or comma; empty: found out
	Tol          string
	References   []string
	BothSides    bool
	MirrorWithin string

	Skill, CastingPart, Wall, Price string
	Treatments                      map[string]string // by their kind, what each takes
}

// DraftedBody is a body folder that was begun.
type DraftedBody = body.Drafted

// PastedTable is how a table is called that no file holds.
const PastedTable = "pasted table"

// marks are the decimal marks by their names.
var marks = map[string]doc.Mark{"": doc.NoMark, "point": doc.Point, "comma": doc.Comma}

// NewBody begins a body folder from what a person says and the tables they have: all of it, or
// every fault. What has to be said still is told as faults of the file Asked, by field.
func (a *App) NewBody(ctx context.Context, said BodyDraft) (body.Drafted, error) {
	return while(ctx, func(w *halt.Work) (body.Drafted, error) {
		d, problems := said.draft()
		r := anyReader{app: a, unit: body.LengthUnit(said.Unit), mark: marks[said.Decimal], problems: problems}
		own, least := body.PointColumns()
		d.Points = r.read(said.Points, said.Pasted, own, least)
		own, least = body.PartColumns()
		d.Parts = r.read(said.Parts, nil, own, least)
		for _, p := range said.Procedures {
			d.Procedures[path.Clean(p)] = r.procedure(path.Clean(p))
		}
		w.Step()
		if r.err != nil || len(r.problems) > 0 {
			return body.Drafted{}, cmp.Or(r.err, r.problems.OrNil())
		}
		return d.Make()
	})
}

// draft reads the words of a draft.
func (s BodyDraft) draft() (d body.Draft, problems diag.Problems) {
	wrong := func(field, msg, hint string) {
		problems = append(problems, diag.Problem{File: Asked, Field: field, Msg: msg, Hint: hint})
	}
	d = body.Draft{ID: s.ID, Name: s.Name, Revision: s.Revision, Source: s.Source, Currency: s.Currency, LoadState: s.LoadState, Invented: s.Invented,
		Tol: s.Tol, BothSides: s.BothSides, Skill: body.SkillID(s.Skill), Procedures: map[string][]byte{},
		CastingPart: body.PartID(s.CastingPart), Wall: s.Wall, Price: s.Price, Treatments: s.Treatments}
	for _, id := range s.References {
		d.References = append(d.References, body.PointID(strings.TrimSpace(id)))
	}
	if _, ok := marks[s.Decimal]; !ok {
		wrong("decimal", s.Decimal+" is no decimal mark", "say point or comma")
	}
	if s.Unit != "" && !body.IsLengthUnit(s.Unit) {
		wrong("unit", s.Unit+" is no unit of length", "say mm, cm, m or in")
	}
	switch len(s.Axes) {
	case 0:
	case 3:
		d.Axes = body.Axes{X: body.Direction(s.Axes[0]), Y: body.Direction(s.Axes[1]), Z: body.Direction(s.Axes[2])}
	default:
		wrong("axes", "three directions are needed", "say where x, y and z point, for example rearward,right,up")
	}
	if s.MirrorWithin != "" {
		if err := d.MirrorWithin.UnmarshalText([]byte(s.MirrorWithin)); err != nil || d.MirrorWithin < unit.MM(0) {
			wrong("mirror_within", s.MirrorWithin+" is no distance", "say it with its unit, for example '1 mm'")
		}
	}
	return d, problems
}

// anyReader reads the files that a body is begun from, and remembers what is wrong with them.
type anyReader struct {
	app      *App
	unit     body.LengthUnit
	mark     doc.Mark
	problems diag.Problems
	err      error
}

func (r *anyReader) file(name, hint string) []byte {
	data, err := r.app.read("", name, aDocument, hint)
	if err != nil && r.err == nil {
		r.err = err
	}
	return data
}

// procedure reads a procedure file, whose own tests have to come out; whatever else is wrong with it
// is told when a body is made of it.
func (r *anyReader) procedure(name string) []byte {
	data := r.file(name, "give a procedure file")
	var p body.Procedure
	if _, problems := doc.Decode(name, data, &p); len(problems) == 0 {
		r.problems = append(r.problems, testFaults(name, &p)...)
	}
	return data
}

// read reads a table as CSV, other text or XLSX; nil where there is none.
func (r *anyReader) read(file string, pasted []byte, own, least []string) *body.Any {
	name, data := PastedTable, pasted
	if file != "" {
		name = path.Clean(file)
		data = r.file(name, "give a table as CSV, XLSX or text")
	}
	if data == nil {
		return nil
	}
	var g doc.Grid
	var found diag.Problems
	isHead := body.NamesColumns(own, least)
	has := "it has at least " + strings.ReplaceAll(strings.Join(least, ", "), "_mm", "")
	if format.IsWorkbook(data) {
		if g, found = format.ReadWorkbook(name, data); len(found) == 0 && !isHead(g.Rows[0]) {
			found = diag.Problems{{File: name, Line: g.Lines[0], Msg: "the first row does not name the columns", Hint: "name them in it; " + has}}
		}
	} else {
		g, found = doc.ReadGrid(name, data, isHead)
	}
	if len(g.Rows) == 0 && len(found) > 0 && found[0].Line == 1 && found[0].Col == 0 {
		found[0].Hint += "; " + has
	}
	r.problems = append(r.problems, found...)
	return &body.Any{Grid: g, Unit: r.unit, Said: r.mark}
}
