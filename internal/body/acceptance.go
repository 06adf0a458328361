package body

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// Level is a line of a table that says how large an indication may be and
// still be accepted. The figures are the cited document's.
type Level struct {
	ID         string  `doc:"id,required"`
	Cite       string  `doc:"cite,required" help:"standard or document the figures are from"`
	Status     string  `doc:"status,required" help:"how sure the figures are: manufacturer (the procedure says so), standard (read in the standard), secondary (read elsewhere), memory (to be checked against the standard)" oneof:"manufacturer|standard|secondary|memory"`
	Ratio      float64 `doc:"linear_over,required" help:"an indication longer than this many times its width is linear; exactly so many times is not"`
	Linear     unit.MM `doc:"linear,required" help:"longest linear indication that is accepted"`
	NonLinear  unit.MM `doc:"non_linear,required" help:"largest dimension of a non-linear indication that is accepted"`
	CountsFrom unit.MM `doc:"counts_from" help:"indications surely shorter than this that surely are no cracks are not counted; all count when left out"`
	Together   float64 `doc:"together_under" help:"indications nearer to each other than this many times the length of the smaller one count as one; without it several indications of one record cannot be judged"`
	InLine     *InLine `doc:"in_line" help:"indications that stand in one line are judged as one over all of it; each for itself when left out"`
}

// InLine says when indications stand in one line, and how long such a line may be.
type InLine struct {
	Least    int     `doc:"least,required" help:"so many or more make a line"`
	Gap      unit.MM `doc:"gap" help:"each is no farther from the next than this, between their nearest ends"`
	GapTimes float64 `doc:"gap_times" help:"or than this many times the length of the longer of the two"`
	Beside   unit.MM `doc:"beside,required" help:"how far beside the straight line through two of them the others lie at most"`
	Longest  unit.MM `doc:"longest,required" help:"longest line that is accepted, from its first end to its last, gaps included; 0 mm accepts none"`
}

// ProofKind is what shows that a repair was done well.
type ProofKind string

// Kinds of proof that a procedure may ask for after a repair.
const (
	ShowPenetrant  ProofKind = "penetrant"
	ShowVisual     ProofKind = "visual"
	ShowDimensions ProofKind = "dimensions"
	ShowTorque     ProofKind = "torque"
	ShowAdhesive   ProofKind = "adhesive"
	ShowHold       ProofKind = "hold"
)

// Acceptance is what has to be shown after a treatment before the vehicle is
// released.
type Acceptance struct {
	ID      string          `doc:"id,required"`
	Cite    string          `doc:"cite,required" help:"document, revision, page"`
	For     []TreatmentKind `doc:"for,required" help:"treatments it is asked after" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Zones   []ZoneID        `doc:"zones" help:"only for findings that touch one of these zones; all when left out"`
	Show    ProofKind       `doc:"show,required" help:"penetrant, visual, dimensions, torque or adhesive" oneof:"penetrant|visual|dimensions|torque|adhesive"`
	Level   string          `doc:"level" help:"for penetrant: the level that has to be met"`
	Quality string          `doc:"quality" help:"for visual: the quality that has to be met, in the words of the cited document"`
}

// Level is the level of that identity.
func (p Procedure) Level(id string) (Level, bool) {
	return find(p.Levels, id, func(l *Level) string { return l.ID })
}

// acceptance checks the levels and what is asked for after a repair.
func (c *checker) acceptance(i int, p Procedure) {
	path := at("procedures", i)
	note(c, "level of "+path, path+".levels", p.Levels, func(l Level) string { return l.ID })
	for j, l := range p.Levels {
		where := at("procedures", i, "levels", j)
		if !(l.Ratio >= 1) || l.Ratio > maxRatio {
			c.fault(where+".linear_over", fmt.Sprintf("%g is no ratio of length to width", l.Ratio), "standards use 3")
		}
		if l.Together < 0 || l.Together > maxRatio {
			c.fault(where+".together_under", fmt.Sprintf("%g is no ratio of distance to length", l.Together), "standards use 1")
		}
		for _, x := range []struct {
			field string
			most  unit.MM
		}{{".linear", l.Linear}, {".non_linear", l.NonLinear}} {
			if x.most <= 0 {
				c.fault(where+x.field, "a limit of zero accepts nothing that can be measured", "give the limits in millimetres")
			}
		}
		if l.CountsFrom < 0 || l.CountsFrom > l.Linear {
			c.fault(where+".counts_from", fmt.Sprintf("indications from %s on are counted, and up to %s is accepted", l.CountsFrom, l.Linear), "what is left out has to be smaller than what is accepted")
		}
		c.inLine(where+".in_line", l)
		if l.Linear > l.NonLinear {
			c.fault(where+".linear", fmt.Sprintf("linear indications may be %s, longer than non-linear ones with %s", l.Linear, l.NonLinear), "are the two swapped?")
		}
	}
	note(c, "acceptance of "+path, path+".acceptance", p.Acceptance, func(a Acceptance) string { return a.ID })
	for j, a := range p.Acceptance {
		where := at("procedures", i, "acceptance", j)
		once(c, where+".for", a.For)
		once(c, where+".zones", a.Zones)
		if len(a.For) == 0 {
			c.fault(where+".for", "no treatment is named", "name the treatments that it is asked after")
		}
		for k, z := range a.Zones {
			if !slices.Contains(zonesOf(c.b, p.Casting), string(z)) {
				c.fault(fmt.Sprintf("%s.zones[%d]", where, k), fmt.Sprintf("casting %q has no zone %q", p.Casting, z), "name a zone of that casting")
			}
		}
		_, known := p.Level(a.Level)
		switch {
		case a.Show == ShowPenetrant && a.Level == "":
			c.fault(where+".level", "it does not say which level has to be met", "name one of 'levels'")
		case a.Show == ShowPenetrant && !hasMethod(p, Penetrant):
			c.fault(where+".show", "the procedure does not say when a penetrant inspection counts", "add it to 'methods'")
		case a.Level != "" && !known:
			c.fault(where+".level", fmt.Sprintf("there is no level %q", a.Level), "name one of 'levels'")
		case a.Show == ShowVisual && a.Quality == "":
			c.fault(where+".quality", "it does not say which quality has to be met", "write it in the words of the document")
		}
	}
}

// inLine checks when indications stand in line.
func (c *checker) inLine(where string, l Level) {
	n := l.InLine
	switch {
	case n == nil:
		return
	case n.Least < 2 || n.Least > maxRatio:
		c.fault(where+".least", fmt.Sprintf("%d is no number of indications that make a line", n.Least), "give the document's, 2 or more")
	case n.Gap < 0:
		c.fault(where+".gap", "the gap is no distance", "give 'gap' in millimetres, or 'gap_times' a length")
	case n.GapTimes < 0 || n.GapTimes > maxRatio:
		c.fault(where+".gap_times", "the gap is no distance", "give 'gap' in millimetres, or 'gap_times' a length")
	case n.Gap == 0 && n.GapTimes == 0:
		c.fault(where, "it does not say how near the next one has to be", "give 'gap' in millimetres, or 'gap_times' a length")
	}
	notNegative(c, where+".beside", n.Beside)
	notNegative(c, where+".longest", n.Longest)
}

func hasMethod(p Procedure, name InspectionMethod) bool {
	_, ok := p.Method(name)
	return ok
}

// maxRatio keeps a slip of the keyboard out: nothing is a hundred times as
// long as wide and round.
const maxRatio = 100
