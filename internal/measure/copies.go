package measure

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// row is what a reading says, without the set-up and the uncertainty.
type row struct {
	kind     job.ReadingKind
	from, to string
	at       geom.Vec
	value    float64
}

func rowOf(r *job.Reading) row {
	return row{r.Kind, string(r.From), string(r.To), geom.Vec{known(r.X), known(r.Y), known(r.Z)}, known(r.Value)}
}

// hasFigures says that the row has something to compare.
func hasFigures(r *job.Reading) bool {
	if r.Kind == job.ReadXYZ || r.Kind == job.ReadRim {
		return r.X.Known && r.Y.Known && r.Z.Known && !math.IsNaN(r.X.Value+r.Y.Value+r.Z.Value)
	}
	return r.Value.Known && !math.IsNaN(r.Value.Value)
}

// copies marks the readings that stand there twice, the same to the last digit: a
// row in its own set-up, or a set-up of which three or more rows with coordinates,
// and most of them, stand in one before it at the same stage. Two measurements do
// not agree so: a copy counts once, since a row copied by mistake would make the
// point look more certain than it is. A reading really taken twice that gives the
// same digits says nothing new either.
func (p *problem) copies() []bool {
	out := make([]bool, len(p.in.Readings))
	type place struct {
		setup string
		row   row
	}
	first := map[place]int{}
	setups := map[string][]int{}
	var order []string
	for i := range p.in.Readings {
		r := &p.in.Readings[i]
		if !hasFigures(r) {
			continue
		}
		if j, again := first[place{r.Setup, rowOf(r)}]; again {
			out[i] = true
			p.tellCopy(j, i)
			continue
		}
		first[place{r.Setup, rowOf(r)}] = i
		if len(setups[r.Setup]) == 0 {
			order = append(order, r.Setup)
		}
		setups[r.Setup] = append(setups[r.Setup], i)
	}
	for n, later := range order {
		for _, earlier := range order[:n] {
			var same []int
			with := 0
			for _, i := range setups[later] {
				if k := p.in.Readings[i].Kind; k != job.ReadXYZ && k != job.ReadRim {
					continue
				}
				with++
				if _, there := first[place{earlier, rowOf(&p.in.Readings[i])}]; there {
					same = append(same, i)
				}
			}
			if !mostlyCopied(len(same), with) || !p.sameStage(earlier, later) {
				continue
			}
			for _, i := range same {
				out[i] = true
			}
			p.note(diag.Caution, "set-ups "+earlier+" and "+later,
				diag.Say("measure.setup-copied", "{same} of the {rows} coordinate rows of set-up {later} are those of set-up {earlier} to the last digit; they count once", len(same), with, later, earlier),
				"take the set-up out if it was only copied")
			break
		}
	}
	return out
}

func (p *problem) tellCopy(j, i int) {
	r := &p.in.Readings[i]
	where := string(r.From)
	if r.To != "" {
		where += "-" + string(r.To)
	}
	where += " in set-up " + r.Setup
	if a, b := p.in.Readings[j].Line, r.Line; a > 0 && b > 0 {
		where += fmt.Sprintf(" (rows %d and %d)", a, b)
	}
	p.note(diag.Caution, where, diag.Say("measure.reading-repeated", "the same reading is there twice, to the last digit; it counts once"), "take one row out if it was only copied")
}

// mostlyCopied says that so many rows which are there before already make a copy of
// the whole: three or more, and most of them.
func mostlyCopied(same, of int) bool { return same >= 3 && 2*same > of }

// sameStage says that two set-ups belong to one stage.
func (p *problem) sameStage(a, b string) bool {
	stage := func(id string) job.Stage {
		if k := slices.IndexFunc(p.in.Setups, func(s job.Setup) bool { return s.ID == id }); k >= 0 {
			return stageOf(p.in.Setups[k])
		}
		return job.StageBefore
	}
	return stage(a) == stage(b)
}
