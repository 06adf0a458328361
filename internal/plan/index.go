package plan

import (
	"cmp"
	"fmt"
	"slices"
	"sort"
	"strconv"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// builder holds what one call of Build works with.
type builder struct {
	in       Input
	items    []Item
	parts    map[body.PartID]body.Part
	joints   []body.Joint // with assemblies in the place of their parts
	tasks    map[body.TaskID]body.Task
	mats     map[body.MaterialID]body.Material
	findings map[job.FindingID]inspect.Finding
	notes    []diag.Note
	said     map[string]bool

	allJoints []body.Joint
	inside    map[body.PartID]body.PartID   // part to the assembly that is used
	members   map[body.PartID][]body.PartID // assembly that is used to its parts

	shut      map[body.ZoneID]string // zones that could not be reached, and when
	unplanned string                 // why it has no steps; empty: nothing is known against it

	unlisted []string // what is joined though nobody says which metals have to be kept apart

	lax    bool                 // parts of which nobody knows how they come off count like others
	anyway map[body.TaskID]bool // tasks the job needs whatever comes off; those of the items when nil
	open   opened
	nodes  []*node
	chain  map[string]*chainWant
	uses   []use
	lost   []Lost
	seams  map[body.LineID]float64
	coats  coatings             // what is coated
	bakes  []baking             // steps that dry with heat
	fixing []*node              // tasks that fix the vehicle and measure it in
	own    [][]*node            // steps of each item
	once   map[string]*onceFor  // steps done once for several items, by what they are done once for
	each   bool                 // what is done once is left out of the steps, but for what goes by length
	rules  map[[2]*node]string  // why one comes before the other, where a rule of the body says so
	usedOn map[string]unit.Date // the day on which a step uses something of which what came does not keep till then
}

func newBuilder(in Input) *builder {
	if len(in.Inspect.Access) > 0 {
		in.Body = withFound(in.Body, in.Inspect.Access)
	}
	b := &builder{in: in, shut: shutZones(in.Inspect), parts: map[body.PartID]body.Part{}, tasks: map[body.TaskID]body.Task{},
		mats: map[body.MaterialID]body.Material{}, findings: map[job.FindingID]inspect.Finding{},
		said: map[string]bool{}, chain: map[string]*chainWant{}, seams: map[body.LineID]float64{}, rules: map[[2]*node]string{}, once: map[string]*onceFor{}}
	for _, p := range in.Body.Parts {
		b.parts[p.ID] = p
	}
	for _, t := range in.Body.Tasks {
		b.tasks[t.ID] = t
	}
	for _, m := range in.Body.Materials {
		b.mats[m.ID] = m
	}
	for _, f := range in.Job.Findings {
		b.findings[f.ID] = inspect.Finding{ID: f.ID, Kind: f.Kind, Part: f.Part}
	}
	for _, f := range in.Inspect.Findings {
		b.findings[f.ID] = f
	}
	b.allJoints = slices.Clone(in.Body.Joints)
	sort.Slice(b.allJoints, func(i, j int) bool { return b.allJoints[i].ID < b.allJoints[j].ID })
	b.joints = b.allJoints
	for _, it := range Merge(in.Choice.Items) {
		it.Findings = slices.Clone(it.Findings)
		slices.SortFunc(it.Findings, byName)
		b.items = append(b.items, it)
	}
	sort.SliceStable(b.items, func(i, j int) bool { return itemKey(b.items[i]) < itemKey(b.items[j]) })
	return b
}

// byName orders findings as people count.
func byName(a, b job.FindingID) int { return doc.Natural(string(a), string(b)) }

func itemKey(it Item) string { return fmt.Sprint(it.Findings, it.Treatment, it.Line, it.Part) }

func (b *builder) note(sev diag.Severity, where string, said diag.Said, hint string) {
	n := said.Note(diag.Note{Severity: sev, Where: where, Hint: hint})
	if k := fmt.Sprint(sev, "\x00", where, "\x00", n.Code, "\x00", n.Text, "\x00", hint); !b.said[k] {
		b.said[k] = true
		b.notes = append(b.notes, n)
	}
}

func (b *builder) block(where string, said diag.Said, hint string) {
	b.note(diag.Blocking, where, said, hint)
}

// part is the part of that identity; an unknown one blocks.
func (b *builder) part(id body.PartID) body.Part {
	p, ok := b.parts[id]
	if !ok {
		b.block(string(id), diag.Say("plan.unknown-part", "part {part} is not in the body's data", id), "check the body folder")
		p = body.Part{ID: id, Name: string(id)}
	}
	return p
}

func (b *builder) material(id body.MaterialID, where string) (body.Material, bool) {
	m, ok := b.mats[id]
	if !ok {
		b.block(where, diag.Say("plan.unknown-material", "material {material} is not in the body's data", id), "check the body folder")
	}
	return m, ok
}

// rate is the shop's price of an hour of the skill, in minor units; 0 when the
// shop has none.
func (b *builder) rate(s body.SkillID) int64 {
	if x, ok := b.in.Shop.Sublet(s); ok { // the visit is left out: it is paid once, whatever is done
		return int64(x.Hour.Minor)
	}
	for _, r := range b.in.Shop.Rates {
		if r.Skill == s {
			return int64(r.Hour.Minor)
		}
	}
	return 0
}

// numBeside is num beside limits that are printed in full: with as many decimals as show
// on which side of each it lies.
func numBeside(v float64, limits ...float64) string {
	s := num(v)
	if read, err := strconv.ParseFloat(s, 64); err == nil && !slices.ContainsFunc(limits, func(l float64) bool { return cmp.Compare(read, l) != cmp.Compare(v, l) }) {
		return s
	}
	return unit.FixedBeside(v, 3, limits...)
}

// numbers prints two figures that are held against one another.
func numbers(a, b float64) (string, string) {
	if x, y := num(a), num(b); (x == y) == (a == b) {
		return x, y
	}
	return unit.Pair(a, b, 3)
}

// figure is num as a figure of a sentence.
func figure(v float64) diag.Figure { return diag.Figure{Text: num(v), Value: v} }

// num prints a figure for a sentence: at most three decimals, none to spare.
func num(v float64) string {
	s := fmt.Sprintf("%.3f", v)
	for s[len(s)-1] == '0' {
		s = s[:len(s)-1]
	}
	if s[len(s)-1] == '.' {
		s = s[:len(s)-1]
	}
	return s
}
