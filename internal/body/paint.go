package body

import (
	"slices"

	"fettle/internal/unit"
)

// Surface is a side of a part that is coated.
type Surface string

// Surfaces of a part.
const (
	OuterSurface Surface = "outer" // what is seen
	InnerSurface Surface = "inner" // hidden faces, flanges, cavities
)

// Area is the area of a surface of the part; not known where nobody gives it.
func (p Part) Area(s Surface) unit.Maybe[unit.SquareMetre] {
	if s == InnerSurface {
		return p.Inner
	}
	return p.Outer
}

// CoatTime is when a surface is coated.
type CoatTime string

// Times of coating: off the vehicle, before the part is fitted, or on it, with all that is
// joined under it, before anything is fitted on it.
const (
	CoatLoose  CoatTime = "before fitting"
	CoatFitted CoatTime = "after fitting"
)

// Coating says what is done to one surface of the parts that are new or were worked on.
type Coating struct {
	Surface Surface  `doc:"surface,required" help:"outer or inner" oneof:"outer|inner"`
	When    CoatTime `doc:"when,required" help:"'before fitting': off the vehicle, before the part is fitted; 'after fitting': on the vehicle, before anything is fitted on it" oneof:"before fitting|after fitting"`
	BoltOn  YesNo    `doc:"bolt_on" help:"yes: only of parts that are bolted on; no: only of the others; left out: of all" oneof:"yes|no"`
	Tasks   []TaskID `doc:"tasks,required" help:"tasks done on the parts, one after the other; each once for all of them"`
	Blend   []TaskID `doc:"blend" help:"tasks done on the neighbours into which the colour runs out, one after the other; those that are under 'tasks' too do both at once"`
	Cite    string   `doc:"cite"`
}

// Covers says that the coating is done on the part.
func (k Coating) Covers(p Part) bool { return k.BoltOn == "" || (k.BoltOn == Yes) == p.BoltOn }

// All is the tasks of the coating, each once.
func (k Coating) All() []TaskID {
	out := slices.Clone(k.Tasks)
	for _, id := range k.Blend {
		if !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	return out
}

// Blend is a neighbour into which the colour runs out when a part beside it is painted all over.
type Blend struct {
	Part   PartID           `doc:"part,required" help:"the neighbour"`
	Beside []PartID         `doc:"beside,required" help:"parts beside it; when one of them is painted all over the colour runs out into the neighbour"`
	Area   unit.SquareMetre `doc:"area,required" help:"area of the neighbour that is worked on, once, however many parts beside it are painted"`
	Cite   string           `doc:"cite"`
}

// Repaint says what has to be coated again after a treatment.
type Repaint struct {
	Surfaces []Surface `doc:"surfaces,required" help:"outer, inner or both; [] when nothing has to be" oneof:"outer|inner"`
	Margin   unit.MM   `doc:"margin" help:"coated again only where a finding is, and so far around it; without it all of the surface"`
}

// Repaints says that a surface has to be coated again after the treatment, and how far around
// a finding; zero: all of it.
func (t Treatment) Repaints(s Surface) (bool, unit.MM) {
	if t.Repaint == nil {
		return s == OuterSurface && t.Kind != Leave, 0
	}
	return slices.Contains(t.Repaint.Surfaces, s), t.Repaint.Margin
}

// Bake is drying with heat.
type Bake struct {
	Temp  unit.Celsius `doc:"temperature,required" json:"temperatureC" help:"to which the work gets"`
	Hold  unit.Minutes `doc:"hold,required" json:"holdMinutes" help:"how long it is in the heat, warming up included"`
	Local bool         `doc:"local" json:"local,omitempty" help:"yes: only the parts worked on get warm, under a lamp or off the vehicle; no: everything that is on the vehicle"`
}

// CureState is how far an adhesive has cured.
type CureState string

// States of an adhesive.
const (
	CuredHandling CureState = "handling"
	CuredFull     CureState = "full"
)

// HeatLimit is how warm something may get: one part, one adhesive, or all that has no limit of its own.
type HeatLimit struct {
	Part     PartID       `doc:"part" help:"a part of the body"`
	Material MaterialID   `doc:"material" help:"an adhesive, wherever it holds something"`
	Rest     bool         `doc:"rest" help:"yes: every part but the high-voltage battery, and every adhesive that was cured before the job, as far as they have no limit of their own"`
	From     CureState    `doc:"from" help:"of an adhesive used in the job: 'handling' when it may be heated as soon as it can be handled; full strength has to be waited for unless given" oneof:"handling|full"`
	High     unit.Celsius `doc:"high,required" help:"greatest temperature"`
	Longest  unit.Minutes `doc:"longest" help:"longest time in the heat; left out: the source gives none"`
	Cite     string       `doc:"cite,required" help:"document, revision and page"`
}

// Takes says that what has the limit may be baked so.
func (l HeatLimit) Takes(k Bake) bool {
	return k.Temp <= l.High && (l.Longest == 0 || k.Hold <= l.Longest)
}

// HeatLimitOf is the limit of a part, or else that of all the rest; what holds for the rest says
// nothing of the high-voltage battery.
func (b *Body) HeatLimitOf(p PartID) (HeatLimit, bool) {
	if part, _ := b.Part(p); part.Kind == PartBattery {
		k := slices.IndexFunc(b.HeatLimits, func(l HeatLimit) bool { return l.Part == p })
		if k < 0 {
			return HeatLimit{}, false
		}
		return b.HeatLimits[k], true
	}
	return b.heatLimit(func(l HeatLimit) bool { return l.Part == p && p != "" })
}

// HeatLimitOfOld is the limit of an adhesive that was cured before the job.
func (b *Body) HeatLimitOfOld(m MaterialID) (HeatLimit, bool) {
	return b.heatLimit(func(l HeatLimit) bool { return l.Material == m && m != "" })
}

// HeatLimitOfFresh is the limit of an adhesive used in the job: only its own.
func (b *Body) HeatLimitOfFresh(m MaterialID) (HeatLimit, bool) {
	k := slices.IndexFunc(b.HeatLimits, func(l HeatLimit) bool { return l.Material == m && m != "" })
	if k < 0 {
		return HeatLimit{}, false
	}
	return b.HeatLimits[k], true
}

func (b *Body) heatLimit(own func(HeatLimit) bool) (HeatLimit, bool) {
	for _, is := range []func(HeatLimit) bool{own, func(l HeatLimit) bool { return l.Rest }} {
		if k := slices.IndexFunc(b.HeatLimits, is); k >= 0 {
			return b.HeatLimits[k], true
		}
	}
	return HeatLimit{}, false
}

// BySurface says that time or materials of the step go by the area of a surface.
func (s Step) BySurface() bool {
	return s.PerArea != 0 || slices.ContainsFunc(s.Uses, Use.BySurface)
}

// BySurface says that the amount goes by the area of a surface, not of a strip.
func (u Use) BySurface() bool {
	return u.Width == 0 && (u.PerArea != (unit.Amount{}) || u.Film != 0)
}

// PerSquareMetre is how much of the material a square metre takes: as said, or what a dry
// coat of that thickness needs. With f the thickness in micrometres and s the share of solids
// by volume a square metre takes f / s millilitres, the inverse of the theoretical spreading
// rate that paint makers publish: solids in percent x 10 / f, in square metres for a litre.
// Losses are the material's waste.
func (u Use) PerSquareMetre(m Material) unit.Amount {
	if u.Film == 0 || m.Solids <= 0 {
		return u.PerArea
	}
	return unit.Amount{Value: float64(u.Film) / float64(m.Solids), Unit: "ml"}
}
