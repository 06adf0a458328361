package api

import (
	"context"
	"net/http"

	"fettle/internal/app"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/measure"
	"fettle/internal/unit"
)

// A tool works on files that come with the request, and on nothing else.

// OnFiles are the files of a tool; names in them are paths with slashes.
type OnFiles struct {
	Files []File `json:"files" minItems:"1" maxItems:"50" doc:"The files it works on; together 36 MiB at most."`
}

// OnMesh is a tool's mesh.
type OnMesh struct {
	OnFiles
	File string `json:"file" minLength:"1" maxLength:"500" doc:"Name of the mesh among the files: STL, PLY, OBJ or GLB."`
	Unit string `json:"unit,omitempty" enum:"mm,cm,m,in," doc:"Unit of its numbers; never guessed."`
}

var toolRefuses = []int{http.StatusUnprocessableEntity}

// tool makes a route of a tool.
func tool[B, T any](s *service, id, path, says string, do func(context.Context, *app.As, B) (T, error), more ...int) {
	serve(s, route{id: id, method: http.MethodPost, path: "/tools/" + path, group: "tools", says: says, limit: fileBody, refuses: append(more, toolRefuses...)},
		func(ctx context.Context, as *app.As, in *struct{ Body B }) (*plain[Computed[T]], error) {
			v, err := do(ctx, as, in.Body)
			return &plain[Computed[T]]{Computed[T]{v}}, err
		})
}

// ruling is what a procedure is asked.
type ruling struct {
	OnFiles
	File  string   `json:"file" minLength:"1" maxLength:"500" doc:"Name of the procedure among the files."`
	Known []string `json:"known,omitempty" maxItems:"200" doc:"What is known, as fact=value."`
	On    string   `json:"on,omitempty" maxLength:"10"`
}

// Point is a place in millimetres.
type Point [3]float64

func vecs(ps []Point) []geom.Vec {
	var out []geom.Vec
	for _, p := range ps {
		out = append(out, geom.Vec(p))
	}
	return out
}

// Made is files that were made.
type Made struct {
	Files []File   `json:"files"`
	Told  []string `json:"told" doc:"What was filled in or left out, or still has to be mended."`
}

// Rows is the rows of a procedure.
type Rows struct {
	Table string `json:"table" doc:"CSV, a row a line."`
}

// Taken is a procedure with other rows.
type Taken struct {
	Text   string  `json:"text" doc:"The whole file."`
	Same   bool    `json:"same" doc:"The rows were those already."`
	Rows   int     `json:"rows"`
	Faults []Fault `json:"faults" doc:"Tests of the procedure that its rows do not meet now."`
}

func (s *service) tools() {
	tool(s, "ask-procedure", "may", "May this spot be repaired, and how? Asks a procedure alone.", func(ctx context.Context, as *app.As, b ruling) (decide.Ruled, error) {
		return as.AskProcedure(ctx, b.File, byName(b.Files), b.Known, b.On)
	})
	tool(s, "procedure-table", "may-table", "All that a procedure says, by what is known.", func(ctx context.Context, as *app.As, b ruling) (decide.RuleTable, error) {
		return as.ProcedureTable(ctx, b.File, byName(b.Files), b.Known, b.On)
	})
	tool(s, "rows", "rows", "The rows of a procedure as a table.", func(_ context.Context, as *app.As, b struct {
		OnFiles
		File string `json:"file" minLength:"1" maxLength:"500"`
	}) (Rows, error) {
		text, err := as.Rows(b.File, byName(b.Files))
		return Rows{string(text)}, err
	})
	tool(s, "take-rows", "take-rows", "Puts the rows of a table into a procedure.", func(_ context.Context, as *app.As, b struct {
		OnFiles
		File  string `json:"file" minLength:"1" maxLength:"500"`
		Table string `json:"table" minLength:"1" maxLength:"500" doc:"Name of the table among the files."`
	}) (Taken, error) {
		t, err := as.TakeRows(b.File, b.Table, byName(b.Files))
		out := Taken{Text: string(t.Text), Same: t.Same, Rows: t.Rows}
		for _, f := range t.Faults {
			out.Faults = append(out.Faults, faultOf(f))
		}
		return out, err
	})
	tool(s, "check-files", "check", "The faults of documents, and remarks that are none.", func(ctx context.Context, as *app.As, b struct {
		OnFiles
		On string `json:"on,omitempty" maxLength:"10"`
	}) (Checked, error) {
		return checked(as.CheckFiles(ctx, byName(b.Files), b.On))
	})
	tool(s, "draft-body", "body", "Begins a body folder from the tables that are at hand.", draftBody)
	tool(s, "measure-files", "measure", "Which control points have moved, from two tables alone.", measureFiles)
	s.meshes()
}

// Measured is a measurement of two tables: of points with places, or of sides alone.
type Measured struct {
	Result *measure.Result `json:"result,omitempty"`
	Sides  *measure.Sides  `json:"sides,omitempty" doc:"Of points without places."`
}

