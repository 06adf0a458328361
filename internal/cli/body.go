package cli

import (
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

type bodyCmd struct {
	New bodyNewCmd `cmd:"" help:"Write a body folder from tables of points and parts and a procedure, with the fewest fields."`
}

type bodyNewCmd struct {
	Dir          string            `arg:"" help:"Folder to write; it must not be there."`
	Points       string            `help:"Table of control points: CSV, XLSX or text; - reads what is pasted." placeholder:"FILE"`
	Parts        string            `help:"Table of parts, likewise." placeholder:"FILE"`
	Procedure    []string          `help:"Procedure of the casting; may be given several times, once for each revision." placeholder:"FILE" sep:"none"`
	Unit         string            `help:"Unit of lengths whose column does not say it: mm, cm, m or in; never guessed."`
	Decimal      string            `help:"Decimal mark of the tables, point or comma, where no number in them shows it."`
	Tol          string            `help:"Tolerance of the points without one, for example '3 mm'." placeholder:"LENGTH"`
	Reference    []string          `help:"Points that the maker nominates, where the table does not say." placeholder:"POINT" sep:","`
	BothSides    bool              `help:"The table gives one side and holds for the other one too: add the twins."`
	MirrorWithin string            `help:"How far the places of two mirror points may differ, for example '1 mm'; nothing unless given." placeholder:"LENGTH"`
	Axes         []string          `help:"Where x, y and z point: rearward or forward, right or left, up or down." placeholder:"X,Y,Z" sep:","`
	ID           string            `name:"id" help:"Short name of the body; that of the folder unless given."`
	Name         string            `help:"What people call the vehicle."`
	Source       string            `help:"Where the data come from, and under which licence."`
	Revision     string            `help:"Revision of the data, as published."`
	Currency     string            `help:"Currency of all prices, three letters."`
	LoadState    string            `help:"State the point data are for: loaded or unloaded."`
	Invented     bool              `help:"It is no real vehicle; every report says so."`
	Wall         string            `help:"Thickness of the wall of the procedure's casting, for example '4 mm'." placeholder:"LENGTH"`
	CastingPart  string            `help:"Part of the table that is the casting." placeholder:"PART"`
	CastingPrice string            `help:"Price of the casting, where the table of parts has none." placeholder:"MONEY"`
	Skill        string            `help:"Skill of the parts without one, and of the treatments."`
	Treatment    map[string]string `help:"A treatment of one step with the time it takes, as in weld='40 min'; may be given several times." placeholder:"KIND=TIME" mapsep:"none"`
}

func (bodyNewCmd) Help() string {
	return `Takes tables as they are: cells separated by tabs, semicolons, bars, commas or blanks, a decimal comma or point, units in the heads of the columns ('x [mm]') or with --unit. Columns of points: id, x, y, z, and as far as known tol (or tol_x, tol_y, tol_z), std, section, mirror, reference, name, part. Columns of parts: id, name, kind, price, and as far as known skill, mass, bolt_on, off, on, delivery and the others of docs/formats/body.md.

The zones of the casting are those that the procedure names. Mirror points are filled in where exactly one point lies at the mirrored place. Two rows of one name at mirrored places, and a y that begins with ±, become two points, -L and -R. Whatever is filled in or left out is told.

At a terminal what is missing is asked for. All is written, or nothing; nothing is written over.

Examples:

  fettle body new van --points points.xlsx --unit mm --tol '3 mm' --reference A1,A2,A3
  fettle body new van --procedure casting.yaml --wall '4 mm'
`
}

// pastedHere stands in the place of a file for a table that is pasted.
const pastedHere = "-"

// bodyOptions is how what a draft has to say is typed.
var bodyOptions = map[string]string{
	"points": "--points", "parts": "--parts", "unit": "--unit", "decimal": "--decimal", "tol": "--tol", "reference": "--reference", "mirror_within": "--mirror-within",
	"axes": "--axes", "axes.x": "--axes", "axes.y": "--axes", "axes.z": "--axes", "id": "--id", "name": "--name", "source": "--source", "revision": "--revision", "currency": "--currency", "load_state": "--load-state",
	"wall": "--wall", "part": "--casting-part", "price": "--casting-price", "skill": "--skill", "treatment": "--treatment",
}

func (c bodyNewCmd) run(env Env, a *app.App) (int, error) {
	if c.ID == "" {
		c.ID = filepath.Base(filepath.Clean(c.Dir))
	}
	if err := notThere(c.Dir); err != nil {
		return Refused, err
	}
	d := c.draft()
	q := env.questions()
	if c.Points == pastedHere {
		d.Points = ""
		var err error
		if d.Pasted, err = q.pasted(); err != nil {
			return Refused, err
		}
	}
	made, err := q.untilMade(&d, func() (app.DraftedBody, error) { return a.NewBody(env.context(), d) })
	if err != nil {
		return Refused, asTyped(err, "fettle body new", bodyOptions)
	}
	if err := writeNew(c.Dir, made.Files); err != nil {
		return Refused, err
	}
	for _, t := range made.Told {
		fmt.Fprintln(env.Stdout, wrapped("- "+t))
	}
	_, err = fmt.Fprintf(env.Stdout, "Written: %s with %s, %s and %s\nNext: fettle check %s says what each thing that is missing costs.\n", c.Dir,
		unit.Count(made.Points, "control point"), unit.Count(made.Parts, "part"), unit.Count(made.Castings, "casting"), quoted(c.Dir))
	return Done, err
}

func (c bodyNewCmd) draft() app.BodyDraft {
	return app.BodyDraft{ID: c.ID, Name: c.Name, Revision: c.Revision, Source: c.Source, Currency: c.Currency, LoadState: c.LoadState, Invented: c.Invented, Axes: c.Axes,
		Points: filepath.ToSlash(c.Points), Parts: filepath.ToSlash(c.Parts), Procedures: slashes(c.Procedure), Unit: c.Unit, Decimal: c.Decimal, Tol: c.Tol, References: c.Reference,
		BothSides: c.BothSides, MirrorWithin: c.MirrorWithin, Skill: c.Skill, CastingPart: c.CastingPart, Wall: c.Wall, Price: c.CastingPrice, Treatments: c.Treatment}
}

// notThere refuses a place where something lies.
func notThere(dir string) error {
	if _, err := os.Lstat(dir); err == nil {
		return &diag.Error{Kind: diag.Conflict, Op: "body new", Subject: dir, Msg: "is there already; nothing is written over", Hint: "give another folder"}
	}
	return nil
}

// writeNew writes a folder that is not there yet, whole or not at all.
func writeNew(dir string, files map[string][]byte) error {
	outer, err := parentOf(filepath.Clean(dir))
	if err != nil {
		return err
	}
	return outer.within(func() (err error) {
		name := filepath.Base(filepath.Clean(dir))
		half := fmt.Sprintf(".%s-%d.new", name, os.Getpid())
		defer func() {
			if e := outer.root.RemoveAll(half); err == nil && e != nil {
				err = notWritten(dir, e)
			}
		}()
		for _, file := range slices.Sorted(maps.Keys(files)) {
			if err := outer.write(half+"/"+file, files[file]); err != nil {
				return err
			}
		}
		if err := notThere(outer.path(name)); err != nil {
			return err
		}
		if err := outer.root.Rename(half, name); err != nil {
			return notWritten(dir, &fs.PathError{Op: "rename", Path: name, Err: err})
		}
		return nil
	})
}
