package explain

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/plan"
	"fettle/internal/report"
)

// thing is one thing that has a name somewhere: in a document, on a page or in
// assessment.json.
type thing struct {
	Kind  thingKind
	names []string // the first is its identity
	route string   // of which it is, when there may be one of this name on each
	why   func() Reason
}

// Title is a thing among others of its name.
func (t thing) Title() string {
	s := string(t.Kind) + " " + t.names[0]
	if t.route != "" {
		s += " of route " + t.route
	}
	return s
}

// Names is everything that can be asked for in an assessment.
type Names struct {
	In     report.Input
	read   []Read
	took   []cost.History // what steps of this job took that are recorded
	Picked string         // the route whose steps, lines and parts are meant unless another is named
	all    []written      // in the documents
	things []thing
	trees  []ReasonedThing  // of things; made when first asked for
	exact  map[string][]int // things by name
	loose  map[string][]int // things by folded name
}

// Read is a piece of evidence as it was read.
type Read struct {
	ID     string
	Bytes  int64
	SHA256 string
}

// Of is everything that can be asked for: in what was found of a job, whose steps took
// so long, with the route that is meant unless another is named.
func Of(in report.Input, read []Read, took []cost.Sample, picked string) *Names {
	n := &Names{In: in, read: read, all: writtenIn(in), Picked: picked}
	if len(in.Job.Actuals) > 0 {
		n.took = cost.HistoryOf(in.Shop.Name, took, nil)
	}
	n.addFound()
	for _, route := range in.Compare.Routes {
		if route.ID == n.Picked {
			n.addRoute(route)
		}
	}
	for _, route := range in.Compare.Routes {
		if route.ID != n.Picked {
			n.addRoute(route)
		}
	}
	n.addWritten()
	n.index()
	return n
}

// index has things found by their names.
func (n *Names) index() {
	n.exact, n.loose = map[string][]int{}, map[string][]int{}
	for i, t := range n.things {
		folds := map[string]bool{}
		for _, name := range t.names {
			n.exact[name] = append(n.exact[name], i)
			if f := folded(name); !folds[f] {
				folds[f] = true
				n.loose[f] = append(n.loose[f], i)
			}
		}
	}
}

func (n *Names) add(kind thingKind, why func() Reason, names ...string) {
	var given []string
	for _, name := range names {
		if name != "" && !slices.Contains(given, name) {
			given = append(given, name)
		}
	}
	if len(given) > 0 {
		n.things = append(n.things, thing{Kind: kind, names: given, why: why})
	}
}

// Explain is the reason tree of anything that is printed: by the name it is
// printed with, or a figure. Steps, parts, materials and price lines are those
// of the route that the report shows unless the name is written ROUTE/NAME. A
// name that means several things gives all of them; with its kind before it
// ("zone RAIL-L") it means that kind alone.
func (n *Names) Explain(what string) (Reason, error) {
	if found := n.Find(what); len(found) > 0 {
		return together(what, found), nil
	}
	if t, ok := n.figure(what); ok {
		return t, nil
	}
	return Reason{}, &diag.Error{Kind: diag.NotFound, Op: "explain", Subject: what, Msg: "there is nothing of this name in the assessment", Hint: n.hint(what)}
}

// together is the one thing of a name, or all of them under it.
func together(what string, found []thing) Reason {
	if len(found) == 1 {
		return found[0].why()
	}
	t := because(diag.Say("explain.several", "{name} means {count} things.", what, len(found)))
	for _, f := range found {
		why := f.why()
		why.Said = diag.Say("explain.of-thing", "{thing}: {sentence}", f.Title(), why.Said)
		t.Under = append(t.Under, why)
	}
	return t
}

