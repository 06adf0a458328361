package explain

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/report"
)

// written is one thing that a person wrote into a document: an entry of a list,
// with the place where it stands.
type written struct {
	kind   thingKind
	names  []string // the first is its identity
	at     string   // file and line, from the folder of the job
	fields []writtenField
	of     string // what it is an entry of, when that is a thing itself
	bare   bool   // it has no name of its own: it only says something about others
}

// writtenField is a field with its value as text and the line it stands on.
type writtenField struct{ name, text, at string }

// line is an entry in one line.
func (w written) line() string {
	var parts []string
	for _, f := range w.fields {
		parts = append(parts, f.name+": "+f.text)
	}
	return string(w.kind) + ": " + strings.Join(parts, ", ")
}

// reason is the entry as it is written, a line for each field.
func (w written) reason() Reason {
	t := Reason{Said: diag.Say("explain.as-written", "As it is written"), At: w.at}
	for _, f := range w.fields {
		at := f.at
		if at == w.at {
			at = ""
		}
		t.Under = append(t.Under, Reason{Said: diag.Say("explain.field", "{field}: {value}", f.name, f.text), At: at})
	}
	return t
}

// entryKinds is what an entry of a list of a document is called; a list without
// one holds parts of the entry it lies in. The key is the document and the list.
var entryKinds = map[string]thingKind{
	"body/sections": kindStructure, "body/castings": "casting", "body/zones": kindZone, "body/bores": kindBore, "body/edges": kindEdge,
	"body/section_lines": kindLine, "body/joints": kindJoint, "body/access": "access", "body/triggers": "what comes with taking off",
	"body/treatments": kindTreatment, "body/steps": kindTreatmentStep, "body/tasks": kindTask, "body/materials": kindMaterial,
	"body/inspection": kindArea, "body/assemblies": kindAssembly, "body/refit": "order of refit", "body/rivet_bounds": "bounds of rivets",
	"body/points": kindControlPoint, "body/parts": kindPart, "body/readings": "figure to write down", "body/uses": "use of a material",
	"procedure/rows": kindRow, "procedure/areas": kindAreaRule, "procedure/methods": "method of inspection", "procedure/levels": "level",
	"procedure/acceptance": "acceptance", "procedure/tests": kindTest,
	"shop/rates": kindRate, "shop/people": kindPerson, "shop/absences": "absence", "shop/bays": kindBay, "shop/equipment_tests": kindEquipment, "shop/taxes": kindTax,
	"shop/total_loss": kindLossRule, "shop/spreads": kindSpread, "shop/sublets": kindSublet,
	"job/hazards": kindHazard, "job/setups": kindSetup, "job/findings": kindFinding, "job/inspections": kindInspection, "job/areas": "what was inspected",
	"job/earlier_repairs": kindEarlier, "job/castings": "what is known of the casting", "job/evidence": kindEvidence, "job/answers": kindAnswer,
	"job/choices": "choice", "job/procedure_checks": "look-up of the revision", "job/risks": kindRisk, "job/agreed": "agreed bill", "job/actuals": kindRecord, "job/work": "step as it was agreed",
	"job/deliveries": "delivery", "job/promises": "promise",
	"job/questions": kindQuestion, "job/told": "what a question was sent with", "job/facts": kindTold, "job/workplace": "work area",
	"job/accepted": "acceptance", "job/reviews": "review", "job/figures": "figure read", "job/records": "proof", "job/readings": kindReading,
}

// ownField is the field that names an entry, where it is not "id".
var ownField = map[string]string{"job/hazards": "kind", "job/work": "step", "shop/rates": "skill", "shop/equipment_tests": "equipment", "procedure/methods": "method"}

// spokenFields are other names that an entry is printed with.
var spokenFields = []string{"name", "title", "text", "hold_point", "file", "device"}

// refersTo is the kinds of thing that the value of a field may name.
var refersTo = map[string][]thingKind{
	"item": {kindPart, kindMaterial}, "part": {kindPart, kindAssembly}, "parts": {kindPart}, "layers": {kindPart}, "destroys": {kindPart}, "piece": {kindPart},
	"zone": {kindZone}, "zones": {kindZone}, "area": {kindArea}, "casting": {"casting"}, "section": {kindStructure}, "mirror": {kindControlPoint},
	"from": {kindControlPoint}, "setup": {kindSetup}, "inspection": {kindInspection}, "finding": {kindFinding}, "findings": {kindFinding},
	"other_face_of": {kindFinding}, "branch_of": {kindFinding}, "document": {kindEvidence}, "evidence": {kindEvidence}, "question": {kindQuestion}, "answer": {kindAnswer},
	"procedure": {kindProcedure}, "material": {kindMaterial}, "rivet": {kindMaterial}, "adhesive": {kindMaterial}, "plate": {kindMaterial}, "cures": {kindMaterial}, "cure": {kindMaterial},
	"treatment": {kindTreatment}, "requires": {kindTask}, "before": {kindTask}, "follows": {kindTask}, "after": {kindTask, kindPart}, "skill": {kindRate, kindSublet}, "skills": {kindRate},
	"about": {kindFinding, kindArea, kindPart, kindZone, kindControlPoint}, "to": {kindPart, kindZone, kindLine, kindAssembly, kindControlPoint}, "needs": {kindPart, kindAssembly, kindTask},
	"by": {kindPerson}, "recorded_by": {kindPerson}, "route": {kindRoute}, "step": {"step"}, "bounds": {"bounds of rivets"}, "joint": {kindJoint}, "row": {kindRow}, "equipment": {kindEquipment}, "bay": {kindBay},
}

