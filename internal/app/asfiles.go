package app

import (
	"context"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/right"
)

// tool is the service with the files of a request and nothing else, for those who work here.
func (s *As) tool(files map[string][]byte) (*App, error) {
	_, err := s.may(right.SeeBodies, s.inShop())
	return s.reading(files), err
}

// AskProcedure asks a procedure alone what it says of some facts.
func (s *As) AskProcedure(ctx context.Context, file string, files map[string][]byte, known []string, on string) (decide.Ruled, error) {
	a, err := s.tool(files)
	if err != nil {
		return decide.Ruled{}, err
	}
	day, err := s.today(on)
	if err != nil {
		return decide.Ruled{}, err
	}
	return a.May(ctx, file, known, day)
}

// ProcedureTable is all that a procedure says, by what is known.
func (s *As) ProcedureTable(ctx context.Context, file string, files map[string][]byte, known []string, on string) (decide.RuleTable, error) {
	a, err := s.tool(files)
	if err != nil {
		return decide.RuleTable{}, err
	}
	day, err := s.today(on)
	if err != nil {
		return decide.RuleTable{}, err
	}
	return a.MayTable(ctx, file, known, day)
}

// Rows is the rows of a procedure as a table, and TakeRows puts those of a table into it.
func (s *As) Rows(file string, files map[string][]byte) ([]byte, error) {
	a, err := s.tool(files)
	if err != nil {
		return nil, err
	}
	return a.RowTable(file)
}

// TakeRows puts the rows of a table into a procedure.
func (s *As) TakeRows(file, table string, files map[string][]byte) (TakenRows, error) {
	a, err := s.tool(files)
	if err != nil {
		return TakenRows{}, err
	}
	return a.TakeRowTable(file, table)
}

// Measure says which points have moved, from two tables alone.
func (s *As) Measure(ctx context.Context, points, readings string, files map[string][]byte, o MeasureOptions) (FileMeasurement, error) {
	a, err := s.tool(files)
	if err != nil {
		return FileMeasurement{}, err
	}
	return a.MeasureFiles(ctx, points, readings, o)
}

// Mesh describes a mesh.
func (s *As) Mesh(ctx context.Context, file string, files map[string][]byte, unit string) (MeshResult, error) {
	a, err := s.tool(files)
	if err != nil {
		return MeshResult{}, err
	}
	return a.MeshFile(ctx, file, unit)
}

// MeshGLB is a mesh for a viewer.
func (s *As) MeshGLB(ctx context.Context, file string, files map[string][]byte, unit string) ([]byte, error) {
	a, err := s.tool(files)
	if err != nil {
		return nil, err
	}
	return a.MeshGLB(ctx, file, unit)
}

// Mend closes what is nowhere wider than a tolerance.
func (s *As) Mend(ctx context.Context, file string, files map[string][]byte, unit string, toleranceMM float64, written string) (MendResult, []byte, error) {
	a, err := s.tool(files)
	if err != nil {
		return MendResult{}, nil, err
	}
	return a.MendFile(ctx, file, unit, toleranceMM, written)
}

// Trace measures a crack along the surface of a mesh.
func (s *As) Trace(ctx context.Context, file string, files map[string][]byte, o TraceOptions) (TraceResult, error) {
	a, err := s.tool(files)
	if err != nil {
		return TraceResult{}, err
	}
	return a.TraceFile(ctx, file, o)
}

// Cut cuts a mesh.
func (s *As) Cut(ctx context.Context, file string, files map[string][]byte, o CutOptions) (CutResult, error) {
	a, err := s.tool(files)
	if err != nil {
		return CutResult{}, err
	}
	return a.CutFile(ctx, file, o)
}

// Zones finds what a mesh offers to make zones from.
func (s *As) Zones(ctx context.Context, file string, files map[string][]byte, unit string, sharpDeg, boreTolMM, wallMM, share float64) (FoundZones, error) {
	a, err := s.tool(files)
	if err != nil {
		return FoundZones{}, err
	}
	return a.FindZones(ctx, file, file, unit, sharpDeg, boreTolMM, wallMM, share)
}

// MakeZones makes the zones of a casting by a recipe.
func (s *As) MakeZones(ctx context.Context, recipe string, files map[string][]byte, name string) (MadeZones, error) {
	a, err := s.tool(files)
	if err != nil {
		return MadeZones{}, err
	}
	return a.MakeZones(ctx, recipe, name, func(string) error { return nil })
}

// DraftBody begins a body folder from tables.
func (s *As) DraftBody(ctx context.Context, d BodyDraft, files map[string][]byte) (body.Drafted, error) {
	a, err := s.tool(files)
	if err != nil {
		return body.Drafted{}, err
	}
	return a.NewBody(ctx, d)
}

// CheckFiles is the faults of documents that come with a request.
func (s *As) CheckFiles(ctx context.Context, files map[string][]byte, on string) (Checked, error) {
	a, err := s.tool(files)
	if err != nil {
		return Checked{}, err
	}
	day, err := s.today(on)
	if err != nil {
		return Checked{}, err
	}
	return a.Check(ctx, ".", day)
}