// Find is everything of a name: as it is written, else whatever the capitals,
// spaces and dashes, else with a kind before it.
func (n *Names) Find(what string) []thing {
	route, name, given := strings.Cut(what, "/")
	if given {
		if out := n.those(n.loose[folded(name)], func(t thing) bool { return t.route == route }); len(out) > 0 {
			return out
		}
	}
	own := func(t thing) bool { return t.route == "" || t.route == n.Picked }
	other := func(t thing) bool { return !own(t) }
	for _, known := range [][]int{n.exact[what], n.loose[folded(what)], n.ofKind(folded(what))} {
		for _, of := range []func(thing) bool{own, other} {
			if out := n.those(known, of); len(out) > 0 {
				return out
			}
		}
	}
	return nil
}

func (n *Names) those(known []int, of func(thing) bool) []thing {
	var out []thing
	for _, i := range known {
		if of(n.things[i]) {
			out = append(out, n.things[i])
		}
	}
	return out
}

// ofKind is what is meant by a name with its kind before it.
func (n *Names) ofKind(what string) []int {
	var out []int
	for i, c := range what {
		if c != ' ' {
			continue
		}
		for _, k := range n.loose[what[i+1:]] {
			if folded(string(n.things[k].Kind)) == what[:i] {
				out = append(out, k)
			}
		}
	}
	return out
}

var plainName = strings.NewReplacer("_", " ", "\u2013", "-", "\u2212", "-", "\u00a0", " ", "\u2009", " ", "≤", "<=", "≥", ">=")

// folded is a name without what a reader does not see or say.
func folded(s string) string {
	s = plainName.Replace(strings.ToLower(s))
	return strings.TrimSuffix(strings.Join(strings.Fields(s), " "), ".")
}

// hint is the nearest name, and what kinds of thing there are, with an example of
// each.
func (n *Names) hint(what string) string {
	_, name, given := strings.Cut(what, "/")
	if !given {
		name = what
	}
	var known, kinds []string
	seen := map[thingKind]bool{}
	for _, t := range n.things {
		known = append(known, t.names...)
		if !seen[t.Kind] {
			seen[t.Kind] = true
			short := slices.MinFunc(t.names, func(a, b string) int { return len(a) - len(b) })
			if short == string(t.Kind) {
				kinds = append(kinds, short)
				continue
			}
			kinds = append(kinds, fmt.Sprintf("%s (%s)", t.Kind, short))
		}
	}
	hint := "ask for a " + strings.Join(kinds, ", ") + ", or a figure as it is printed; ROUTE/NAME for a route that is not the one shown"
	if near := doc.DidYouMean(name, known); near != "" && len(known) > 12 {
		return near + " " + hint
	}
	return hint
}