// writtenIn is everything that is written in the documents of a job, in the
// order in which it stands there.
func writtenIn(c report.Input) []written {
	w := &writer{}
	bodyDir, shopFile := c.Job.Body, path.Clean(c.Job.Shop)
	in := func(dir string, problem func(path, msg, hint string) diag.Problem) func(string) string {
		return func(field string) string {
			p := problem(field, "", "")
			return fileLine(path.Join(dir, p.File), p.Line)
		}
	}
	bodyAt, jobAt := in(bodyDir, c.Body.Problem), in("", c.Job.Problem)
	shopAt := func(field string) string { return fileLine(shopFile, c.Shop.Problem(field, "", "").Line) }
	w.root(kindJob, c.Job.ID, doc.Encode(*c.Job), "", jobAt)
	for i, r := range c.Job.Readings {
		w.entry("job", "readings", fmt.Sprintf("readings[%d]", i), doc.Encode(r).(doc.Object), "", jobAt)
	}
	w.root("body", c.Body.ID, doc.Encode(*c.Body), "", bodyAt)
	for i, p := range c.Body.Points {
		w.entry("body", "points", fmt.Sprintf("points[%d]", i), doc.Encode(p).(doc.Object), "", bodyAt)
	}
	for i, p := range c.Body.Parts {
		w.entry("body", "parts", fmt.Sprintf("parts[%d]", i), doc.Encode(p).(doc.Object), "", bodyAt)
	}
	for i := len(c.Body.Procedures) - 1; i >= 0; i-- { // the newest revision first
		p := c.Body.Procedures[i]
		w.root(kindProcedure, string(p.ID), doc.Encode(p), fmt.Sprintf("procedures[%d].", i), bodyAt)
	}
	w.root(kindShop, c.Shop.Name, doc.Encode(*c.Shop), "", shopAt)
	return w.out
}

// fileLine is a file with the line in it.
func fileLine(file string, line int) string {
	if line == 0 {
		return file
	}
	return fmt.Sprintf("%s:%d", file, line)
}

type writer struct{ out []written }

// root takes a document: its own fields, and the entries of its lists.
func (w *writer) root(document thingKind, id string, tree any, prefix string, at func(string) string) {
	o := tree.(doc.Object)
	self := written{kind: document, names: []string{id}, at: at(prefix + "format")}
	o.Each(func(name string, v any) {
		switch v := v.(type) {
		case doc.Object:
			self.fields = append(self.fields, flatFields(name+".", v, prefix+name, at)...)
		case []any:
			if len(v) > 0 && entryKinds[string(document)+"/"+name] == "" {
				self.fields = append(self.fields, writtenField{name, flow(v), at(prefix + name)})
			}
		default:
			self.fields = append(self.fields, writtenField{name, flow(v), at(prefix + name)})
			if slices.Contains([]string{"id", "name", "title"}, name) && !slices.Contains(self.names, flow(v)) {
				self.names = append(self.names, flow(v))
			}
		}
	})
	if document == kindProcedure {
		self.of = "revision " + fieldOf(self.fields, "revision")
		self.names = append(self.names, self.names[0]+" revision "+fieldOf(self.fields, "revision"))
	}
	for _, f := range self.fields {
		if f.name == "vehicle.vin" {
			self.names = append(self.names, f.text)
		}
	}
	w.out = append(w.out, self)
	of := ""
	if document == kindProcedure {
		of = self.names[len(self.names)-1]
	}
	w.lists(string(document), prefix, o, of, at)
}

// flatFields are the fields of a mapping inside an entry.
func flatFields(lead string, o doc.Object, at string, place func(string) string) []writtenField {
	var out []writtenField
	o.Each(func(name string, v any) {
		if inner, ok := v.(doc.Object); ok {
			out = append(out, flatFields(lead+name+".", inner, at+"."+name, place)...)
			return
		}
		out = append(out, writtenField{lead + name, flow(v), place(at + "." + name)})
	})
	return out
}

func fieldOf(fields []writtenField, name string) string {
	for _, f := range fields {
		if f.name == name {
			return f.text
		}
	}
	return ""
}

// lists takes the entries of every list of a mapping.
func (w *writer) lists(document, prefix string, o doc.Object, of string, at func(string) string) {
	o.Each(func(name string, v any) {
		switch v := v.(type) {
		case doc.Object: // the one step of a task
			w.lists(document, prefix+name+".", v, of, at)
		case []any:
			for i, x := range v {
				if entry, ok := x.(doc.Object); ok {
					w.entry(string(document), name, fmt.Sprintf("%s%s[%d]", prefix, name, i), entry, of, at)
				}
			}
		}
	})
}

