package cli

import (
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/geom"
)

type traceCmd struct {
	Mesh     string  `required:"" help:"A mesh file: STL, PLY, OBJ or GLB." placeholder:"FILE"`
	Unit     string  `help:"Unit of the file's numbers: mm, cm, m or in; never guessed."`
	At       string  `xor:"where" help:"Points along the crack, from one end to the other, in millimetres." placeholder:"\"X,Y,Z; X,Y,Z; ...\""`
	Vertices string  `xor:"where" help:"Or vertices of the file, numbered from 0 in its order." placeholder:"I,J,..."`
	Std      float64 `help:"Standard uncertainty of each point along the surface in millimetres; exact points when left out." placeholder:"MM"`
	Wall     float64 `help:"Nominal wall in millimetres: points are then kept on one side of the wall." placeholder:"MM"`
	MeshStd  float64 `help:"Standard uncertainty of the mesh against the real part in millimetres." placeholder:"MM"`
	JSON     bool    `name:"json" help:"Print the result as JSON."`
}

func (traceCmd) Help() string {
	return `Measures a crack along the surface of a mesh, as a finding of a job is measured: points that are only noise across the crack do not make it longer.

Example:

  fettle trace --mesh fettle-demo/body/front-casting.ply --unit mm --std 0.5 --wall 5 --at 672,-515,392;683.5,-515,397.6;695,-515,400.8;704,-515,404.1
`
}

func (c traceCmd) run(env Env, a *app.App) (int, error) {
	o := app.TraceOptions{Unit: c.Unit, StdMM: c.Std, WallMM: c.Wall, MeshStdMM: c.MeshStd}
	var err error
	switch {
	case c.At != "":
		o.At, err = points("--at", c.At)
	case c.Vertices != "":
		o.Vertices, err = numbers(c.Vertices)
	default:
		err = wrongUse("trace", "--at", "the points of the trace are missing", "give --at \"x,y,z; x,y,z\" or --vertices i,j")
	}
	if err != nil {
		return Usage, err
	}
	r, err := a.TraceFile(env.context(), filepath.ToSlash(c.Mesh), o)
	if err != nil {
		return Refused, err
	}
	return show(env, c.JSON, r)
}

func wrongUse(op, subject, msg, hint string) error {
	return &diag.Error{Kind: diag.Usage, Op: op, Subject: subject, Msg: msg, Hint: hint}
}

// points reads "x,y,z; x,y,z".
func points(flag, s string) ([]geom.Vec, error) {
	var out []geom.Vec
	for i, part := range strings.Split(strings.TrimRight(strings.TrimSpace(s), "; "), ";") {
		v, ok := floats(part)
		if !ok || len(v) != 3 {
			return nil, wrongUse("read", fmt.Sprintf("%s, point %d", flag, i+1), fmt.Sprintf("%q is not a point", strings.TrimSpace(part)),
				"write three numbers x,y,z in millimetres, points apart by ';'")
		}
		out = append(out, geom.Vec{v[0], v[1], v[2]})
	}
	return out, nil
}

// floats reads numbers apart by commas.
func floats(s string) ([]float64, bool) {
	var out []float64
	for _, p := range strings.Split(s, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || x-x != 0 {
			return nil, false
		}
		out = append(out, x)
	}
	return out, true
}

// numbers reads whole numbers apart by commas.
func numbers(s string) ([]int, error) {
	var out []int
	for _, p := range strings.Split(s, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(p))
		if err != nil || n < 0 {
			return nil, wrongUse("read", "--vertices", fmt.Sprintf("%q is not a vertex", strings.TrimSpace(p)), "write whole numbers from 0 on, for example 0,100")
		}
		out = append(out, n)
	}
	return out, nil
}
