package body

import (
	"cmp"
	"errors"
	"fmt"
	"path"
	"regexp"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// Draft is what a person says of a vehicle for which a body folder is begun: a few words, and
// the tables that they have. What is not said is asked for; nothing is guessed.
type Draft struct {
	ID, Name, Revision, Source, Currency, LoadState string

	Invented bool
	Axes     Axes // zero: as a body has them that says nothing

	Points       *Any
	Tol          string    // of the points without one, as "3 mm"
	References   []PointID // that the maker nominates, where the table does not say
	BothSides    bool      // the table gives one side, and holds for the other one too
	MirrorWithin unit.MM   // how far the places of two mirror points may differ

	Parts *Any
	Skill SkillID // of the parts without one, and of the treatments

	Procedures  map[string][]byte // by the name of the file
	CastingPart PartID            // the part that the procedures' casting is; empty: the one casting of the table, or a new one
	Wall, Price string            // of that casting; the price only of a new part

	Treatments map[string]string // by their kind, what each takes, as "40 min"
}

// Drafted is a body folder that was begun.
type Drafted struct {
	Files                   map[string][]byte
	Points, Parts, Castings int
	Told                    []string // what was filled in or left out
}

// What a person may be asked for, by field of a Draft.
const (
	askPoints = "points"
	askTol    = "tol"
	askRefs   = "reference"
	askSkill  = "skill"
	askWall   = "wall"
	askPrice  = "price"
	askPart   = "part"
	askTreat  = "treatment"
)

// Make writes the folder, whole and sound, or tells everything that stands against it: faults of
// a table where they stand in it, and without a file, under the field of the draft, what has to
// be said.
func (d Draft) Make() (Drafted, error) {
	m := &maker{d: d, b: Body{Format: Format, ID: d.ID, Name: d.Name, Revision: d.Revision, Source: d.Source, Invented: d.Invented, Currency: d.Currency, Axes: d.Axes, LoadState: d.LoadState,
		Castings: []Casting{}, Treatments: []Treatment{}}}
	m.head()
	m.makePoints()
	m.makeParts()
	m.makeCasting()
	m.makeTreatments()
	if len(m.problems) > 0 {
		m.problems.Sort()
		return Drafted{}, m.problems
	}
	files := map[string][]byte{MainFile: doc.EncodeYAML(m.b), PointsFile: m.points.text(doc.EncodeCSV([]Point{})), PartsFile: m.parts.text(doc.EncodeCSV([]Part{}))}
	for name, data := range d.Procedures {
		at := procedureDir + path.Base(name)
		if _, twice := files[at]; twice {
			return Drafted{}, diag.Problems{{File: name, Msg: "has the name of another procedure that is given", Hint: "give each file its own name"}}
		}
		files[at] = data
	}
	b, err := Decode(files)
	if err != nil {
		return Drafted{}, m.inTheirs(err)
	}
	return Drafted{Files: files, Points: len(b.Points), Parts: len(b.Parts), Castings: len(b.Castings), Told: m.told}, nil
}

// maker makes a folder of a draft.
type maker struct {
	d             Draft
	b             Body
	points, parts made
	problems      diag.Problems
	told          []string
}

// made is a table as a body has it, with what each row was made of.
type made struct {
	own  []string
	from *anyReader // nil: nothing
	rows []map[string]string
	of   []int // row of the table that it was made of; 0: of none
}

func (t made) text(empty []byte) []byte {
	if len(t.rows) == 0 {
		return empty
	}
	return ownTable(t.own, t.rows)
}

func (m *maker) ask(field, msg, hint string) {
	m.problems = append(m.problems, diag.Problem{Field: field, Msg: msg, Hint: hint})
}

func (m *maker) tell(format string, args ...any) {
	m.told = append(m.told, fmt.Sprintf(format, args...))
}

// head asks for what stands at the top of every body.
func (m *maker) head() {
	for _, f := range []struct{ field, value, hint string }{
		{"id", m.d.ID, "give a short name: letters, digits, '-', '_' and '.'"},
		{"name", m.d.Name, "write what people call the vehicle"},
		{"revision", m.d.Revision, "write the revision of the data, as published"},
		{"source", m.d.Source, "write where the data come from and under which licence the shop holds them"},
		{"currency", m.d.Currency, "write the three capital letters of the currency of all prices"},
		{"load_state", m.d.LoadState, "write which state the point data are for: loaded (drive line in) or unloaded"},
	} {
		if strings.TrimSpace(f.value) == "" {
			m.ask(f.field, "is not said", f.hint)
		}
	}
	if m.d.Points == nil && m.d.Parts == nil && len(m.d.Procedures) == 0 {
		m.ask(askPoints, "there is nothing to make a body of", "give a table of control points, a table of parts or a procedure")
	}
}

// read reads a table that somebody has into rows of a body's own.
func (m *maker) read(t *Any, own []string) made {
	out := made{own: own}
	if t == nil {
		return out
	}
	out.from = &anyReader{t: *t, own: own}
	out.rows = out.from.rows()
	m.problems = append(m.problems, out.from.problems...)
	for _, a := range out.from.asks {
		m.ask(a.field, a.msg, a.hint)
	}
	for i := range out.rows {
		out.of = append(out.of, i+1)
	}
	if len(out.from.unused) > 0 {
		m.tell("%s: left out, since a body has no such column: %s", t.File, strings.Join(out.from.unused, ", "))
	}
	if len(out.from.taken) > 0 {
		m.tell("%s: in %s, as you say: %s", t.File, t.Unit, strings.Join(out.from.taken, ", "))
	}
	if len(t.Rows) == 1 {
		m.problems = append(m.problems, diag.Problem{File: t.File, Msg: "there is no row below the head", Hint: "write one row for each"})
	}
	return out
}

// PointColumns are the columns of a table of control points, and those that it cannot be without.
func PointColumns() (own, least []string) {
	return doc.ColumnNames[Point](), []string{"id", "x_mm", "y_mm", "z_mm"}
}

// PartColumns are the columns of a table of parts, and those that it cannot be without.
func PartColumns() (own, least []string) { return doc.ColumnNames[Part](), []string{"id", "name"} }

func (m *maker) makeParts() {
	own, _ := PartColumns()
	m.parts = m.read(m.d.Parts, own)
	for i, r := range m.parts.rows {
		if r["skill"] != "" {
			continue
		}
		if m.d.Skill == "" {
			m.ask(askSkill, fmt.Sprintf("%s:%d: nothing says who takes the part %s off and puts it back", m.parts.from.t.File, m.parts.from.t.Lines[m.parts.of[i]], r["id"]), "fill in the column 'skill', or say one for all parts without")
			break
		}
		r["skill"] = string(m.d.Skill)
	}
}

// makeCasting makes the casting that the procedures are about, with the zones that they name.
func (m *maker) makeCasting() {
	names := doc.Keys(m.d.Procedures)
	if len(names) == 0 {
		return
	}
	k := Casting{}
	for _, file := range names {
		var p Procedure
		if _, problems := doc.Decode(file, m.d.Procedures[file], &p); len(problems) > 0 {
			m.problems = append(m.problems, problems...)
			return
		}
		if k.ID != "" && p.Casting != k.ID {
			m.problems = append(m.problems, diag.Problem{File: file, Field: "casting", Msg: fmt.Sprintf("is about casting %s, and another procedure about %s", p.Casting, k.ID), Hint: "begin the body with one casting, and write the others into body.yaml"})
			return
		}
		k.ID, k.Name = p.Casting, string(p.Casting)
		for _, z := range zonesNamed(p) {
			if !slices.ContainsFunc(k.Zones, func(o Zone) bool { return o.ID == z }) {
				k.Zones = append(k.Zones, Zone{ID: z, Name: string(z)})
			}
		}
	}
	if m.d.Wall == "" {
		m.ask(askWall, fmt.Sprintf("nothing says how thick the wall of casting %s is", k.ID), "say its nominal thickness with its unit, for example '4 mm'")
	} else if err := k.Wall.UnmarshalText([]byte(m.d.Wall)); err != nil {
		m.ask(askWall, err.Error(), "say the thickness with its unit, for example '4 mm'")
	}
	k.Part = m.castingPart(k.ID)
	m.b.Castings = append(m.b.Castings, k)
	ids := make([]string, len(k.Zones))
	for i, z := range k.Zones {
		ids[i] = string(z.ID)
	}
	m.tell("casting %s is part %s, without a mesh; its zones are those that the procedure names: %s", k.ID, k.Part, strings.Join(ids, ", "))
	m.tell("which zones border on one another is not said: until body.yaml says so ('neighbours'), a crack may reach into each of them unless its distance to the border was measured")
}

// castingPart is the part that the casting is: the one that is said, the one casting of the table
// of parts, or a new one.
func (m *maker) castingPart(id CastingID) PartID {
	var there []PartID
	for _, r := range m.parts.rows {
		if m.d.CastingPart != "" && r["id"] == string(m.d.CastingPart) {
			return m.d.CastingPart
		}
		if r["kind"] == string(PartCasting) {
			there = append(there, PartID(r["id"]))
		}
	}
	switch {
	case m.d.CastingPart == "" && len(there) == 1:
		return there[0]
	case m.d.CastingPart == "" && len(there) > 1:
		m.ask(askPart, fmt.Sprintf("the table of parts has several castings (%s), and the procedure is about %s", joined(there), id), "say which part it is")
		return ""
	}
	if m.d.Parts != nil && len(m.parts.rows) == 0 {
		return "" // the table is told to be wrong
	}
	if m.d.Price == "" {
		m.ask(askPrice, fmt.Sprintf("nothing says what a new casting %s costs", id), "say its price, for example '1900.00 EUR'")
	}
	if m.d.Skill == "" {
		m.ask(askSkill, fmt.Sprintf("nothing says who takes the casting %s off and puts it back", id), "say a skill, as the shop file calls it")
	}
	part := cmp.Or(m.d.CastingPart, PartID("P-"+strings.ToUpper(string(id))))
	m.parts.own, _ = PartColumns()
	m.parts.rows = append(m.parts.rows, map[string]string{"id": string(part), "name": string(id), "kind": string(PartCasting), "price": m.d.Price, "skill": string(m.d.Skill)})
	m.parts.of = append(m.parts.of, 0)
	return part
}

func joined[ID ~string](ids []ID) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return strings.Join(out, ", ")
}