// entry takes one entry of a list, and what lies in it.
func (w *writer) entry(document, list, at string, o doc.Object, of string, place func(string) string) {
	kind := entryKinds[document+"/"+list]
	if kind == "" { // a part of the entry it lies in
		return
	}
	out := written{kind: kind, at: place(at), of: of}
	own := ownField[document+"/"+list]
	if own == "" {
		own = "id"
	}
	o.Each(func(name string, v any) {
		text := flow(v)
		switch v := v.(type) {
		case doc.Object:
			out.fields = append(out.fields, flatFields(name+".", v, at+"."+name, place)...)
			return
		case []any:
			if entryKinds[document+"/"+name] != "" && len(v) > 0 {
				if _, ok := v[0].(doc.Object); ok {
					text = namesIn(v)
				}
			}
		}
		out.fields = append(out.fields, writtenField{name, text, place(at + "." + name)})
		if name == own && !strings.HasPrefix(text, "task ") { // a task names itself
			out.names = append([]string{text}, out.names...)
		} else if slices.Contains(spokenFields, name) && kind != kindSetup {
			out.names = append(out.names, text)
		}
	})
	if kind == kindReading {
		out.names = append(out.names, readingNames(out)...)
	}
	if fieldOf(out.fields, own) == "" && kind != kindReading {
		out.bare = true
	}
	if kind == kindTold || kind == kindHazard { // it stands for one there is
		out.bare = true
	}
	w.out = append(w.out, out)
	inner := of
	if len(out.names) > 0 && !out.bare {
		inner = out.names[0]
	}
	w.lists(document, at+".", o, inner, place)
}

// readingNames are the names a reading is printed with.
func readingNames(w written) []string {
	setup, from, to, kind := fieldOf(w.fields, "setup"), fieldOf(w.fields, "from"), fieldOf(w.fields, "to"), fieldOf(w.fields, "kind")
	if to == "" {
		return []string{setup + " " + from, w.at}
	}
	return []string{setup + " " + from + "–" + to, kind + " " + from + "–" + to + " (" + setup + ")", kind + " " + from + "–" + to, w.at}
}

// namesIn is the identities of entries that are things of their own.
func namesIn(list []any) string {
	var out []string
	for _, x := range list {
		text := ""
		x.(doc.Object).Each(func(name string, v any) {
			if text == "" && name != "along_mm" {
				text = flow(v)
			}
		})
		out = append(out, text)
	}
	return strings.Join(out, ", ")
}

// flow is a value of a document in one line.
func flow(v any) string {
	switch v := v.(type) {
	case doc.Object:
		var parts []string
		v.Each(func(name string, x any) { parts = append(parts, name+": "+flow(x)) })
		return "{" + strings.Join(parts, ", ") + "}"
	case []any:
		parts := make([]string, len(v))
		nested := false
		for i, x := range v {
			parts[i] = flow(x)
			if _, ok := x.([]any); ok {
				nested = true
			}
		}
		if nested {
			return "[" + strings.Join(parts, "; ") + "]"
		}
		return strings.Join(parts, ", ")
	case bool:
		if v {
			return "yes"
		}
		return "no"
	}
	return fmt.Sprint(v)
}

// mentions are the entries that name a thing, each in a line with its place.
func mentions(all []written, kind thingKind, names []string) []Reason {
	var out []Reason
	for _, w := range all {
		if w.kind == kindTest || w.kind == kindReading && kind == kindControlPoint {
			continue // a test is about no vehicle; the readings of a point are told with it
		}
		if f, ok := w.mentions(kind, names); ok {
			names := diag.Say("explain.entry-line", "{entry}", w.line())
			if !w.bare && w.kind != kindReading && len(w.names) > 0 {
				names = diag.Say("explain.entry-names", "{kind} {name}, as its {field}", w.kind, w.names[0], strings.ReplaceAll(f.name, "_", " "))
			}
			at := w.at
			if !w.bare {
				at = f.at
			}
			out = append(out, Reason{Said: names, At: at})
		}
	}
	return out
}

// mentions is the field of an entry that names a thing.
func (w written) mentions(kind thingKind, names []string) (writtenField, bool) {
	for _, f := range w.fields {
		name := f.name[strings.LastIndex(f.name, ".")+1:]
		if !slices.Contains(refersTo[name], kind) || (w.kind == kind && len(w.names) > 0 && w.names[0] == names[0]) {
			continue
		}
		for _, word := range strings.FieldsFunc(f.text, func(r rune) bool { return strings.ContainsRune(",;[]{}", r) }) {
			word = strings.TrimSpace(word)
			if slices.Contains(names, word) || kind == kindPerson && len(names) > 0 && strings.HasSuffix(word, " "+names[0]) {
				return f, true
			}
		}
	}
	return writtenField{}, false
}
