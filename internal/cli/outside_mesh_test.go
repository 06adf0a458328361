//go:build outside

package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
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