// zonesNamed is the zones that a procedure names in conditions on where a finding lies and in
// its areas, in the order in which it names them.
func zonesNamed(p Procedure) []ZoneID {
	var out []ZoneID
	add := func(z ZoneID) {
		if !slices.Contains(out, z) {
			out = append(out, z)
		}
	}
	for _, r := range p.Rows {
		text, ok := r.When[FactZones]
		if !ok {
			continue
		}
		if c, err := rule.ParseCond(FactZones, rule.Set, "", text); err == nil {
			for _, w := range c.Words {
				add(ZoneID(w))
			}
		}
	}
	for _, a := range p.Areas {
		for _, z := range a.Zones {
			add(z)
		}
	}
	return out
}

// makeTreatments makes one of a single step for each kind that is said with its time.
func (m *maker) makeTreatments() {
	kinds := plain(TreatmentKinds())
	for _, kind := range doc.Keys(m.d.Treatments) {
		text := m.d.Treatments[kind]
		if !slices.Contains(kinds, kind) {
			m.ask(askTreat, fmt.Sprintf("%q is no treatment", kind), doc.DidYouMean(kind, kinds))
			continue
		}
		var minutes unit.Minutes
		if err := minutes.UnmarshalText([]byte(text)); err != nil {
			m.ask(askTreat, kind+": "+err.Error(), "say how long it takes with its unit, for example '40 min'")
			continue
		}
		if m.d.Skill == "" {
			m.ask(askSkill, "nothing says who does the treatment "+kind, "say a skill, as the shop file calls it")
		}
		id := strings.ReplaceAll(kind, " ", "-")
		m.b.Treatments = append(m.b.Treatments, Treatment{ID: TreatmentID(strings.ToUpper(id)), Name: kind, Kind: TreatmentKind(kind), Steps: []Step{{ID: id, Name: kind, Skill: m.d.Skill, Fixed: minutes}}})
		m.tell("treatment %s is one step of %s as you say; write its real steps into body.yaml", kind, minutes)
	}
}

