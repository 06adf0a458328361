package job

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Asked is a question that went to the manufacturer.
type Asked struct {
	ID       string       `doc:"id,required" help:"number of the question, as decide gives it"`
	Finding  FindingID    `doc:"finding" help:"the finding it is about; or 'point'"`
	Point    body.PointID `doc:"point" help:"the control point it is about, in place of a finding"`
	On       unit.Date    `doc:"on,required" help:"day it was sent"`
	By       string       `doc:"by,required" personal:"yes"`
	Document string       `doc:"document" help:"identity of the evidence that holds the question as it was sent"`
}

// Accepted is a person's decision to use a treatment for a finding.
type Accepted struct {
	Finding FindingID          `doc:"finding,required"`
	Kind    body.TreatmentKind `doc:"treatment,required" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Line    body.LineID        `doc:"line" help:"section line, for a section"`
	By      string             `doc:"by,required" personal:"yes" help:"a person of the shop file"`
	On      unit.Date          `doc:"on,required"`
	Reason  string             `doc:"reason" personal:"yes" help:"compulsory when it rests on an answer, or when a milder treatment is allowed"`
}

// Review is a second person's look at the decisions of a job.
type Review struct {
	By   string    `doc:"by,required" personal:"yes" help:"a person of the shop file; not the author, nor one who accepted a treatment"`
	On   unit.Date `doc:"on,required"`
	Text string    `doc:"text" personal:"yes"`

	Under string `doc:"under" help:"hash of what was approved, as it was sent to review; the program gives it. A change of that makes the review void"`
}

// Record proves that a repair was inspected, or a joint closed, as asked.
type Record struct {
	ID          string                   `doc:"id,required"`
	Show        body.ProofKind           `doc:"show,required" help:"penetrant, visual, torque, adhesive or hold (a hold point was passed); dimensions are shown by set-ups of the stage 'after'" oneof:"penetrant|visual|torque|adhesive|hold"`
	Finding     FindingID                `doc:"finding" help:"for penetrant and visual; for the adhesive of a backing plate"`
	Joint       body.JointID             `doc:"joint" help:"for torque and adhesive"`
	By          string                   `doc:"by,required" personal:"yes" help:"a person of the shop file"`
	On          unit.Date                `doc:"on,required"`
	At          string                   `doc:"at" help:"hh:mm when it was shown; held against the times of the steps where both are given"`
	Look        string                   `doc:"inspection" help:"for penetrant: the inspection in which it was, under 'inspections'; its conditions are held against the procedure like those before the repair"`
	None        bool                     `doc:"no_indications" help:"for penetrant: yes when nothing was indicated"`
	Indications []Indication             `doc:"indications" help:"for penetrant: what was indicated"`
	Apart       bool                     `doc:"apart" help:"for penetrant: yes when no two indications are nearer to each other than the smaller one is long"`
	What        string                   `doc:"what" help:"for visual: what was seen, in the words the procedure or the answer asks for it; without it, the quality under 'acceptance'. For penetrant and visual that a procedure asks for at several points of the work: at which, in its words"`
	Step        string                   `doc:"step" help:"for hold: name of the step, as the plan has it; for adhesive of a treatment that bonds in several steps, or of a task: the step it was used in"`
	Met         bool                     `doc:"met" help:"for visual and hold: yes when what was asked for is met"`
	Torque      unit.NewtonMetre         `doc:"torque" help:"for torque: what the tool was set to"`
	Device      string                   `doc:"device" help:"for torque: the tool; for adhesive: what the temperature was read with"`
	Calibrated  unit.Date                `doc:"calibrated_until" help:"last day of its calibration"`
	Material    body.MaterialID          `doc:"material" help:"for adhesive: which"`
	Batch       string                   `doc:"batch" help:"for adhesive: number of the batch"`
	UseBefore   unit.Date                `doc:"use_before" help:"for adhesive: last day it may be used"`
	Mixed       string                   `doc:"mixed" help:"for adhesive: hh:mm of mixing or the first bead"`
	Closed      string                   `doc:"closed" help:"for adhesive: hh:mm when the last fastener was set"`
	Temp        unit.Maybe[unit.Celsius] `doc:"temperature" help:"for adhesive: of the parts"`
	Text        string                   `doc:"text" personal:"yes"`
	Evidence    []string                 `doc:"evidence" help:"identities of evidence"`
}

// OpenMinutes is how long an adhesive was open; false when that is not on
// record.
func (r Record) OpenMinutes() (unit.Minutes, bool) {
	from, ok := clockMinutes(r.Mixed)
	to, also := clockMinutes(r.Closed)
	if !ok || !also || to < from {
		return 0, false
	}
	return unit.Minutes(to - from), true
}

// ClosedAt is when the last fastener was set, in minutes from midnight; false when
// that is not on record.
func (r Record) ClosedAt() (unit.Minutes, bool) {
	m, ok := clockMinutes(r.Closed)
	return unit.Minutes(m), ok
}

// Clock is a time of day of the job, in minutes from midnight; false when it is none.
func Clock(s string) (unit.Minutes, bool) {
	m, ok := clockMinutes(s)
	return unit.Minutes(m), ok
}

// clock checks a time of day that may be left out.
func (c *checker) clock(at, s string) {
	if _, ok := clockMinutes(s); s != "" && !ok {
		c.fault(at, fmt.Sprintf("%q is no time of day", s), "write hh:mm in quotes")
	}
}

// clockMinutes reads hh:mm.
func clockMinutes(s string) (int, bool) {
	if len(s) != len("hh:mm") || s[2] != ':' {
		return 0, false
	}
	h, err := strconv.Atoi(s[:2])
	m, err2 := strconv.Atoi(s[3:])
	return 60*h + m, err == nil && err2 == nil && h >= 0 && h < 24 && m >= 0 && m < 60
}

// Indication is what penetrant showed at one place.
type Indication struct {
	Length unit.MM    `doc:"length,required"`
	Width  unit.MM    `doc:"width,required"`
	Std    unit.MM    `doc:"std" help:"standard uncertainty of both; taken as exact when left out"`
	Ends   []geom.Vec `doc:"ends_mm" help:"both ends [[x, y, z], [x, y, z]], in one frame for the whole record; they tell which indications count as one"`
	Crack  body.YesNo `doc:"crack" help:"yes when it is a crack, no when it surely is none; unknown unless given" oneof:"yes|no|unknown"`
}

func (c *checker) repair() {
	findings, evidence := c.findingIDs(), c.evidenceIDs()
	looks := c.lookIDs()
	unique(c, "questions", "id", c.s.Questions, func(q Asked) string { return q.ID })
	for i, q := range c.s.Questions {
		at := fmt.Sprintf("questions[%d]", i)
		c.aboutOne(at, q.Finding, q.Point)
		c.ref(at+".finding", "finding", string(q.Finding), findings)
		c.ref(at+".document", "evidence", q.Document, evidence)
		c.notBefore(at+".on", q.On, "the day the job was opened", c.s.Opened)
	}
	twice(c, "accepted", c.s.Accepted, giveOnce)
	for i, a := range c.s.Accepted {
		at := fmt.Sprintf("accepted[%d]", i)
		c.ref(at+".finding", "finding", string(a.Finding), findings)
		c.notBefore(at+".on", a.On, "the day the job was opened", c.s.Opened)
		if (a.Kind == body.SectionOff) != (a.Line != "") {
			c.fault(at+".line", "a section is along a line, and nothing else is", "give 'line' for a section only")
		}
	}
	for i, r := range c.s.Reviews {
		c.notBefore(fmt.Sprintf("reviews[%d].on", i), r.On, "the day the job was opened", c.s.Opened)
	}
	unique(c, "records", "id", c.s.Records, func(r Record) string { return r.ID })
	for i, r := range c.s.Records {
		at := fmt.Sprintf("records[%d]", i)
		c.ref(at+".finding", "finding", string(r.Finding), findings)
		c.ref(at+".inspection", "inspection", r.Look, looks)
		for k, e := range r.Evidence {
			c.ref(fmt.Sprintf("%s.evidence[%d]", at, k), "evidence", e, evidence)
		}
		twice(c, at+".evidence", r.Evidence, nameOnce)
		c.notBefore(at+".on", r.On, "the day the job was opened", c.s.Opened)
		c.record(at, r)
	}
}

func (c *checker) record(at string, r Record) {
	about := r.Show == body.ShowPenetrant || r.Show == body.ShowVisual
	switch {
	case about && r.Finding == "":
		c.fault(at+".finding", "it does not say which finding was inspected", "give 'finding'")
	case r.Show == body.ShowTorque && r.Joint == "":
		c.fault(at+".joint", "it does not say which joint was closed", "give 'joint'")
	case r.Show == body.ShowAdhesive && (r.Joint != "" && r.Finding != "" || r.Joint == "" && r.Finding == "" && r.Step == ""):
		c.fault(at+".joint", "adhesive is on record for one joint, for the plate of one finding, or for a step of the job", "give 'joint', 'finding' or 'step'")
	case r.Show == body.ShowPenetrant && r.None == (len(r.Indications) > 0):
		c.fault(at+".indications", "it has to say what was indicated, or that nothing was", "give 'indications', or 'no_indications: yes'")
	case r.Show == body.ShowTorque && r.Torque <= 0:
		c.fault(at+".torque", "it does not say what the tool was set to", "write for example 'torque: 24 N m'")
	case r.Show == body.ShowAdhesive && (r.Material == "" || r.Batch == "" || r.UseBefore.IsZero()):
		c.fault(at, "the adhesive, its batch and its last day of use are needed", "give 'material', 'batch' and 'use_before'")
	}
	c.closing(at, r)
	if r.Temp.Known && (r.Temp.Value < coldest || r.Temp.Value > hottestBonded) {
		c.slip(at+".temperature", fmt.Sprintf("%s is no temperature that parts are bonded at", r.Temp.Value), "write degrees Celsius, for example 19 C")
	}
	for k, x := range r.Indications {
		if n := len(x.Ends); n != 0 && n != 2 {
			c.fault(fmt.Sprintf("%s.indications[%d].ends_mm", at, k), "an indication has two ends", "give both, or leave 'ends_mm' out")
		} else if n == 2 && x.Ends[0].Dist(x.Ends[1]) > float64(x.Length)+float64(2*x.Std)+endsSlackMM {
			c.fault(fmt.Sprintf("%s.indications[%d].ends_mm", at, k), fmt.Sprintf("the ends are %.1f mm apart, the length is %s", x.Ends[0].Dist(x.Ends[1]), x.Length), "no indication is shorter than the way between its ends")
		}
		c.indication(fmt.Sprintf("%s.indications[%d]", at, k), x)
		if len(x.Ends) > 0 && slices.ContainsFunc(r.Indications[:k], func(o Indication) bool { return slices.Equal(o.Ends, x.Ends) }) {
			c.slip(fmt.Sprintf("%s.indications[%d].ends_mm", at, k), "another indication has the same ends", "give each indication once")
		}
	}
}

// indication checks the size of an indication.
func (c *checker) indication(at string, x Indication) {
	no := fmt.Sprintf("%s by %s is no indication", x.Length, x.Width)
	hint := "the length is the larger of the two, both are over zero"
	switch {
	case x.Length <= 0:
		c.fault(at+".length", no, hint)
	case x.Width <= 0 || x.Width > x.Length:
		c.fault(at+".width", no, hint)
	}
	if x.Std < 0 {
		c.fault(at+".std", fmt.Sprintf("%s is negative", x.Std), "leave it out for sizes without uncertainty")
	}
	for i, p := range x.Ends {
		if outside(p) {
			c.slip(fmt.Sprintf("%s.ends_mm[%d]", at, i), "the point lies outside any vehicle", "coordinates are in millimetres")
		}
	}
}

// endsSlackMM is what two readings on a rule may be off together. Our choice.
const endsSlackMM = 1.0

// closing checks what belongs to hold points and to an adhesive's open time.
func (c *checker) closing(at string, r Record) {
	c.clock(at+".at", r.At)
	c.clock(at+".mixed", r.Mixed)
	c.clock(at+".closed", r.Closed)
	if _, ok := r.OpenMinutes(); r.Mixed != "" && r.Closed != "" && !ok {
		c.fault(at+".closed", fmt.Sprintf("closed at %s, before it was mixed at %s", r.Closed, r.Mixed), "see which of the two is wrong")
	}
	switch {
	case r.Show == body.ShowHold && r.Step == "":
		c.fault(at+".step", "it does not say of which step the hold point is", "give 'step', the name as the plan has it")
	case r.Step != "" && r.Show != body.ShowHold && r.Show != body.ShowAdhesive:
		c.fault(at+".step", "only a hold point and an adhesive belong to a step", "give 'step' for show: hold or adhesive only")
	case r.Step != "" && r.Joint != "":
		c.fault(at+".step", "a joint is closed in one step, which the plan says", "leave 'step' out, or 'joint'")
	}
	if r.Show != body.ShowTorque && r.Show != body.ShowAdhesive && (r.Device != "" || !r.Calibrated.IsZero()) {
		c.fault(at+".device", "only a torque and the temperature of an adhesive are set and read with a device that is on record here", "leave 'device' and 'calibrated_until' out, or write show: torque or adhesive")
	}
	if r.Look != "" && r.Show != body.ShowPenetrant {
		c.fault(at+".inspection", "only penetrant is held against the conditions of an inspection", "leave it out, or write show: penetrant")
	}
	if r.What != "" && r.Show != body.ShowVisual && r.Show != body.ShowPenetrant {
		c.fault(at+".what", "only what was looked for has words of its own", "leave it out, or write show: visual or penetrant")
	}
}

// repairAgainst checks joints, materials, lines and people against the body
// and the shop.
func (c *checker) repairAgainst(b *body.Body, sh *shop.Shop) {
	joints, materials, lines, people := names(b.Joints, func(j body.Joint) string { return string(j.ID) }),
		names(b.Materials, func(m body.Material) string { return string(m.ID) }),
		names(b.Lines, func(l body.Line) string { return string(l.ID) }),
		names(sh.People, func(p shop.Person) string { return p.ID })
	for i, a := range c.s.Accepted {
		c.ref(fmt.Sprintf("accepted[%d].line", i), "section line", string(a.Line), lines)
		c.person(fmt.Sprintf("accepted[%d].by", i), a.By, people)
	}
	for i, r := range c.s.Reviews {
		c.person(fmt.Sprintf("reviews[%d].by", i), r.By, people)
	}
	c.handBacksAgainst(people)
	c.proposalsAgainst(people)
	c.sendingsAgainst(people)
	c.erasuresAgainst(people)
	for i, a := range c.s.Answers {
		c.person(fmt.Sprintf("answers[%d].recorded_by", i), a.RecordedBy, people)
	}
	for i, x := range c.s.Choices {
		c.person(fmt.Sprintf("choices[%d].by", i), x.By, people)
	}
	for i, x := range c.s.Questions {
		c.someone(fmt.Sprintf("questions[%d].by", i), x.By, sh)
	}
	for i, x := range c.s.Checks {
		c.someone(fmt.Sprintf("procedure_checks[%d].by", i), x.By, sh)
	}
	for i, x := range c.s.Looks {
		c.person(fmt.Sprintf("inspections[%d].by", i), x.By, people)
	}
	for i, r := range c.s.Records {
		at := fmt.Sprintf("records[%d]", i)
		c.ref(at+".joint", "joint", string(r.Joint), joints)
		c.ref(at+".material", "material", string(r.Material), materials)
		c.person(at+".by", r.By, people)
	}
}

// someone wants an act to be signed by a person of the shop file, with or
// without a word for what the person is: "P1" or "planner P1".
func (c *checker) someone(at, by string, sh *shop.Shop) {
	if _, ok := sh.Signer(by); !ok {
		hint := ""
		if len(sh.People) <= 12 {
			hint = "people: " + strings.Join(names(sh.People, func(p shop.Person) string { return p.ID }).list, ", ")
		}
		c.fault(at, fmt.Sprintf("%q names no person of the shop file", by), hint)
	}
}

// People says what of a job was signed by somebody who may not: an acceptance,
// a review, a record, an answer. Who may do what is in the shop file. What is
// not granted there is not granted.
func People(s *State, sh *shop.Shop) []diag.Note {
	var out []diag.Note
	block := func(where string, said diag.Said, hint string) {
		out = append(out, said.Note(diag.Note{Severity: diag.Blocking, Where: where, Hint: hint}))
	}
	signs := signers(s)
	for _, a := range s.Accepted {
		if p, ok := sh.Person(a.By); !ok || !slices.Contains(p.Accepts, a.Kind) {
			block(string(a.Finding), diag.Say("job.may-not-accept", "{by} accepted {kind:q}, which that person may not", a.By, a.Kind), "have somebody accept it whom the shop file lets ('accepts')")
		}
	}
	for _, r := range s.Reviews {
		switch {
		case !may(sh, r.By, shop.MayReview):
			block(r.By, diag.Say("job.may-not-review", "{by} may not review", r.By), "have somebody review whom the shop file lets ('may: [review]')")
		case signs[r.By]:
			block(r.By, diag.Say("job.own-review", "{by} reviewed what the same person entered, recorded, chose or accepted", r.By), "author and reviewer have to be two people")
		case !named(s.Author, sh):
			block(r.By, diag.Say("job.author-unknown", "the author of the job, {author:q}, is nobody of the shop file: nobody can tell that {by} is somebody else", s.Author, r.By), "name the person in 'author', for example 'planner P1'")
		}
	}
	for _, r := range s.Records {
		if !may(sh, r.By, shop.MayInspect) {
			block(r.ID, diag.Say("job.may-not-inspect", "record {record} is signed by {by}, who may not inspect", r.ID, r.By), "have it inspected by somebody whom the shop file lets ('may: [inspect]')")
		}
	}
	for _, a := range s.Answers {
		switch {
		case a.RecordedBy == "":
			block(string(a.Finding), diag.Say("job.answer-unsigned", "nobody has signed for recording answer {answer}", a.ID), "say who did in 'recorded_by'")
		case !may(sh, a.RecordedBy, shop.MayAnswers):
			block(string(a.Finding), diag.Say("job.may-not-record", "answer {answer} was recorded by {by}, who may not", a.ID, a.RecordedBy), "have it recorded by somebody whom the shop file lets ('may: [answers]')")
		}
	}
	return out
}

func may(sh *shop.Shop, id string, what shop.Authority) bool {
	p, ok := sh.Person(id)
	return ok && slices.Contains(p.May, what)
}

// signers is everybody who is the author of the job ("planner P1"), accepted a treatment
// in it, chose its route or recorded an answer.
func signers(s *State) map[string]bool {
	out := map[string]bool{}
	for _, w := range strings.Fields(s.Author) {
		out[w] = true
	}
	for _, a := range s.Accepted {
		out[a.By] = true
	}
	for _, x := range s.Choices {
		out[x.By] = true
	}
	for _, a := range s.Answers {
		out[a.RecordedBy] = true
	}
	return out
}

// named says that a word of the text is a person of the shop file.
func named(text string, sh *shop.Shop) bool {
	_, ok := sh.Signer(text)
	return ok
}
