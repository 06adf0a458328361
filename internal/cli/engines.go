package cli

import (
	"fmt"
	"math"
	"path/filepath"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

type measureCmd struct {
	Points    string   `required:"" help:"Control points: a CSV file as in a body folder." placeholder:"CSV"`
	Readings  string   `required:"" help:"Readings: a CSV file as in a job folder, with std_mm, or give --std." placeholder:"CSV"`
	Impact    string   `default:"unknown" enum:"front,rear,left,right,front-left,front-right,rear-left,rear-right,unknown" help:"Where the vehicle was hit."`
	Std       float64  `help:"Standard uncertainty in millimetres of readings that give none." placeholder:"MM"`
	Alike     *float64 `help:"For points without coordinates: how alike left and right are built, as a standard deviation in millimetres of one coordinate; the std_mm of the points unless given." placeholder:"MM"`
	Temp      *float64 `help:"Temperature of the body in all set-ups, in degrees Celsius." placeholder:"C"`
	TempStd   float64  `help:"Standard uncertainty of that temperature, in kelvins." placeholder:"K"`
	Expansion *float64 `help:"Linear expansion of the body, in parts per million per kelvin; nothing is corrected without." placeholder:"PPM"`
	ExpandStd float64  `help:"Standard uncertainty of the expansion, in parts per million per kelvin." placeholder:"PPM"`
	Reference *float64 `help:"Temperature the points are for, in degrees Celsius; needed with --expansion." placeholder:"C"`
	Seed      uint64   `help:"Starts the sampling of triples above 60 points." placeholder:"N"`
	JSON      bool     `name:"json" help:"Print the result as JSON."`
}

func (measureCmd) Help() string {
	return `Says which control points have moved, from two files alone. The axes are those of the points.
Readings are coordinates (xyz), points on the rim of a hole (rim), lengths and heights.

Without published places, a points file of the columns id and mirror (and std_mm, name) has the lengths of one side compared with those of the other. That says nothing of where a point stands: damage that is alike on both sides looks like none.

Example:

  fettle measure --points fettle-demo/body/points.csv --readings fettle-demo/job/readings.csv --std 0.5 --impact front-left
`
}

func (c measureCmd) run(env Env, a *app.App) (int, error) {
	o, err := c.options()
	if err != nil {
		return Usage, err
	}
	r, err := a.MeasureFiles(env.context(), filepath.ToSlash(c.Points), filepath.ToSlash(c.Readings), o)
	if err != nil {
		return Refused, err
	}
	code := Done
	if r.Blocked() {
		code = Blocked
	}
	if c.JSON {
		if r.Sides != nil {
			return code, printJSON(env.Stdout, r.Sides)
		}
		return code, printJSON(env.Stdout, r.Result)
	}
	_, err = fmt.Fprint(env.Stdout, a.MeasureText(r, column))
	return code, err
}

// options are the flags as the service takes them.
func (c measureCmd) options() (app.MeasureOptions, error) {
	o := app.MeasureOptions{Impact: c.Impact, StdMM: c.Std, Seed: c.Seed, TempStd: c.TempStd, ExpandStd: c.ExpandStd}
	for _, v := range []struct {
		flag  string
		value *float64
	}{{"--std", &c.Std}, {"--temp", c.Temp}, {"--temp-std", &c.TempStd}, {"--expansion", c.Expansion}, {"--expand-std", &c.ExpandStd}, {"--reference", c.Reference}} {
		if v.value != nil && (math.IsNaN(*v.value) || math.IsInf(*v.value, 0)) {
			return o, wrongUse("measure", v.flag, "is not a finite number", "write for example "+v.flag+" 0.5")
		}
	}
	if c.Alike != nil {
		if !(*c.Alike > 0) || math.IsInf(*c.Alike, 0) {
			return o, wrongUse("measure", "--alike", "is not a number above zero", "write for example --alike 0.5")
		}
		o.AlikeMM = *c.Alike
	}
	refuse := func(what, msg, hint string) (app.MeasureOptions, error) {
		return o, &diag.Error{Kind: diag.Usage, Op: "measure", Subject: what, Msg: msg, Hint: hint}
	}
	if c.Temp != nil {
		o.Temp = unit.Some(*c.Temp)
	}
	switch {
	case c.TempStd < 0 || c.ExpandStd < 0 || c.Std < 0:
		return refuse("--std, --temp-std, --expand-std", "an uncertainty is not negative", "")
	case c.Expansion == nil && (c.Temp != nil || c.Reference != nil || c.TempStd > 0 || c.ExpandStd > 0):
		return refuse("--expansion", "the temperature says nothing without the expansion of the body", "give --expansion, --reference and --temp together")
	case c.Expansion == nil:
		return o, nil
	case c.Reference == nil:
		return refuse("--reference", "the temperature the points are for is missing", "give it beside --expansion")
	}
	o.Expansion, o.ReferenceC = unit.Some(*c.Expansion), *c.Reference
	return o, nil
}

type meshCmd struct {
	File string  `arg:"" help:"A mesh file: STL, PLY, OBJ or GLB."`
	Unit string  `help:"Unit of the file's numbers: mm, cm, m or in; never guessed."`
	GLB  string  `name:"glb" help:"Write the mesh with its zones as GLB for a viewer." placeholder:"FILE"`
	Mend float64 `help:"Close seams and T-joints that are nowhere wider than so many millimetres, into the new file --out." placeholder:"MM"`
	Out  string  `help:"With --mend: the mended mesh, a file that is not there yet: .ply, which holds everything, .stl or .glb." placeholder:"FILE"`
	JSON bool    `name:"json" help:"Print the result as JSON."`
}

func (meshCmd) Help() string {
	return `Describes a mesh and its faults: holes, seams with their width, T-joints, edges of three or more triangles, flipped edges, triangles without area, places where the surface meets itself.

With --mend it closes what is nowhere wider than the tolerance and lists all it did and all it left: points of free edges become one in their middle, edges are divided in corners of the other side. It closes no hole and no slot with a blunt end, and joins no sides that lie back to back; a gap that is meant looks like a seam, so give a tolerance below it.

Examples:

  fettle mesh fettle-demo/body/front-casting.ply --unit mm --glb casting.glb
  fettle mesh scan.stl --unit mm --mend 0.01 --out scan-mended.ply
`
}

func (c meshCmd) run(env Env, a *app.App) (int, error) {
	file := filepath.ToSlash(c.File)
	if c.Mend != 0 || c.Out != "" {
		return c.mend(env, a, file)
	}
	r, err := a.MeshFile(env.context(), file, c.Unit)
	if err != nil {
		return Refused, err
	}
	if c.GLB != "" {
		if code, err := beside(c.GLB, c.File, func() ([]byte, error) { return a.MeshGLB(env.context(), file, c.Unit) }); err != nil {
			return code, err
		}
	}
	return show(env, c.JSON, r)
}

// mend writes the mended mesh to a file that is not there yet.
func (c meshCmd) mend(env Env, a *app.App, file string) (int, error) {
	switch {
	case !(c.Mend > 0) || math.IsInf(c.Mend, 0):
		return Usage, wrongUse("mesh", "--mend", "is missing, or no distance above 0", "give the widest gap to close in millimetres, for example --mend 0.01")
	case c.Out == "":
		return Usage, wrongUse("mesh", "--out", "is missing", "give the file for the mended mesh, for example --out mended.ply")
	case c.GLB != "":
		return Usage, wrongUse("mesh", "--glb", "does not go with --mend", "write the mended mesh first, and draw that")
	}
	r, data, err := a.MendFile(env.context(), file, c.Unit, c.Mend, filepath.ToSlash(c.Out))
	if err != nil {
		return exitCode(err), err
	}
	dir, err := parentOf(c.Out)
	if err != nil {
		return Refused, err
	}
	err = dir.within(func() error {
		if dir.has(filepath.Base(c.Out)) {
			return &diag.Error{Kind: diag.Conflict, Op: "mend", Subject: c.Out, Msg: "is there already", Hint: "give another name; nothing is written over"}
		}
		return dir.write(filepath.Base(c.Out), data)
	})
	if err != nil {
		return exitCode(err), err
	}
	return show(env, c.JSON, r)
}

// show prints a result, as JSON where that is asked for.
func show(env Env, asJSON bool, r interface{ Text(app.Column) string }) (int, error) {
	if asJSON {
		return Done, printJSON(env.Stdout, r)
	}
	_, err := fmt.Fprint(env.Stdout, r.Text(column))
	return Done, err
}

// beside writes what was made to a file of its own, never over the input.
func beside(file, input string, make func() ([]byte, error)) (int, error) {
	if err := notOver(file, input); err != nil {
		return Usage, err
	}
	data, err := make()
	if err == nil {
		err = writeFile(file, data)
	}
	if err != nil {
		return Refused, err
	}
	return Done, nil
}

type cutCmd struct {
	Mesh    string   `required:"" help:"A mesh file: STL, PLY, OBJ or GLB." placeholder:"FILE"`
	Unit    string   `help:"Unit of the file's numbers: mm, cm, m or in; never guessed."`
	Plane   []string `sep:"none" help:"The plane n·x = d as nx,ny,nz,d; d in millimetres. Several cut a corner: the second side is where n·x >= d of all." placeholder:"NX,NY,NZ,D"`
	Window  string   `help:"Planes cut only inside the box between two corners." placeholder:"\"X,Y,Z; X,Y,Z\""`
	Along   string   `help:"Instead of planes: a closed curve on the surface through these points." placeholder:"\"X,Y,Z; X,Y,Z; ...\""`
	Outer   string   `help:"With --along: a point of the second side." placeholder:"X,Y,Z"`
	Picture string   `help:"Draw the cut to this SVG file, and where it does not divide the part." placeholder:"FILE"`
	JSON    bool     `name:"json" help:"Print the result as JSON."`
}

func (cutCmd) Help() string {
	return `Cuts a mesh by planes or along a curve: loops, length, what lies on each side, and whether the part is proven to come in two.

Example:

  fettle cut --mesh fettle-demo/body/front-casting.ply --unit mm --plane 1,0,0,268 --picture cut.svg
`
}

func (c cutCmd) run(env Env, a *app.App) (int, error) {
	o, err := c.options()
	if err != nil {
		return Usage, err
	}
	r, err := a.CutFile(env.context(), filepath.ToSlash(c.Mesh), o)
	if err != nil {
		return Refused, err
	}
	if c.Picture != "" {
		if code, err := beside(c.Picture, c.Mesh, r.Picture); err != nil {
			return code, err
		}
	}
	return show(env, c.JSON, r)
}

// options reads where to cut.
func (c cutCmd) options() (app.CutOptions, error) {
	o := app.CutOptions{Unit: c.Unit}
	var err error
	switch {
	case len(c.Plane) == 0 && c.Along == "":
		return o, wrongUse("cut", "--plane", "is missing", "give --plane nx,ny,nz,d, for example 1,0,0,268, or --along")
	case c.Along != "" && (len(c.Plane) > 0 || c.Window != ""):
		return o, wrongUse("cut", "--along", "takes no planes and no window", "give one or the other")
	case (c.Along != "") != (c.Outer != ""):
		return o, wrongUse("cut", "--outer", "goes with --along", "give a point of the second side, for example --outer 10,-400,350")
	case c.Along != "":
		if o.Along, err = points("--along", c.Along); err != nil {
			return o, err
		}
		outer, err := points("--outer", c.Outer)
		if err == nil && len(outer) != 1 {
			err = wrongUse("cut", "--outer", "is one point", "write x,y,z")
		}
		if err == nil {
			o.Outer = outer[0]
		}
		return o, err
	}
	for _, s := range c.Plane {
		v, ok := floats(s)
		if !ok || len(v) != 4 {
			return o, wrongUse("cut", "--plane "+s, "is not a plane", "write four numbers nx,ny,nz,d, for example 1,0,0,268")
		}
		if v[0] == 0 && v[1] == 0 && v[2] == 0 {
			return o, wrongUse("cut", "--plane "+s, "has no direction: nx, ny and nz are all zero", "write for example 1,0,0,268")
		}
		o.Planes = append(o.Planes, app.CutPlane{Normal: geom.Vec{v[0], v[1], v[2]}, OffsetMM: v[3]})
	}
	if c.Window != "" {
		w, err := points("--window", c.Window)
		if err != nil || len(w) != 2 {
			return o, wrongUse("cut", "--window", "is not a box", "write its two corners x,y,z; x,y,z")
		}
		o.Window = &[2]geom.Vec{w[0], w[1]}
	}
	return o, nil
}
