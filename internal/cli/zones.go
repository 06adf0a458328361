package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"fettle/internal/app"
	"fettle/internal/diag"
)

type zonesCmd struct {
	Find zonesFindCmd `cmd:"" help:"Find the regions between sharp edges, the holes, the free edges and the ends of walls of a mesh; draft a recipe."`
	Make zonesMakeCmd `cmd:"" help:"Make the zones of a casting by a recipe: a mesh with zones, and the lines for body.yaml."`
}

type zonesFindCmd struct {
	File          string  `arg:"" help:"A mesh file: STL, PLY, OBJ or GLB."`
	Unit          string  `help:"Unit of the file's numbers: mm, cm, m or in; never guessed."`
	Sharp         float64 `default:"30" help:"An edge at which the normals differ by more degrees is sharp." placeholder:"DEG"`
	BoreTolerance float64 `default:"0.3" help:"A closed sharp edge within so many millimetres of a circle is the rim of a hole." placeholder:"MM"`
	Wall          float64 `help:"Nominal thickness of the walls, whose ends are looked for; measured on the mesh when left out." placeholder:"MM"`
	Recipe        string  `help:"Write a recipe to start from to this file: every region of at least --least is a zone." placeholder:"FILE"`
	Least         float64 `default:"0.01" help:"Least share of the surface for a region to be a zone of its own." placeholder:"SHARE"`
	Picture       string  `help:"Draw the regions to this SVG file, with the names they have in the recipe." placeholder:"FILE"`
	All           bool    `help:"List everything, not only the largest."`
	JSON          bool    `name:"json" help:"Print the result as JSON."`
}

func (zonesFindCmd) Help() string {
	return `Finds what a mesh offers to make zones from. With --recipe it also drafts a recipe; edit it and run 'fettle zones make'. A recipe that is there already is not written over.

Example:

  fettle zones find fettle-demo/body/front-casting.ply --unit mm --recipe zones.yaml
`
}

func (c zonesFindCmd) run(env Env, a *app.App) (int, error) {
	seen, err := c.seenFrom()
	if err != nil {
		return Refused, err
	}
	r, err := a.FindZones(env.context(), filepath.ToSlash(c.File), seen, c.Unit, c.Sharp, c.BoreTolerance, c.Wall, c.Least)
	if err != nil {
		return Refused, err
	}
	if c.Recipe != "" {
		if err := c.draft(r); err != nil {
			return Refused, err
		}
	}
	if c.Picture != "" {
		if code, err := beside(c.Picture, c.File, r.Picture); err != nil {
			return code, err
		}
	}
	if c.JSON {
		return Done, printJSON(env.Stdout, r)
	}
	most := 20
	if c.All {
		most = len(r.Regions) + len(r.Bores) + len(r.FreeEdges) + len(r.WallEnds)
	}
	_, err = fmt.Fprint(env.Stdout, r.Text(column, most))
	return Done, err
}

// seenFrom is the mesh as the recipe names it: relative to its folder.
func (c zonesFindCmd) seenFrom() (string, error) {
	if c.Recipe == "" || filepath.IsAbs(c.File) {
		return filepath.ToSlash(c.File), nil
	}
	rel, err := filepath.Rel(filepath.Dir(c.Recipe), c.File)
	return filepath.ToSlash(rel), err
}

// draft writes the recipe.
func (c zonesFindCmd) draft(r app.FoundZones) error {
	if r.Draft == nil {
		return wrongUse("zones find", "--least", "no region is large enough to be a zone", "give a smaller share")
	}
	f, err := parentOf(c.Recipe)
	if err != nil {
		return err
	}
	return f.within(func() error {
		if f.has(filepath.Base(c.Recipe)) {
			return &diag.Error{Kind: diag.Conflict, Op: "zones find", Subject: c.Recipe, Msg: "is there already", Hint: "give another name, or remove it"}
		}
		return f.write(filepath.Base(c.Recipe), r.Draft)
	})
}

