package report

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/measure"
)

// stagePart is the measurements before, during and after the repair side by
// side.
type stagePart struct {
	Stages []string
	Rows   []stageLine
	Lines  []string
	Notes  []string
}

// stageLine is one point at every stage.
type stageLine struct {
	ID     string
	Cells  []stageCell
	Answer word
}

// stageCell is the shift and verdict of a point at one stage.
type stageCell struct {
	Shift string
	Word  word
}

func buildStages(in Input) *stagePart {
	type stage struct {
		name job.Stage
		r    *measure.Result
	}
	all := []stage{{job.StageBefore, &in.Measure}}
	if in.During != nil {
		all = append(all, stage{job.StageDuring, in.During})
	}
	if in.After != nil {
		all = append(all, stage{job.StageAfter, in.After})
	}
	last := all[len(all)-1]
	p, ok := progressTo(in, last.name)
	if len(all) < 2 || !ok {
		return nil
	}
	out := &stagePart{}
	for _, s := range all {
		out.Stages = append(out.Stages, string(s.name))
	}
	for _, q := range p.Points {
		if q.Was == measure.Met && q.Is == measure.Met {
			continue // named in the lines; the table is for what changed or is open
		}
		line := stageLine{ID: string(q.ID), Answer: progressWord(q)}
		for _, s := range all {
			line.Cells = append(line.Cells, cellOf(s.r, q.ID))
		}
		out.Rows = append(out.Rows, line)
	}
	out.Lines = progressLines(p)
	for _, n := range p.Notes {
		out.Notes = append(out.Notes, sentence(n.Text)+" "+sentence(n.Hint))
	}
	return out
}

// progressTo is the comparison of the first stage with the one named.
func progressTo(in Input, stage job.Stage) (measure.Progress, bool) {
	for _, p := range in.Progress {
		if p.From == job.StageBefore && p.To == stage {
			return p, true
		}
	}
	return measure.Progress{}, false
}

func cellOf(r *measure.Result, id body.PointID) stageCell {
	h, _ := r.Best()
	p, ok := h.Point(id)
	if !ok {
		return stageCell{"not measured", word{"undecided", toneOpen}}
	}
	c := stageCell{fixed(p.ShiftMM.Norm(), 1) + thin + "mm", toleranceWord(p.Tolerance.String())}
	if !p.Firm {
		c.Word = word{"undecided", toneOpen}
	}
	return c
}

func progressWord(q measure.PointProgress) word {
	switch q.Is {
	case measure.Met:
		return word{string(q.Answer), toneGood}
	case measure.NotMet:
		return word{string(q.Answer), toneBad}
	}
	return word{string(q.Answer), toneOpen}
}

// progressLines sorts the points by the answer: brought into tolerance, still
// out of it, and so on.
func progressLines(p measure.Progress) []string {
	var order []measure.PointAnswer
	who := map[measure.PointAnswer][]string{}
	for _, q := range p.Points {
		if !slices.Contains(order, q.Answer) {
			order = append(order, q.Answer)
		}
		who[q.Answer] = append(who[q.Answer], string(q.ID))
	}
	var out []string
	for _, a := range measure.Answers() {
		if slices.Contains(order, a) {
			out = append(out, sentence(string(a)+": "+list(who[a], 40)))
		}
	}
	return out
}
