package app

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"time"

	"fettle/internal/diag"
	"fettle/internal/unit"
)

// Kinds of work that a store's jobs are for.
const (
	TaskAssess TaskKind = "assess" // assessment.json of a job
	TaskFiles  TaskKind = "files"  // report, day sheets, order list and assessment of a job, as a zip
)

// TaskInput is what work about a job needs to know beside its name.
type TaskInput struct {
	On string `json:"on"` // the day it is judged on, year-month-day
}

// AboutJob is work about a job, as it is asked for.
func AboutJob(kind TaskKind, id, by string, on unit.Date) (Wanted, error) {
	input, err := json.Marshal(TaskInput{on.String()})
	return Wanted{Kind: kind, About: id, Input: string(input), By: by}, err
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
		hash, _, err := in.Put(ctx, bytes.NewReader(data), mostResult)
		return hash, err
	}
}

// zipped is files in one, the same bytes each time.
func zipped(files map[string][]byte, made time.Time) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range ResultNames {
		data, ok := files[name]
		if !ok {
			continue
		}
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: made.UTC()})
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(data); err != nil {
			return nil, err
		}
	}
	err := z.Close()
	return b.Bytes(), err
}