type zonesMakeCmd struct {
	Recipe  string `arg:"" help:"The recipe (docs/formats/zones.md)."`
	Out     string `help:"Folder to write to; that of the recipe when left out." placeholder:"DIR"`
	Picture string `help:"Draw the zones to this SVG file." placeholder:"FILE"`
	Name    string `help:"Name of the files, without ending; that of the recipe with '-made' when left out." placeholder:"NAME"`
}

func (zonesMakeCmd) Help() string {
	return `Applies a recipe. The same recipe and mesh always give the same bytes. Writes NAME.ply, the mesh with a zone number on every face, and NAME.yaml, the lines for the casting in body.yaml; put both into the body folder.

Example:

  fettle zones make zones.yaml
`
}

func (c zonesMakeCmd) run(env Env, a *app.App) (int, error) {
	dir, name := c.Out, c.Name
	if dir == "" {
		dir = filepath.Dir(c.Recipe)
	}
	if name == "" {
		base := filepath.Base(c.Recipe)
		name = strings.TrimSuffix(base, filepath.Ext(base)) + "-made"
	}
	if name != filepath.Base(name) {
		return Usage, wrongUse("zones make", "--name "+name, "is not the name of a file", "give the folder with --out")
	}
	mayWrite := func(f *folder, meshFile string) error {
		if err := notOverInputs(f, name, c.Recipe, meshFile); err != nil {
			return err
		}
		_, err := f.state(name+".ply", 0)
		return err
	}
	r, err := a.MakeZones(env.context(), filepath.ToSlash(c.Recipe), name+".ply", func(meshFile string) error {
		if _, err := os.Stat(dir); err != nil {
			return nil // told, or made, when it is written to
		}
		f, err := zonesFolder(c.Out, dir)
		if err != nil {
			return err
		}
		return f.within(func() error { return mayWrite(f, meshFile) })
	})
	if err != nil {
		return exitCode(err), err
	}
	f, err := zonesFolder(c.Out, dir)
	if err != nil {
		return Refused, err
	}
	err = f.within(func() error {
		if err := mayWrite(f, r.Mesh); err != nil {
			return err
		}
		if err := f.write(name+".ply", r.PLY); err != nil {
			return err
		}
		return f.write(name+".yaml", r.YAML)
	})
	if err != nil {
		return exitCode(err), err
	}
	if c.Picture != "" {
		if code, err := beside(c.Picture, c.Recipe, r.Picture); err != nil {
			return code, err
		}
	}
	fmt.Fprint(env.Stdout, r)
	_, err = fmt.Fprintf(env.Stdout, "Written: %s and %s\n", filepath.Join(dir, name+".ply"), filepath.Join(dir, name+".yaml"))
	return Done, err
}

// zonesFolder is the folder to write to: the one given, or that of the recipe.
func zonesFolder(out, dir string) (*folder, error) {
	if out == "" {
		return lockedFolder(dir)
	}
	return openFolder(out)
}

// notOverInputs keeps what zones are made from, and every other document and
// mesh, from being written over: only what was made here before may be.
func notOverInputs(f *folder, name, recipe, meshFile string) error {
	for _, in := range []string{recipe, meshFile} {
		for _, ending := range []string{".ply", ".yaml"} {
			if err := notOver(f.path(name+ending), in); err != nil {
				return err
			}
		}
	}
	data, err := f.state(name+".yaml", 1<<10)
	if err != nil {
		return err
	}
	taken := func(file, what string) error {
		return &diag.Error{Kind: diag.Usage, Op: "zones make", Subject: f.path(file), Msg: "is there already and is another " + what, Hint: "give another --name or --out"}
	}
	switch {
	case data != nil && !app.IsMadeZones(data):
		return taken(name+".yaml", "document")
	case data == nil && f.has(name+".ply"):
		return taken(name+".ply", "mesh")
	}
	return nil
}