func measureFiles(ctx context.Context, as *app.As, b struct {
	OnFiles
	Points      string   `json:"points" minLength:"1" maxLength:"500" doc:"Name of the table of control points."`
	Readings    string   `json:"readings" minLength:"1" maxLength:"500" doc:"Name of the table of readings."`
	Impact      string   `json:"impact,omitempty" enum:"front,rear,left,right,front-left,front-right,rear-left,rear-right,unknown,"`
	StdMM       float64  `json:"stdMm,omitempty" minimum:"0" doc:"Standard uncertainty of readings that give none."`
	AlikeMM     float64  `json:"alikeMm,omitempty" minimum:"0" doc:"How alike left and right are built, of points without places."`
	TempC       *float64 `json:"tempC,omitempty" doc:"Temperature of the body in all set-ups."`
	TempStdK    float64  `json:"tempStdK,omitempty" minimum:"0"`
	ExpandPPM   *float64 `json:"expandPpm,omitempty" doc:"Linear expansion per kelvin; nothing is corrected without."`
	ExpandStd   float64  `json:"expandStdPpm,omitempty" minimum:"0"`
	ReferenceC  float64  `json:"referenceC,omitempty" doc:"Temperature the points are for."`
	SearchStart uint64   `json:"seed,omitempty" doc:"Starts the sampling of triples above 60 points."`
}) (Measured, error) {
	o := app.MeasureOptions{Impact: b.Impact, StdMM: b.StdMM, Seed: b.SearchStart, AlikeMM: b.AlikeMM, TempStd: b.TempStdK, ReferenceC: b.ReferenceC, ExpandStd: b.ExpandStd}
	if o.Impact == "" {
		o.Impact = "unknown"
	}
	if b.TempC != nil {
		o.Temp = unit.Some(*b.TempC)
	}
	if b.ExpandPPM != nil {
		o.Expansion = unit.Some(*b.ExpandPPM)
	}
	m, err := as.Measure(ctx, b.Points, b.Readings, byName(b.Files), o)
	if m.Sides != nil || err != nil {
		return Measured{Sides: m.Sides}, err
	}
	return Measured{Result: &m.Result}, nil
}

func draftBody(ctx context.Context, as *app.As, b struct {
	Files        []File            `json:"files,omitempty" maxItems:"50"`
	ID           string            `json:"id" minLength:"1" maxLength:"100"`
	Name         string            `json:"name,omitempty" maxLength:"200"`
	Revision     string            `json:"revision,omitempty" maxLength:"200"`
	Source       string            `json:"source,omitempty" maxLength:"1000"`
	Currency     string            `json:"currency,omitempty" maxLength:"10"`
	LoadState    string            `json:"loadState,omitempty" enum:"loaded,unloaded,"`
	Invented     bool              `json:"invented,omitempty"`
	Axes         []string          `json:"axes,omitempty" maxItems:"3"`
	Points       string            `json:"points,omitempty" maxLength:"500" doc:"Name of the table of control points."`
	Parts        string            `json:"parts,omitempty" maxLength:"500" doc:"Name of the table of parts."`
	Procedures   []string          `json:"procedures,omitempty" maxItems:"20"`
	Unit         string            `json:"unit,omitempty" enum:"mm,cm,m,in,"`
	Decimal      string            `json:"decimal,omitempty" enum:"point,comma,"`
	Tol          string            `json:"tol,omitempty" maxLength:"40"`
	References   []string          `json:"references,omitempty" maxItems:"200"`
	BothSides    bool              `json:"bothSides,omitempty"`
	MirrorWithin string            `json:"mirrorWithin,omitempty" maxLength:"40"`
	Skill        string            `json:"skill,omitempty" maxLength:"100"`
	CastingPart  string            `json:"castingPart,omitempty" maxLength:"100"`
	Wall         string            `json:"wall,omitempty" maxLength:"40"`
	Price        string            `json:"price,omitempty" maxLength:"40"`
	Treatments   map[string]string `json:"treatments,omitempty"`
}) (Made, error) {
	d, err := as.DraftBody(ctx, app.BodyDraft{ID: b.ID, Name: b.Name, Revision: b.Revision, Source: b.Source, Currency: b.Currency, LoadState: b.LoadState, Invented: b.Invented, Axes: b.Axes,
		Points: b.Points, Parts: b.Parts, Procedures: b.Procedures, Unit: b.Unit, Decimal: b.Decimal, Tol: b.Tol, References: b.References, BothSides: b.BothSides, MirrorWithin: b.MirrorWithin,
		Skill: b.Skill, CastingPart: b.CastingPart, Wall: b.Wall, Price: b.Price, Treatments: b.Treatments}, byName(b.Files))
	return Made{listed(d.Files), d.Told}, err
}

