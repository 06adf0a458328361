package app

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// Kinds of work that a store's jobs are for.
const (
	TaskAssess TaskKind = "assess" // assessment.json of a job
	TaskZones  TaskKind = "zones"  // the mesh of a casting with zones, and the lines for its body, by a recipe, as a zip
	TaskSweep  TaskKind = "sweep"  // bytes that nothing has referred to for a day are removed
	TaskScan   TaskKind = "scan"   // all bytes are read and held against their hashes
	TaskNext   TaskKind = "next"   // what a job waits for, on whom and since when, for lists
	TaskFiles  TaskKind = "files"  // report, day sheets, order list and assessment of a job, as a zip
)

// TaskInput is what work about a job needs to know beside its name.
type TaskInput struct {
	On string `json:"on"` // the day it is judged on, year-month-day
}

// AboutJob is work about a job, as it is asked for.
func AboutJob(kind TaskKind, id, by string, on unit.Date) (Wanted, error) {
	input, err := json.Marshal(TaskInput{on.String()})
	return Wanted{Kind: kind, About: id, Input: string(input), By: by, Pace: Pace{Standing: kind == TaskNext}}, err
}

// zonesInput is what making zones needs to know beside the kept recipe and mesh.
type zonesInput struct {
	Recipe string `json:"recipe"` // name of the recipe among the files
}

// ZonesWanted keeps a recipe and the mesh it names, and asks for zones to be made of them.
func (a *App) ZonesWanted(ctx context.Context, in Library, recipe, by string) (Wanted, error) {
	data, err := a.read("", recipe, aDocument, "check the path")
	if err != nil {
		return Wanted{}, err
	}
	r, err := body.DecodeZoneRecipe(recipe, data)
	if err != nil {
		return Wanted{}, err
	}
	if !fs.ValidPath(path.Clean(r.Mesh)) {
		return Wanted{}, &diag.Error{Kind: diag.Denied, Op: "zones", Subject: recipe, Msg: "names a mesh that does not lie beside it", Hint: "put the mesh beside the recipe"}
	}
	_, _, meshData, err := a.meshOfRecipe(r, recipe)
	if err != nil {
		return Wanted{}, err
	}
	hash, err := in.Keep(ctx, map[string][]byte{path.Base(recipe): data, path.Clean(r.Mesh): meshData})
	if err != nil {
		return Wanted{}, err
	}
	input, err := json.Marshal(zonesInput{path.Base(recipe)})
	return Wanted{Kind: TaskZones, About: hash, Input: string(input), By: by}, err
}

// zonesOf makes zones of a kept recipe and mesh.
func (a *App) zonesOf(in Store) Doing {
	return func(ctx context.Context, t Task) (string, error) {
		var input zonesInput
		if err := json.Unmarshal([]byte(t.Input), &input); err != nil || input.Recipe == "" {
			return "", &diag.Error{Kind: diag.Invalid, Op: "task", Subject: t.About, Msg: "it does not say which of the files is the recipe"}
		}
		files, err := in.Files(ctx, t.About)
		if err != nil {
			return "", err
		}
		name := strings.TrimSuffix(input.Recipe, path.Ext(input.Recipe)) + "-made"
		made, err := New(keptFiles(files), a.version).MakeZones(ctx, input.Recipe, name+".ply", func(string) error { return nil })
		if err != nil {
			return "", err
		}
		data, err := zipped(map[string][]byte{name + ".ply": made.PLY, name + ".yaml": made.YAML}, t.Made)
		if err != nil {
			return "", err
		}
		return keptAs(ctx, in, data)
	}
}

// Background is how work about the jobs of a store is done. Done twice it makes the same bytes again.
func (a *App) Background(in Store) map[TaskKind]Doing {
	return map[TaskKind]Doing{
		TaskAssess: a.aboutJob(in, func(_ context.Context, _ *Opened, r Assessment) ([]byte, error) {
			data, err := json.MarshalIndent(r, "", "  ")
			return append(data, '\n'), err
		}),
		TaskFiles: a.aboutJob(in, func(ctx context.Context, c *Opened, r Assessment) ([]byte, error) {
			files, err := a.ResultFiles(ctx, c, r, true)
			if err != nil {
				return nil, err
			}
			return zipped(files, r.Made)
		}),
		TaskZones: a.zonesOf(in),
	}
}

// mostResult is how many bytes what was made may have.
const mostResult = 512 << 20

// aboutJob assesses a job as it stands now, and keeps what is made of that.
func (a *App) aboutJob(in Store, make func(context.Context, *Opened, Assessment) ([]byte, error)) Doing {
	return func(ctx context.Context, t Task) (string, error) {
		var input TaskInput
		err := json.Unmarshal([]byte(t.Input), &input)
		day, noDay := time.Parse("2006-01-02", input.On)
		if err != nil || noDay != nil {
			return "", &diag.Error{Kind: diag.Invalid, Op: "task", Subject: t.About, Msg: "it does not say on which day the job is to be judged"}
		}
		c, err := a.OpenStored(ctx, in, t.About)
		if err != nil {
			return "", err
		}
		r, err := a.AssessOpened(ctx, c, day.Add(12*time.Hour))
		if err != nil {
			return "", err
		}
		data, err := make(ctx, c, r)
		if err != nil {
			return "", err
		}
		return keptAs(ctx, in, data)
	}
}

// keptAs is the hash under which what was made is kept.
func keptAs(ctx context.Context, in Blobs, data []byte) (string, error) {
	hash, _, err := in.Put(ctx, bytes.NewReader(data), mostResult)
	return hash, err
}

// zipped is files in one, the same bytes each time.
func zipped(files map[string][]byte, made time.Time) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: made.UTC()})
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(files[name]); err != nil {
			return nil, err
		}
	}
	err := z.Close()
	return b.Bytes(), err
}
