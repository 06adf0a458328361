//go:build outside

package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// publicMesh writes the mesh of the npm package bunny 1.0.1 (licence field:
// Public Domain; the set-up installs it) as an OBJ file.
func publicMesh(t *testing.T, dir, name string) {
	t.Helper()
	from := os.Getenv("FETTLE_OUTSIDE")
	if from == "" {
		from = filepath.Join("..", "..", "build")
	}
	text, err := os.ReadFile(filepath.Join(from, "node_modules", "bunny", "index.js"))
	if err != nil {
		t.Fatal(err)
	}
	var points []geom.Vec
	var faces [][]int
	for name, to := range map[string]any{"positions": &points, "cells": &faces} {
		_, rest, ok := strings.Cut(string(text), "exports."+name+"=")
		if !ok {
			t.Fatalf("no %s in the package", name)
		}
		if err := json.NewDecoder(strings.NewReader(rest)).Decode(to); err != nil {
			t.Fatal(err)
		}
	}
	obj(t, dir, name, points, faces)
}

// TestOutsideTraceOnPublicMesh. Expected: CGAL 5.5 (Surface_mesh_shortest_path)
// on the same mesh, vertices in the order of the package.
func TestOutsideTraceOnPublicMesh(t *testing.T) {
	dir := t.TempDir()
	publicMesh(t, dir, "public.obj")
	for v, want := range map[int][2]float64{100: {7.19764412, 6.03594779}, 500: {10.32078444, 8.55089927}, 1000: {7.29190511, 5.98723298},
		1500: {6.88838532, 5.37544793}, 1838: {5.43078798, 4.26774173}} {
		r := trace(t, dir, "--mesh", "public.obj", "--unit", "mm", "--vertices", fmt.Sprintf("0,%d", v))
		if math.Abs(r.ExactMM-want[0]) > 1e-8 || math.Abs(r.ChordMM-want[1]) > 1e-8 || math.Abs(r.LengthMM-want[0]) > 1e-8 || !r.ExactProven {
			t.Errorf("to vertex %d: exact %.9f, length %.9f, chord %.9f, want %v", v, r.ExactMM, r.LengthMM, r.ChordMM, want)
		}
	}
}

// TestOutsideCutOnPublicMesh. Expected: computed once with an independent
// program (NumPy) on the same mesh.
func TestOutsideCutOnPublicMesh(t *testing.T) {
	dir := t.TempDir()
	publicMesh(t, dir, "public.obj")
	code, out, stderr := run(t, dir, "cut", "--mesh", "public.obj", "--unit", "mm", "--plane", "0,1,0,4", "--json")
	var r struct {
		LengthMM     float64
		FacesCrossed int
		Closed       bool
		Divides      bool
		Sides        [2]struct{ AreaMM2, VolumeMM3 float64 }
	}
	if err := json.Unmarshal([]byte(out), &r); err != nil || code != Done {
		t.Fatal(err, stderr)
	}
	if math.Abs(r.Sides[0].VolumeMM3-123.733289) > 1e-6 || math.Abs(r.Sides[0].AreaMM2-118.247454) > 1e-6 ||
		math.Abs(r.LengthMM-22.532508) > 1e-6 || r.FacesCrossed != 135 || !r.Closed {
		t.Errorf("%+v", r)
	}
}

// TestOutsideZonesOfPublicMesh. Expected: flood fill over edges with another
// program on the same mesh.
func TestOutsideZonesOfPublicMesh(t *testing.T) {
	dir := t.TempDir()
	publicMesh(t, dir, "public.obj")
	for angle, want := range map[string][2]int{"20": {161, 2964}, "30": {26, 3562}, "40": {6, 3665}} {
		code, out, stderr := run(t, dir, "zones", "find", "public.obj", "--unit", "mm", "--sharp", angle, "--json")
		var r struct{ Regions []struct{ Faces int } }
		if err := json.Unmarshal([]byte(out), &r); err != nil || code != Done {
			t.Fatal(err, stderr)
		}
		most := 0
		for _, g := range r.Regions {
			most = max(most, g.Faces)
		}
		if len(r.Regions) != want[0] || most != want[1] {
			t.Errorf("%s degrees: %d regions, the largest of %d faces, want %v", angle, len(r.Regions), most, want)
		}
	}
}

// TestOutsideValidatorAcceptsTheDemosCasting: the Khronos validator (npm
// gltf-validator 2.0.0-dev.3.10) finds nothing wrong with what 'fettle mesh
// --glb' writes, and the zones are there.
func TestOutsideValidatorAcceptsTheDemosCasting(t *testing.T) {
	from := os.Getenv("FETTLE_OUTSIDE")
	if from == "" {
		from = filepath.Join("..", "..", "build")
	}
	from, err := filepath.Abs(from)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	demoInto(t, dir)
	if code, _, stderr := run(t, dir, "mesh", "fettle-demo/body/front-casting.ply", "--unit", "mm", "--glb", "casting.glb"); code != Done {
		t.Fatal(stderr)
	}
	script := "const v=require('gltf-validator'),fs=require('fs');v.validateBytes(new Uint8Array(fs.readFileSync(process.argv[1])))" +
		".then(r=>console.log(JSON.stringify(r)),e=>{console.error(String(e));process.exit(1)})"
	cmd := exec.Command("node", "-e", script, filepath.Join(dir, "casting.glb"))
	cmd.Dir = from
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var r struct {
		Issues struct{ NumErrors, NumWarnings, NumInfos, NumHints int }
		Info   struct{ TotalTriangleCount, DrawCallCount int }
	}
	if err := json.Unmarshal(out, &r); err != nil {
		t.Fatal(err)
	}
	if i := r.Issues; i.NumErrors+i.NumWarnings+i.NumInfos+i.NumHints > 0 || r.Info.TotalTriangleCount != 130000 || r.Info.DrawCallCount != 12 {
		t.Errorf("%+v", r)
	}
}