// meshes is the tools on meshes.
func (s *service) meshes() {
	tool(s, "mesh", "mesh", "Describes a mesh and its faults.", func(ctx context.Context, as *app.As, b OnMesh) (app.MeshResult, error) {
		return as.Mesh(ctx, b.File, byName(b.Files), b.Unit)
	})
	tool(s, "mesh-glb", "mesh-glb", "A mesh with its zones for a viewer.", func(ctx context.Context, as *app.As, b OnMesh) (Made, error) {
		data, err := as.MeshGLB(ctx, b.File, byName(b.Files), b.Unit)
		return Made{Files: []File{{b.File + ".glb", data}}}, err
	})
	type mended struct {
		Did  app.MendResult `json:"did"`
		Mesh File           `json:"mesh"`
	}
	tool(s, "mend-mesh", "mend", "Closes seams and T-joints of a mesh that are nowhere wider than a tolerance.", func(ctx context.Context, as *app.As, b struct {
		OnMesh
		ToleranceMM float64 `json:"toleranceMm" exclusiveMinimum:"0"`
		Out         string  `json:"out" minLength:"1" maxLength:"500" doc:"Name of the mended mesh: .ply, .stl or .glb."`
	}) (mended, error) {
		r, data, err := as.Mend(ctx, b.File, byName(b.Files), b.Unit, b.ToleranceMM, b.Out)
		return mended{r, File{b.Out, data}}, err
	}, http.StatusNotFound)
	tool(s, "trace", "trace", "Measures a crack along the surface of a mesh.", func(ctx context.Context, as *app.As, b struct {
		OnMesh
		At        []Point `json:"at,omitempty" maxItems:"10000" doc:"Points along the crack in millimetres."`
		Vertices  []int   `json:"vertices,omitempty" maxItems:"10000" doc:"Or vertices of the file, from 0."`
		StdMM     float64 `json:"stdMm,omitempty" minimum:"0"`
		WallMM    float64 `json:"wallMm,omitempty" minimum:"0"`
		MeshStdMM float64 `json:"meshStdMm,omitempty" minimum:"0"`
	}) (app.TraceResult, error) {
		return as.Trace(ctx, b.File, byName(b.Files), app.TraceOptions{Unit: b.Unit, At: vecs(b.At), Vertices: b.Vertices, StdMM: b.StdMM, WallMM: b.WallMM, MeshStdMM: b.MeshStdMM})
	})
	tool(s, "cut", "cut", "Cuts a mesh by planes or along a curve.", cut)
	tool(s, "find-zones", "zones", "Finds what a mesh offers to make zones from.", func(ctx context.Context, as *app.As, b struct {
		OnMesh
		SharpDeg  float64 `json:"sharpDeg,omitempty" minimum:"0" default:"30"`
		BoreTolMM float64 `json:"boreToleranceMm,omitempty" minimum:"0" default:"0.3"`
		WallMM    float64 `json:"wallMm,omitempty" minimum:"0"`
		Least     float64 `json:"least,omitempty" minimum:"0" maximum:"1" default:"0.01"`
	}) (app.FoundZones, error) {
		return as.Zones(ctx, b.File, byName(b.Files), b.Unit, b.SharpDeg, b.BoreTolMM, b.WallMM, b.Least)
	})
	tool(s, "make-zones", "make-zones", "Makes the zones of a casting from its mesh, by a recipe.", func(ctx context.Context, as *app.As, b struct {
		OnFiles
		Recipe string `json:"recipe" minLength:"1" maxLength:"500" doc:"Name of the recipe among the files."`
		Name   string `json:"name" minLength:"1" maxLength:"200" doc:"Name of the files that are made, without ending."`
	}) (Made, error) {
		z, err := as.MakeZones(ctx, b.Recipe, byName(b.Files), b.Name+".ply")
		return Made{Files: []File{{b.Name + ".ply", z.PLY}, {b.Name + ".yaml", z.YAML}}}, err
	})
}

func cut(ctx context.Context, as *app.As, b struct {
	OnMesh
	Planes []struct {
		Normal   Point   `json:"normal"`
		OffsetMM float64 `json:"offsetMm"`
	} `json:"planes,omitempty" maxItems:"10" doc:"The planes n·x = d."`
	Window []Point `json:"window,omitempty" maxItems:"2" doc:"Two corners of a box: planes cut only inside it."`
	Along  []Point `json:"along,omitempty" maxItems:"10000" doc:"Instead of planes: a closed curve on the surface."`
	Outer  *Point  `json:"outer,omitempty" doc:"With along: a point of the second side."`
}) (app.CutResult, error) {
	o := app.CutOptions{Unit: b.Unit, Along: vecs(b.Along)}
	for _, p := range b.Planes {
		o.Planes = append(o.Planes, app.CutPlane{Normal: geom.Vec(p.Normal), OffsetMM: p.OffsetMM})
	}
	if len(b.Window) == 2 {
		o.Window = &[2]geom.Vec{geom.Vec(b.Window[0]), geom.Vec(b.Window[1])}
	}
	if b.Outer != nil {
		o.Outer = geom.Vec(*b.Outer)
	}
	return as.Cut(ctx, b.File, byName(b.Files), o)
}