// inTheirs tells the faults of the folder where they stand in what a person gave.
func (m *maker) inTheirs(err error) error {
	var ps diag.Problems
	if !errors.As(err, &ps) {
		return err
	}
	tables := map[string]made{PointsFile: m.points, PartsFile: m.parts}
	fields := map[string]string{PointsFile: askPoints, PartsFile: "parts"}
	theirs := map[string]string{}
	for name := range m.d.Procedures {
		theirs[procedureDir+path.Base(name)] = name
	}
	for i, p := range ps {
		if t, ok := tables[p.File]; ok {
			ps[i] = t.inTheirs(p, fields[p.File])
		} else if name, ok := theirs[p.File]; ok {
			ps[i].File = name
		} else {
			ps[i] = diag.Problem{Field: p.Field, Msg: p.Msg, Hint: p.Hint}
		}
	}
	ps.Sort()
	return ps
}

func (t made) inTheirs(p diag.Problem, field string) diag.Problem {
	row := p.Line - 2
	if t.from == nil || row < 0 || row >= len(t.of) || t.of[row] == 0 {
		p.File, p.Line = "", 0
		if t.from != nil {
			p.File = t.from.t.File
		}
		if p.Field == "" {
			p.Field = field
		}
		return p
	}
	p.File, p.Line, p.Col = t.from.t.File, t.from.t.Lines[t.of[row]], 0
	name, _ := strings.CutPrefix(p.Field, "column ")
	if k := slices.IndexFunc(t.from.columns, func(c column) bool { return c.name == name }); k >= 0 && name != "" {
		p.Field = "column " + t.from.t.Rows[0][k]
	}
	return p
}

// sideLetter ends an identity with the side that its point is on.
var sideLetter = regexp.MustCompile(`^(.*[0-9._-])([LR])$`)
