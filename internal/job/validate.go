package job

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

var (
	idForm  = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]*$`)
	sumForm = regexp.MustCompile(`^[0-9a-f]{64}$`)
)

// farMM bounds coordinates: a coordinate beyond it is a slip of the unit.
const farMM = 20_000

// Validate judges what the reader cannot see and what needs no body. Decode
// does it for a folder; call it on a folded state before an event is kept.
func (s *State) Validate() diag.Problems { return s.judge(false) }

// Broken is Validate without what is no more than untidy: a word that is there twice, a number that nobody means.
// Chains of earlier releases may hold such things; they are read for ever.
func (s *State) Broken() diag.Problems { return s.judge(true) }

// Fresh is the faults that a job has and had not before.
func (s *State) Fresh(before *State) diag.Problems {
	known := map[string]bool{}
	for _, p := range before.Validate() {
		known[p.Field+" "+p.Msg] = true
	}
	return slices.DeleteFunc(s.Validate(), func(p diag.Problem) bool { return known[p.Field+" "+p.Msg] })
}

func (s *State) judge(untidy bool) diag.Problems {
	c := &checker{s: s, byName: byName(s.Findings), untidy: untidy}
	c.head()
	c.vehicle()
	c.impact()
	c.hazards()
	c.setups()
	c.findings()
	c.looks()
	c.areas()
	c.access()
	c.evidence()
	c.answers()
	c.risks()
	c.agreed()
	c.actuals()
	c.supplied()
	c.told()
	c.figures()
	c.faultReadings()
	c.repair()
	c.handBacks()
	c.proposals()
	c.sendings()
	c.erasures()
	twice(c, "earlier_repairs", s.Earlier, "give it once; of two repairs alike say in 'text' what tells them apart")
	for i, e := range s.Earlier {
		at := fmt.Sprintf("earlier_repairs[%d]", i)
		if e.Length <= 0 {
			c.fault(at+".length", fmt.Sprintf("%s is given; more than zero is needed", e.Length), "give how long the repair is, as it was measured or as its papers say")
		}
		c.points(at, e.Trace, e.Std)
	}
	c.condition()
	setups := c.setupIDs()
	for i, r := range s.Readings {
		c.reading(fmt.Sprintf("readings[%d]", i), r, setups)
	}
	c.problems.Sort()
	return c.problems
}

// checker collects the faults of one job.
type checker struct {
	s        *State
	problems diag.Problems
	untidy   bool // what is no more than a slip is no fault
	anyFrame bool // readings may be anywhere, in any unit
	hints    int  // words that were looked for among all there are
	byName   map[FindingID]Finding
}

func (c *checker) fault(path, msg, hint string) {
	c.problems = append(c.problems, c.s.Problem(path, msg, hint))
}

// slip is a fault that earlier releases took: a stored job may have it.
func (c *checker) slip(path, msg, hint string) {
	if !c.untidy {
		c.fault(path, msg, hint)
	}
}

// What is right where something is there twice.
const (
	nameOnce = "name it once"
	giveOnce = "give it once; where two are meant, say what tells them apart"
)

// twice finds what a list has twice, word by word. Of what was erased nobody can say that it was the same.
func twice[T any](c *checker, list string, items []T, hint string) {
	if c.untidy || len(items) < 2 {
		return
	}
	seen := make(map[string]bool, len(items))
	for i, x := range items {
		words := fmt.Sprintf("%#v", doc.Encode(x))
		if seen[words] && !strings.Contains(words, Erased) {
			c.slip(fmt.Sprintf("%s[%d]", list, i), "it is there twice", hint)
		}
		seen[words] = true
	}
}

// notBefore checks the order of two days; a day not given is in order.
func (c *checker) notBefore(at string, day unit.Date, what string, first unit.Date) {
	if !day.IsZero() && !first.IsZero() && day.Before(first) {
		c.fault(at, fmt.Sprintf("%s is before %s, %s", day, what, first), "see which of the two days is wrong")
	}
}

func (c *checker) head() {
	s := c.s
	if !idForm.MatchString(s.ID) {
		c.fault("id", fmt.Sprintf("%q is not an identity", s.ID), "use letters, digits, '-', '_' and '.'")
	}
	c.document("body", s.Body)
	c.document("shop", s.Shop)
	c.notBefore("start", s.Start, "the day the job was opened", s.Opened)
	if s.Seed < 0 {
		c.fault("search_seed", fmt.Sprintf("%d is negative", s.Seed), "any whole number from 0 will do")
	}
}

// mostKilometres keeps slips of the keyboard out: no vehicle has run so far.
const mostKilometres = 10_000_000

func (c *checker) vehicle() {
	v := c.s.Vehicle
	if fault, hint := VINFault(v.VIN); fault != "" {
		c.fault("vehicle.vin", fault, hint)
	}
	c.notBefore("opened", c.s.Opened, "the day the vehicle was built", v.Built)
	switch {
	case v.Odometer < 0:
		c.fault("vehicle.odometer_km", "the reading is negative", "give the kilometres that the vehicle shows")
	case v.Odometer > mostKilometres:
		c.slip("vehicle.odometer_km", fmt.Sprintf("%.0f km is more than any vehicle has run", v.Odometer), "see whether a digit is wrong")
	}
	switch {
	case v.Value.Minor <= 0:
		c.fault("vehicle.value", fmt.Sprintf("%s is given; more than zero is needed", v.Value), "give what the vehicle was worth before the damage")
	case v.Salvage.Currency != v.Value.Currency:
		c.fault("vehicle.salvage", fmt.Sprintf("the salvage value is in %s, the value in %s", v.Salvage.Currency, v.Value.Currency), "give both in one currency")
	case v.Salvage.Minor < 0 || v.Salvage.Minor > v.Value.Minor:
		c.fault("vehicle.salvage", fmt.Sprintf("%s is not from zero to the value of the vehicle, %s", v.Salvage, v.Value), "see which of the two is wrong")
	}
}

func (c *checker) impact() {
	twice(c, "impact.at_mm", c.s.Impact.At, "give each place once")
	c.notBefore("impact.on", c.s.Impact.On, "the day the vehicle was built", c.s.Vehicle.Built)
	for i, p := range c.s.Impact.At {
		if outside(p) {
			c.fault(fmt.Sprintf("impact.at_mm[%d]", i), "the point lies outside any vehicle", "coordinates are in millimetres")
		}
	}
}

func (c *checker) hazards() {
	seen := map[[2]string]bool{}
	for i, h := range c.s.Hazards {
		at := fmt.Sprintf("hazards[%d]", i)
		is := [2]string{string(h.Kind), h.Text}
		if seen[is] {
			c.fault(at, "this hazard is there twice", "give it once, or say in 'text' what tells the two apart")
		}
		seen[is] = true
		if h.Cleared && (h.By == "" || h.On.IsZero()) {
			c.fault(at, "it does not say who cleared the hazard, and when", "give 'by' and 'on', or 'cleared: no'")
		}
	}
}

func (c *checker) setups() {
	unique(c, "setups", "id", c.s.Setups, func(x Setup) string { return x.ID })
	for i, x := range c.s.Setups {
		at := fmt.Sprintf("setups[%d]", i)
		c.clock(at+".at", x.At)
		if x.Std <= 0 {
			c.fault(at+".std", fmt.Sprintf("%s is given; more than zero is needed", x.Std), "no device measures without error")
		}
		c.notBefore(at+".on", x.On, "the day the vehicle was built", c.s.Vehicle.Built)
		c.temperature(at, x)
	}
}

// maxFindings is how many findings a job has at most: each is held against every other
// on its part, so that the time grows with the square of their number.
const maxFindings = 1000

func (c *checker) findings() {
	if n := len(c.s.Findings); n > maxFindings {
		c.fault("findings", fmt.Sprintf("there are %d findings; a job has at most %d", n, maxFindings), "cracks that lie together are one break")
	}
	known := unique(c, "findings", "id", c.s.Findings, func(f Finding) string { return string(f.ID) })
	evidence, looks, setups := c.evidenceIDs(), c.lookIDs(), c.setupIDs()
	for i, f := range c.s.Findings {
		at := fmt.Sprintf("findings[%d]", i)
		c.trace(at, f)
		c.inAxes(at, f, setups)
		c.measured(at, f, known)
		c.ref(at+".other_face_of", "finding", string(f.SameAs), known)
		c.otherFace(at+".other_face_of", f)
		c.ref(at+".branch_of", "finding", string(f.BranchOf), known)
		c.ref(at+".inspection", "inspection", f.Look, looks)
		for j, id := range f.Photos {
			c.ref(fmt.Sprintf("%s.evidence[%d]", at, j), "evidence", id, evidence)
		}
		c.pins(at, f)
		twice(c, at+".evidence", f.Photos, nameOnce)
		if f.Depth.Known && f.Depth.Value <= 0 {
			c.fault(at+".depth", fmt.Sprintf("%s is given; more than zero is needed", f.Depth.Value), "leave it out when it is not known")
		}
		c.straightness(at, f)
		c.notBefore(at+".on", f.On, "the day the vehicle was built", c.s.Vehicle.Built)
	}
}

// mostStraightened keeps slips of the keyboard out: nobody straightens a part so often.
const mostStraightened = 99

// straightness checks what is said of a bent part.
func (c *checker) straightness(at string, f Finding) {
	if bent := f.Kind == body.Bend || f.Kind == body.Dent; !bent && (f.Kinked == body.Yes || f.Kinked == body.No) {
		c.fault(at+".kinked", fmt.Sprintf("a %s is not kinked", f.Kind), "enter the bend or the dent as a finding of its own")
	}
	if n := f.Straight; n.Known && (n.Value < 0 || n.Value > mostStraightened) {
		c.fault(at+".straightened_before", fmt.Sprintf("%d is out of range", n.Value), "give how often the part was straightened before this job, 0 for never")
	}
}

// points checks the points of a trace and their uncertainty.
func (c *checker) points(at string, trace []geom.Vec, std unit.MM) {
	for j, p := range trace {
		if outside(p) {
			c.fault(fmt.Sprintf("%s.trace_mm[%d]", at, j), "the point lies outside any vehicle", "coordinates are in millimetres")
		}
	}
	if len(trace) > 0 && std <= 0 {
		c.fault(at+".trace_std", "the trace has no standard uncertainty", "write for example 'trace_std: 1 mm'")
	}
}

func outside(p geom.Vec) bool {
	return slices.ContainsFunc(p[:], func(x float64) bool { return x > farMM || x < -farMM }) || !p.Finite()
}

func (c *checker) trace(at string, f Finding) {
	c.points(at, f.Trace, f.Std)
	switch {
	case f.DepthStd < 0:
		c.fault(at+".depth_std", fmt.Sprintf("%s is negative", f.DepthStd), "leave it out for a depth without uncertainty")
	case f.DepthStd > 0 && !f.Depth.Known:
		c.fault(at+".depth_std", "the depth it is the uncertainty of is not given", "give 'depth', or leave it out")
	}
	if f.BranchOf != "" {
		c.branch(at, f)
		return
	}
	if f.Kind == body.Crack && len(f.Tips) != 2 {
		c.fault(at+".tips", fmt.Sprintf("a crack has two tips, not %d", len(f.Tips)), "say how each was found, for example [visual, penetrant]")
	}
	if len(f.Tips) > 2 {
		c.fault(at+".tips", fmt.Sprintf("a defect has two ends at most, not %d", len(f.Tips)), "name how the first and the last point were found")
	}
}

// branch checks a crack that forks off another one.
func (c *checker) branch(at string, f Finding) {
	of, there := c.byName[f.BranchOf]
	switch {
	case f.Kind != body.Crack:
		c.fault(at+".branch_of", "only a crack forks off a crack", "leave it out")
	case len(f.Tips) != 1:
		c.fault(at+".tips", fmt.Sprintf("a branch has one tip, not %d: its first point is at the fork", len(f.Tips)), "say how its last point was found, for example [penetrant]")
	case f.BranchOf == f.ID:
		c.fault(at+".branch_of", "a crack does not fork off itself", "name the crack that it forks off")
	case there && (of.Part != f.Part || of.Kind != body.Crack):
		c.fault(at+".branch_of", fmt.Sprintf("finding %q is not a crack on the same part", f.BranchOf), "name a crack on the same part")
	case f.SameAs != "":
		c.fault(at+".branch_of", "a finding is a branch or the other face, not both", "give 'branch_of' or 'other_face_of'")
	}
}

func (c *checker) otherFace(at string, f Finding) {
	o, there := c.byName[f.SameAs]
	switch {
	case !there:
	case o.ID == f.ID:
		c.fault(at, "a finding is not its own other face", "name the finding on the other face")
	case o.SameAs != "":
		c.fault(at, fmt.Sprintf("finding %q names another face itself", o.ID), "name it in one of the two only")
	case o.Part != f.Part || o.Kind != f.Kind:
		c.fault(at, fmt.Sprintf("finding %q is not of the same kind on the same part", o.ID), "name the finding on the other face of the same wall")
	}
}

// maxCondition keeps slips of the keyboard out: no lamp gives a million lux,
// and nobody waits a million minutes.
const maxCondition = 1e6

func (c *checker) looks() {
	unique(c, "inspections", "id", c.s.Looks, func(x Inspection) string { return x.ID })
	evidence := c.evidenceIDs()
	for i, x := range c.s.Looks {
		at := fmt.Sprintf("inspections[%d]", i)
		c.notBefore(at+".on", x.On, "the day the vehicle was built", c.s.Vehicle.Built)
		for k, e := range x.Photos {
			c.ref(fmt.Sprintf("%s.evidence[%d]", at, k), "evidence", e, evidence)
		}
		twice(c, at+".evidence", x.Photos, nameOnce)
		if x.Method == body.Penetrant && x.Medium == "" {
			c.fault(at+".medium", "it does not say which kind of penetrant was used", "write 'colour contrast' or 'fluorescent'")
		}
		for _, what := range Conditions() {
			v := x.Condition(what)
			if v.Known && (v.Value < 0 && what != "temperature_c" || v.Value < -273.15 || v.Value > maxCondition) {
				c.fault(at+"."+what, fmt.Sprintf("%g cannot be", v.Value), "is the unit right?")
			}
		}
		if x.Method == body.Visual && (x.Medium != "" || x.Dwell.Known || x.Development.Known) {
			c.fault(at+".method", "looking by eye has no penetrant", "write 'method: penetrant', or leave out 'medium', 'dwell_min' and 'development_min'")
		}
	}
}

func (c *checker) areas() {
	unique(c, "areas", "area", c.s.Areas, func(a AreaSeen) string { return a.Area })
	looks := c.lookIDs()
	for i, a := range c.s.Areas {
		c.ref(fmt.Sprintf("areas[%d].inspection", i), "inspection", a.Look, looks)
		if a.State != StateNotYet && (a.By == "" || a.On.IsZero()) {
			c.fault(fmt.Sprintf("areas[%d]", i), "it does not say who looked at the area, and when", "give 'by' and 'on', or 'state: not-yet'")
		}
	}
}

// access: each entry names places.
func (c *checker) access() {
	twice(c, "access", c.s.Access, giveOnce)
	for i, a := range c.s.Access {
		at := fmt.Sprintf("access[%d].to", i)
		if len(a.To) == 0 {
			c.fault(at, "it names no place", "name the zones and section lines that can be reached")
		}
		for k, to := range a.To {
			if slices.Contains(a.To[:k], to) {
				c.fault(fmt.Sprintf("%s[%d]", at, k), fmt.Sprintf("%q is there twice", to), "name each once")
			}
		}
		twice(c, fmt.Sprintf("access[%d].off", i), a.Off, nameOnce)
	}
}

func (c *checker) evidence() {
	unique(c, "evidence", "id", c.s.Evidence, func(e Evidence) string { return e.ID })
	for i, e := range c.s.Evidence {
		at := fmt.Sprintf("evidence[%d]", i)
		c.inside(at+".file", e.File)
		if e.SHA256 != "" && !sumForm.MatchString(e.SHA256) {
			c.fault(at+".sha256", "this is not a SHA-256 sum", "it has 64 digits 0 to 9 and a to f")
		}
	}
}

func (c *checker) answers() {
	unique(c, "answers", "id", c.s.Answers, func(a Answer) string { return a.ID })
	findings, evidence := c.findingIDs(), c.evidenceIDs()
	questions := names(c.s.Questions, func(q Asked) string { return q.ID })
	asked := map[string][]Asked{}
	for _, q := range c.s.Questions {
		if q.ID != "" {
			asked[q.ID] = append(asked[q.ID], q)
		}
	}
	for i, a := range c.s.Answers {
		at := fmt.Sprintf("answers[%d]", i)
		c.aboutOne(at, a.Finding, a.Point)
		c.pointAnswer(at, a)
		c.ref(at+".finding", "finding", string(a.Finding), findings)
		c.ref(at+".document", "evidence", a.Document, evidence)
		c.ref(at+".question", "question", a.Question, questions)
		if fault, _ := VINFault(c.s.Vehicle.VIN); fault == "" && a.VIN != c.s.Vehicle.VIN {
			c.fault(at+".vin", fmt.Sprintf("the answer is for vehicle %q, this is %q", a.VIN, c.s.Vehicle.VIN), "an answer holds for one vehicle only: ask for this one")
		}
		for _, q := range asked[a.Question] {
			if q.Finding != a.Finding && findings.in[string(a.Finding)] {
				c.fault(at+".finding", fmt.Sprintf("question %s was about finding %s, the answer is entered for %s", q.ID, q.Finding, a.Finding), "an answer holds for the finding that was asked about: ask about this one")
			}
			c.notBefore(at+".on", a.On, "the day the question was sent", q.On)
		}
		c.notBefore(at+".expires", a.Expires, "the day of the answer", a.On)
		c.notBefore(at+".on", a.On, "the day the job was opened", c.s.Opened)
		if len(a.Allow)+len(a.Forbid) == 0 {
			c.fault(at, "the answer neither allows nor forbids anything", "give 'allow' or 'forbid'")
		}
		twice(c, at+".allow", a.Allow, nameOnce)
		twice(c, at+".forbid", a.Forbid, nameOnce)
		for j, k := range a.Allow {
			if slices.Contains(a.Forbid, k) {
				c.fault(fmt.Sprintf("%s.allow[%d]", at, j), fmt.Sprintf("the answer both allows and forbids %q", k), "read the answer again, and give it under one of the two")
			}
		}
	}
	for i, x := range c.s.Choices {
		c.notBefore(fmt.Sprintf("choices[%d].on", i), x.On, "the day the job was opened", c.s.Opened)
	}
}
