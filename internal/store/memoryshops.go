package store

import (
	"context"
	"maps"
	"math"
	"slices"

	"fettle/internal/app"
	"fettle/internal/job"
)

// OwnerOf is the shop that a job belongs to.
func (m *Memory) OwnerOf(ctx context.Context, id string) (string, error) {
	lines, err := m.Lines(ctx, id)
	if err != nil {
		return "", err
	}
	owner, _, err := job.HandedTo(job.ChainOf(lines))
	return owner, err
}

// ListOf is jobs of some owners in the order of their names.
func (m *Memory) ListOf(ctx context.Context, owners []string, after string, most int) ([]app.JobLine, error) {
	all, err := m.List(ctx, after, math.MaxInt)
	var out []app.JobLine
	for _, l := range all {
		if l.Owner, err = m.OwnerOf(ctx, l.ID); err != nil {
			return nil, err
		}
		if slices.Contains(owners, l.Owner) && len(out) < most {
			out = append(out, l)
		}
	}
	return out, err
}

// Named says whether a job of some owners has ever named bytes or a content.
func (m *Memory) Named(ctx context.Context, owners []string, hash string) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for id := range maps.Keys(m.jobs) {
		c := job.ChainOf(m.jobs[id])
		owner, _, err := job.HandedTo(c)
		if err != nil {
			return false, err
		}
		library, evidence, _, err := job.Contents(c)
		if err != nil {
			return false, err
		}
		if slices.Contains(owners, owner) && slices.Contains(append(library, evidence...), hash) {
			return true, ctx.Err()
		}
	}
	return false, ctx.Err()
}

// NoteBrought notes that a shop has brought bytes or a content.
func (m *Memory) NoteBrought(ctx context.Context, shop, hash string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.brought[[2]string{shop, hash}] = true
	return ctx.Err()
}

// HasBrought says whether a shop has brought bytes or a content.
func (m *Memory) HasBrought(ctx context.Context, shop, hash string) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.brought[[2]string{shop, hash}], ctx.Err()
}