// addRoute takes what a route has: steps, hold points, waits, price lines, parts,
// materials.
func (n *Names) addRoute(route compare.Route) {
	first := len(n.things)
	p := route.Plan
	for _, s := range p.Steps {
		called := []string{s.ID, s.Name}
		if !strings.HasPrefix(s.Ref, "task ") { // that is the task itself, which names the step
			called = append(called, s.Ref)
		}
		n.add("step", func() Reason { return n.step(route, s.ID) }, called...)
	}
	for _, s := range p.Steps {
		if s.Hold != "" {
			n.add("hold point", func() Reason {
				return because(diag.Say("explain.hold", "Hold point at {step} {name}: {hold}", s.ID, s.Name, s.Hold), n.step(route, s.ID))
			}, s.Hold, "hold point "+s.ID)
		}
		for _, x := range s.Readings {
			n.add("figure to write down", func() Reason {
				limits := x.Limits()
				if limits == "" {
					limits = "no limit"
				}
				return because(diag.Say("explain.figure-to-write", "{figure}: {limits}.", x.Name, limits), Reason{Said: diag.Say("explain.at-step", "At {step} {name}", s.ID, s.Name), Source: x.Cite, Under: []Reason{n.step(route, s.ID)}})
			}, x.ID, x.Name)
		}
	}
	if len(p.Stands) > 0 {
		n.add("place", func() Reason { return n.stands(p) }, "yard", "where the vehicle stands")
	}
	for _, name := range waitNames(route) {
		n.add("wait", func() Reason { return n.wait(route, name) }, name)
	}
	for _, l := range route.Bill.Lines {
		n.add("price line", func() Reason { return n.line(route, l.ID) }, l.ID, l.Text)
	}
	for _, x := range p.Removal {
		kind := kindPart
		if len(x.Parts) > 0 {
			kind = kindAssembly
		}
		n.add(kind, func() Reason { t, _ := explainInRoute(route, string(x.Part)); return n.withPart(t, x.Part) }, string(x.Part), x.Name)
		for _, id := range x.Parts {
			n.add(kindPart, func() Reason { t, _ := explainInRoute(route, string(id)); return n.withPart(t, id) }, string(id), partOnly(n.In.Body, id))
		}
	}
	for _, l := range p.Lost {
		if t, ok := explainInRoute(route, string(l.Part)); ok && !slices.ContainsFunc(n.things[first:], func(t thing) bool { return t.Kind == kindPart && t.names[0] == string(l.Part) }) {
			n.add(kindPart, func() Reason { return n.withPart(t, l.Part) }, string(l.Part), l.Name)
		}
	}
	for _, m := range p.Takeoff {
		n.add(kindMaterial, func() Reason {
			t, _ := explainInRoute(route, string(m.Material))
			t.Under = append(t.Under, each("explain.takeoff-says", "{sentence}", report.TakeoffSays(m))...)
			return n.with(t, kindMaterial, string(m.Material))
		}, string(m.Material), m.Name)
	}
	for i := first; i < len(n.things); i++ {
		n.things[i].route = route.ID
	}
}

