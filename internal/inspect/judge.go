package inspect

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Judged is an inspection of the job held against what the procedure asks of
// the method. The zero value does not count.
type Judged struct {
	ID         string                `json:"id"`
	Casting    body.CastingID        `json:"casting"` // whose procedure it was held against
	Method     body.InspectionMethod `json:"method"`
	By         string                `json:"by"`
	On         unit.Date             `json:"on"`
	Counts     bool                  `json:"counts"`
	FindsMM    float64               `json:"findsMm"` // shortest crack it is relied on to find
	Conditions []Condition           `json:"conditions"`
	Qualified  string                `json:"qualified,omitempty"` // by which document
	Why        []string              `json:"why,omitempty"`       // why it does not count
}

// Condition is one condition of an inspection against its bound.
type Condition struct {
	What   string `json:"what"`  // in words
	Value  string `json:"value"` // as on record
	Bound  string `json:"bound"`
	Met    bool   `json:"met"`
	Cite   string `json:"cite"`
	Status string `json:"status"` // how sure the bound is
}

// judge holds every inspection of the job against the procedure of every
// casting. What is not on record was not kept, and a method the procedure says
// nothing of has no inspection that counts.
func (r *run) judge() {
	for i := range r.places {
		p := &r.places[i]
		for _, l := range r.in.Job.Looks {
			j := r.judged(p, l)
			r.res.Inspections = append(r.res.Inspections, j)
			if !j.Counts {
				r.note(diag.Say("inspect.does-not-count", "inspection {inspection} on {casting} ({method}, {by}) does not count: {why}", l.ID, p.Of.ID, l.Method, l.By, strings.Join(j.Why, "; ")).Note(diag.Note{Severity: diag.Caution, Where: l.ID, Hint: "inspect again under the conditions asked for, or complete the record"}))
			}
		}
	}
}

func (r *run) judged(p *place, l job.Inspection) Judged {
	j := Judged{ID: l.ID, Casting: p.Of.ID, Method: l.Method, By: l.By, On: l.On}
	fails := func(format string, args ...any) { j.Why = append(j.Why, fmt.Sprintf(format, args...)) }
	if why := r.in.Job.Falls(job.Act{By: l.By, On: l.On}, r.in.Shop, r.in.acts()); why != "" {
		fails("%s", why)
	}
	if p.rule == nil {
		fails("no procedure for casting %s was in force", p.Of.ID)
		return j
	}
	m, ok := p.rule.Method(l.Method)
	if !ok || len(m.Bounds) == 0 {
		fails("procedure %s revision %s does not say when a %s inspection counts", p.rule.ID, p.rule.Revision, l.Method)
		return j
	}
	j.FindsMM = float64(m.Finds)
	if l.Method == body.Penetrant && l.Medium == "" {
		fails("the kind of penetrant is not on record")
	}
	for _, b := range m.Bounds {
		if b.For != "" && b.For != l.Medium {
			continue
		}
		c := condition(b, l.Condition(b.What))
		j.Conditions = append(j.Conditions, c)
		if !c.Met {
			fails("%s: %s, asked for is %s (%s)", c.What, c.Value, c.Bound, c.Cite)
		}
	}
	if m.Qualified {
		j.Qualified, ok = r.qualification(l)
		if !ok {
			fails("%s", j.Qualified)
			j.Qualified = ""
		}
	}
	j.Counts = len(j.Why) == 0
	return j
}

// condition holds a value against a bound; both ends of it are inclusive.
func condition(b body.Bound, v unit.Maybe[float64]) Condition {
	name, in := conditionWords(b.What)
	number := func(x float64) string {
		return strings.TrimSpace(strconv.FormatFloat(x, 'f', -1, 64) + " " + in)
	}
	c := Condition{What: name, Value: "not on record", Cite: b.Cite, Status: b.Status}
	switch {
	case b.Least.Known && b.Most.Known:
		c.Bound = number(b.Least.Value) + " to " + number(b.Most.Value)
	case b.Least.Known:
		c.Bound = "at least " + number(b.Least.Value)
	default:
		c.Bound = "at most " + number(b.Most.Value)
	}
	if v.Known {
		c.Value = number(v.Value)
		c.Met = (b.Least.Known || b.Most.Known) && !(b.Least.Known && !(v.Value >= b.Least.Value)) && !(b.Most.Known && !(v.Value <= b.Most.Value))
	}
	return c
}

// keeps is what an inspection of an area by the method asked for has to keep, and that only
// somebody qualified may make it; nothing where the procedure does not say.
func (r *run) keeps(a area) ([]Condition, bool) {
	p := r.placeNamed(a.casting)
	if p == nil || p.rule == nil {
		return nil, false
	}
	m, _ := p.rule.Method(a.method)
	var out []Condition
	for _, b := range m.Bounds {
		c := condition(b, unit.Maybe[float64]{})
		if c.Value = ""; b.For != "" {
			c.What += ", " + b.For
		}
		out = append(out, c)
	}
	return out, m.Qualified
}

// conditionWords is a condition as people call it, and its unit.
func conditionWords(what string) (name, unitName string) {
	switch what {
	case "light_lx":
		return "white light at the surface", "lx"
	case "uv_w_m2":
		return "UV-A at the surface", "W/m²"
	case "ambient_lx":
		return "visible light while looking under UV-A", "lx"
	case "distance_mm":
		return "distance of the eye", "mm"
	case "angle_deg":
		return "angle of sight to the surface", "degrees"
	case "temperature_c":
		return "temperature of the part", "°C"
	case "dwell_min":
		return "penetration time", "min"
	case "development_min":
		return "development time", "min"
	}
	return what, ""
}

// qualification is the document by which somebody is qualified for an
// inspection, or why not.
func (r *run) qualification(l job.Inspection) (text string, ok bool) {
	if r.in.Shop == nil {
		return "who is qualified is not known without the shop file", false
	}
	p, ok := r.in.Shop.Person(l.By)
	if !ok {
		return fmt.Sprintf("%s is not in the shop file", l.By), false
	}
	q, ok := p.QualifiedFor(string(l.Method), l.On)
	if !ok {
		return fmt.Sprintf("%s has no qualification for %s inspection that was valid on %s", l.By, l.Method, l.On), false
	}
	return q.Document + ", valid until " + q.Until.String(), true
}

// counts says whether an inspection counts on a casting, by its identity, and
// why not.
func (r *run) counts(id string, p *place, method body.InspectionMethod) (j Judged, why string) {
	if id == "" {
		return j, "it does not say in which inspection and under which conditions"
	}
	k := slices.IndexFunc(r.res.Inspections, func(j Judged) bool { return j.ID == id && j.Casting == p.Of.ID })
	if k < 0 {
		return j, "inspection " + id + " is not on record"
	}
	j = r.res.Inspections[k]
	switch {
	case j.Method != method && method == body.Penetrant:
		return j, "inspection " + id + " was " + string(j.Method)
	case !j.Counts:
		return j, "inspection " + id + " does not count: " + strings.Join(j.Why, "; ")
	}
	return j, ""
}