// waitNames are the names of what the steps of a route wait for.
func waitNames(route compare.Route) []string {
	var out []string
	add := func(name string) {
		if name != "" && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	for _, s := range route.Plan.Steps {
		add(s.WaitName)
		for _, x := range s.Awaits {
			add(x.Name)
		}
	}
	return out
}

// wait is what waits for something, and what that moves.
func (n *Names) wait(route compare.Route, name string) Reason {
	t := because(diag.Say("explain.wait", "Wait: {name}.", name), each("explain.driver-says", "{sentence}", report.DriverSays(n.In, name))...)
	for _, s := range route.Plan.Steps {
		if s.WaitMin > 0 && s.WaitName == name {
			t.Under = append(t.Under, because(diag.Say("explain.after-step", "After {step} {name}", s.ID, s.Name), n.step(route, s.ID)))
		}
		for _, x := range s.Awaits {
			if x.Name == name {
				t.Under = append(t.Under, because(diag.Say("explain.step-begins-then", "{step} {name} begins when it has come", s.ID, s.Name), n.step(route, s.ID)))
				if x.Part != "" {
					t.Under = append(t.Under, n.withPart(because(diag.Say("explain.of-part", "Of part {part}", x.Part)), x.Part))
				}
				if x.Material != "" {
					t.Under = append(t.Under, n.with(because(diag.Say("explain.of-material", "Of material {material}", x.Material)), kindMaterial, string(x.Material)))
				}
			}
		}
	}
	return t
}

// step is why and when a step is done, down to where its minutes, citation and
// figures are written.
func (n *Names) step(route compare.Route, id string) Reason {
	t := explainStep(route, id)
	for _, s := range route.Plan.Steps {
		if s.ID == id {
			t.Under = append(t.Under, each("explain.step-says", "{sentence}", report.StepSays(n.In, s))...)
			t.Under = append(t.Under, n.source(s.Ref)...)
			t.Under = append(t.Under, n.recorded(s.Name)...)
		}
	}
	return t
}

// recorded is what a step took by the records of this job.
func (n *Names) recorded(step string) []Reason {
	var out []Reason
	for _, h := range n.took {
		if strings.EqualFold(h.Step, step) && h.Count > 0 {
			out = append(out, because(took(h)))
		}
	}
	return out
}

// source is the entry of the body that a step was made from: "task K-COAT",
// "T-WELD/weld D1", "off P-BUMPER", "close J-COWL", "joint J-COWL/prime".
func (n *Names) source(ref string) []Reason {
	head, rest, _ := strings.Cut(ref, " ")
	kinds := []thingKind{kindJoint}
	switch head {
	case "task":
		kinds = []thingKind{kindTask}
	case "off", "on":
		kinds = []thingKind{kindPart, kindAssembly}
	case "joint": // a step before it is closed or after: "joint J-COWL/prime"
		rest, _, _ = strings.Cut(rest, "/")
	case "move":
		return n.moving()
	}
	treatment, step, made := strings.Cut(head, "/")
	var out []Reason
	for _, w := range n.all {
		if len(w.names) == 0 || w.bare {
			continue
		}
		if made && w.kind == kindTreatmentStep && w.of == treatment && w.names[0] == step || !made && slices.Contains(kinds, w.kind) && w.names[0] == rest {
			r := w.reason()
			r.Said, r.Source = diag.Say("explain.from-thing", "From {kind} {name}", w.kind, w.names[0]), fieldOf(w.fields, "cite")
			out = append(out, r)
		}
	}
	return out
}

// moving is what the shop says of moving a vehicle, and its bays.
func (n *Names) moving() []Reason {
	var out []Reason
	for _, w := range n.all {
		if w.kind == kindBay {
			out = append(out, Reason{Said: diag.Say("explain.from-entry", "From {entry}", w.line()), At: w.at})
		}
		for _, f := range w.fields {
			if w.kind == kindShop && strings.HasPrefix(f.name, "moving.") {
				out = append(out, Reason{Said: diag.Say("explain.from-field", "From {field}: {value}", f.name, f.text), At: f.at})
			}
		}
	}
	return out
}

// line is a price line, down to the rate or price it is worked out with.
func (n *Names) line(route compare.Route, id string) Reason {
	t, _ := explainInRoute(route, id)
	t.Under = append(t.Under, each("explain.driver-says", "{sentence}", report.DriverSays(n.In, id))...)
	_, of, _ := strings.Cut(id, "-")
	kind := map[byte]thingKind{'L': kindRate, 'P': kindPart, 'M': kindMaterial, 'S': kindSublet, 'T': kindTax}[id[0]]
	for _, w := range n.all {
		if kind != "" && w.kind == kind && len(w.names) > 0 && w.names[0] == of {
			t.Under = append(t.Under, Reason{Said: diag.Say("explain.by-entry", "By {entry}", w.line()), At: w.at})
		}
		if id[0] == 'D' && w.kind == kindShop {
			for _, f := range w.fields {
				if f.name == "storage_per_day" {
					t.Under = append(t.Under, Reason{Said: diag.Say("explain.by-field", "By {field}: {value}", f.name, f.text), At: f.at})
				}
			}
		}
	}
	return t
}

// addWritten takes every entry of the documents that has a name and that nothing
// above stands for already.
func (n *Names) addWritten() {
	computed := n.things
	for _, w := range n.all {
		if w.bare || len(w.names) == 0 || slices.ContainsFunc(computed, func(t thing) bool { return n.isWritten(t, w) }) {
			continue
		}
		names := w.names
		if w.of != "" && w.kind != kindZone {
			names = append(slices.Clone(names), w.of+"/"+names[0], w.of+", "+names[0])
		}
		n.add(w.kind, func() Reason { return n.entry(w) }, append(names, n.spoken(w)...)...)
	}
	for i, e := range n.In.Shop.Equipment {
		at := fileLine(n.In.Job.Shop, n.In.Shop.Problem(fmt.Sprintf("equipment[%d]", i), "", "").Line)
		n.add(kindEquipment, func() Reason {
			t := Reason{Said: diag.Say("explain.equipment", "{equipment}: equipment of the shop.", e), At: at}
			t.Under = append(n.equipment(e), mentions(n.all, kindEquipment, []string{e})...)
			return t
		}, e)
	}
}

// stands is where the vehicle stands, from when to when.
func (n *Names) stands(p plan.Plan) Reason {
	t := because(diag.Say("explain.stands", "Where the vehicle stands; the yard is everywhere that is no bay."))
	for _, s := range p.Stands {
		stands := diag.Say("explain.stands-from", "{place} from {from}", s.Place, s.From.Format("Mon 2006-01-02 15:04"))
		if !s.To.IsZero() {
			stands = diag.Say("explain.stands-from-to", "{place} from {from} to {to}", s.Place, s.From.Format("Mon 2006-01-02 15:04"), s.To.Format("Mon 2006-01-02 15:04"))
		}
		t.Under = append(t.Under, because(stands))
	}
	t.Under = append(t.Under, n.moving()...)
	return t
}

// isWritten says that a thing is what a document has there, with what is computed
// about it.
func (n *Names) isWritten(t thing, w written) bool {
	return t.Kind == w.kind && t.names[0] == w.names[0] && (t.route == "" || t.route == n.Picked)
}

// entry is a thing that only stands in a document, with what was found about it
// and what names it.
func (n *Names) entry(w written) Reason {
	t := Reason{Said: w.titled(), At: w.at, Source: fieldOf(w.fields, "cite")}
	t.Under = append(t.Under, n.found(w)...)
	for _, name := range w.names {
		t.Under = append(t.Under, n.recorded(name)...)
	}
	t.Under = append(t.Under, w.reason())
	t.Under = append(t.Under, n.named(w.kind, w.names)...)
	return t
}

// titled is what an entry is, in a sentence.
func (w written) titled() diag.Said {
	named := len(w.names) > 1 && w.kind != kindReading
	switch {
	case named && w.of != "":
		return diag.Say("explain.entry-named-of", "{kind} {entry}: {name} (of {of}).", w.kind, w.names[0], w.names[1], w.of)
	case named:
		return diag.Say("explain.entry-named", "{kind} {entry}: {name}.", w.kind, w.names[0], w.names[1])
	case w.of != "":
		return diag.Say("explain.entry-of", "{kind} {entry} (of {of}).", w.kind, w.names[0], w.of)
	}
	return diag.Say("explain.entry", "{kind} {entry}.", w.kind, w.names[0])
}

// with adds to the reasons of a thing how it is written and what names it.
func (n *Names) with(t Reason, kind thingKind, id string) Reason {
	for _, w := range n.all {
		if w.kind == kind && !w.bare && len(w.names) > 0 && w.names[0] == id {
			if t.At == "" {
				t.At = w.at
			}
			t.Under = append(t.Under, w.reason())
			t.Under = append(t.Under, n.named(kind, w.names[:1])...)
			return t
		}
	}
	t.Under = append(t.Under, n.named(kind, []string{id})...)
	return t
}

// named is the entries that name a thing and the notes about it.
func (n *Names) named(kind thingKind, names []string) []Reason {
	var out []Reason
	if m := mentions(n.all, kind, names[:1]); len(m) > 0 {
		out = append(out, because(diag.Say("explain.named-by", "Named by"), m...))
	}
	for _, x := range n.In.Notes {
		if x.Where == names[0] {
			out = append(out, noteReason(x))
		}
	}
	return out
}

func noteReason(x diag.Note) Reason {
	said := diag.Say("explain.note", "{severity}, {code}: {note}", x.Severity, x.Code, x.Said())
	if x.Hint != "" {
		said = diag.Say("explain.note-with-hint", "{severity}, {code}: {note}; {hint}", x.Severity, x.Code, x.Said(), x.Hint)
	}
	return Reason{Said: said, Source: x.Source, Remedy: x.Remedy}
}
