package compare

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// action is a global action: a section line or a casting to be replaced. It
// may treat many findings at once.
type action struct {
	line    body.LineID
	casting body.CastingID
}

// Actions that subsets are made of: 2 to the power of it are looked at, fewer where there are
// very many findings.
const (
	maxActions   = 8
	fewActions   = 6
	manyFindings = 60
)

func (f *finder) mostActions() int {
	if len(f.wards) > manyFindings {
		return fewActions
	}
	return maxActions
}

// finder makes candidate routes.
type finder struct {
	in     Input
	wards  []ward
	seams  map[body.LineID]float64
	weigh  *plan.Weigher
	packed []plan.Packed
	known  map[string]choice          // by key
	gaps   map[string][]plan.Gap      // by key: what is not known of what comes off for an item alone
	owns   map[job.FindingID][]choice // of the wards, by their first finding
	nested map[[2]body.LineID]bool    // the first line's cut lies on what the second takes off

	unseen  unit.Minor // least money of the mixes that were not looked at; 0: none could cost less
	quickly int        // plans made of large candidates only to be quicker
	spared  int        // sets of risks that large candidates were asked to avoid
	leftOut int        // section lines and castings that no route was made with
}

// actions lists every section line that is allowed for some ward, and every
// casting whose replacement is.
func (f *finder) actions() []action {
	var out []action
	for _, l := range f.in.Body.Lines {
		for _, w := range f.wards {
			if o, ok := w.verdict(body.SectionOff, l.ID); ok && o.verdict == decide.Allowed && w.casting == l.Casting {
				out = append(out, action{line: l.ID, casting: l.Casting})
				break
			}
		}
	}
	for _, c := range f.in.Body.Castings {
		for _, w := range f.wards {
			if o, ok := w.verdict(body.ReplaceCasting, ""); ok && o.verdict == decide.Allowed && w.casting == c.ID {
				out = append(out, action{casting: c.ID})
				break
			}
		}
	}
	sort.Slice(out, func(i, j int) bool {
		if (out[i].line == "") != (out[j].line == "") {
			return out[i].line != ""
		}
		return out[i].line+body.LineID(out[i].casting) < out[j].line+body.LineID(out[j].casting)
	})
	return out
}

// candidate is a route before it is planned.
type candidate struct {
	id       string
	name     string
	chosen   []action
	items    []plan.Item // what the actions treat, and what has one treatment only
	slots    []slot      // what has several
	ask      []string    // open points of the items, without those beside the findings
	measure  []string
	excluded string
	silent   bool            // not worth telling: an action of it treats nothing
	refused  []job.FindingID // of the wards to which nothing is left
}

// candidate treats every ward by the chosen actions where they cover it, else
// by its own mildest treatment.
func (f *finder) candidate(chosen []action) candidate {
	c := candidate{id: f.id(chosen)}
	covered := map[int]int{} // ward to action
	used := make([]bool, len(chosen))
	var items []plan.Item
	for a, act := range chosen {
		it, open, refusal := f.cover(act, a, covered)
		if refusal != "" {
			c.excluded = refusal
		}
		if len(it.Findings) > 0 {
			used[a] = true
			items = append(items, it)
		}
		c.ask = append(c.ask, open...)
	}
	c.silent = slices.Contains(used, false) || f.conflicting(chosen)
	for k := range f.wards {
		if _, ok := covered[k]; ok {
			continue
		}
		own, refusal := f.own(&f.wards[k], chosen)
		if refusal != "" {
			c.excluded = join(c.excluded, refusal)
			c.refused = append(c.refused, f.wards[k].findings...)
			continue
		}
		if len(own) > 1 {
			c.slots = append(c.slots, slot{own})
			continue
		}
		items = append(items, own[0].item)
		c.opens(own[0].item)
	}
	c.items, c.chosen = plan.Merge(items), chosen // what waits may be cut along a line that is chosen
	return c
}

// opens adds the open points of an item.
func (c *candidate) opens(it plan.Item) {
	switch {
	case it.Ask:
		c.ask = append(c.ask, names(it.Findings)...)
	case it.Open:
		c.measure = append(c.measure, names(it.Findings)...)
	}
}

// with is the candidate with one choice for each of its slots.
func (f *finder) with(c candidate, picks []choice) candidate {
	out := c
	out.items, out.slots = slices.Clone(c.items), nil
	for _, p := range picks {
		out.items = append(out.items, p.item)
	}
	ask, measure := f.pending(out.items)
	out.ask, out.measure = slices.Concat(c.ask, ask), slices.Concat(c.measure, measure)
	for _, p := range picks {
		out.opens(p.item)
	}
	slices.Sort(out.ask)
	slices.Sort(out.measure)
	out.items = plan.Merge(out.items)
	out.name = f.name(c.chosen, out.items)
	return out
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// conflicting says that a line cuts a casting that is replaced anyway, or cuts
// what another line takes off.
func (f *finder) conflicting(chosen []action) bool {
	for _, a := range chosen {
		for _, b := range chosen {
			if a.line == "" && b.line != "" && a.casting == b.casting || f.nested[[2]body.LineID{a.line, b.line}] {
				return true
			}
		}
	}
	return false
}

// cover is the item of an action with every ward it treats: for a line those it
// is allowed for; for a casting all on it, provided none forbids it.
func (f *finder) cover(act action, a int, covered map[int]int) (plan.Item, []string, string) {
	if act.line != "" {
		return f.coverLine(act, a, covered)
	}
	casting, _ := f.in.Body.Casting(act.casting)
	it := plan.Item{Kind: body.ReplaceCasting, Part: casting.Part}
	it.Treatment = f.newCasting(act.casting)
	var open []string
	refusal := ""
	for k := range f.wards {
		w := &f.wards[k]
		if w.casting != act.casting {
			continue
		}
		covered[k] = a
		it.Findings = append(it.Findings, w.findings...)
		o, ok := w.verdict(body.ReplaceCasting, "")
		switch {
		case ok && o.verdict == decide.Forbidden:
			refusal = join(refusal, fmt.Sprintf("%s: replacing the casting is forbidden (%s)", list(names(w.findings)), o.because))
		case f.miscast(w, it.Treatment):
			refusal = join(refusal, fmt.Sprintf("%s: a new casting does not put a %s right by the body's own word", list(names(w.findings)), list(w.kinds)))
		case !ok || o.verdict != decide.Allowed:
			it.Open, it.Ask = true, it.Ask || o.verdict == decide.Ask
			open = append(open, names(w.findings)...)
		}
	}
	slices.SortFunc(it.Findings, byName)
	if len(it.Findings) > 0 && (it.Treatment == "" || f.unknown(it)) { // what the body has no steps for nobody knows how to do
		it.Open, it.Ask = true, true
		open = names(it.Findings)
	}
	return it, open, refusal
}

// coverLine is the item of a section line, with every ward that it is allowed for and puts right.
func (f *finder) coverLine(act action, a int, covered map[int]int) (plan.Item, []string, string) {
	line, _ := f.in.Body.Line(act.line)
	it := plan.Item{Treatment: line.Treatment, Kind: body.SectionOff, Line: act.line, Part: line.Piece}
	for k := range f.wards {
		w := &f.wards[k]
		o, ok := w.verdict(body.SectionOff, act.line)
		if _, done := covered[k]; ok && !done && o.verdict == decide.Allowed && w.casting == act.casting && f.curedBy(line.Treatment, w) {
			covered[k] = a
			it.Findings = append(it.Findings, w.findings...)
		}
	}
	slices.SortFunc(it.Findings, byName)
	if len(it.Findings) > 0 && f.unknown(it) {
		it.Open, it.Ask = true, true
		return it, names(it.Findings), ""
	}
	return it, nil, ""
}

// curedBy says that a treatment puts right all that a ward holds, where the body has it.
func (f *finder) curedBy(id body.TreatmentID, w *ward) bool {
	t, ok := f.in.Body.Treatment(id)
	return !ok || f.cures(t, w)
}

// miscast says that the new casting of a treatment does not put a ward right.
func (f *finder) miscast(w *ward, id body.TreatmentID) bool { return !f.curedBy(id, w) }

// newCasting is the first treatment that replaces a casting and puts right all that lies on it; of
// those that do not, the first.
func (f *finder) newCasting(id body.CastingID) body.TreatmentID {
	best, _ := f.treatment(body.ReplaceCasting)
	all := func(t body.TreatmentID) bool {
		return !slices.ContainsFunc(f.wards, func(w ward) bool { return w.casting == id && !f.curedBy(t, &w) })
	}
	for _, t := range f.in.Body.Treatments {
		if t.Kind == body.ReplaceCasting && all(t.ID) && (!all(best) || t.ID < best) {
			best = t.ID
		}
	}
	return best
}

// own is every treatment of the ward that a best mix could hold: all that are
// allowed and those that only a better measurement stands between; where none is
// allowed, as an assumption that waits for an answer, the mildest that is not
// forbidden; else a refusal.
func (f *finder) own(w *ward, chosen []action) ([]choice, string) {
	if out := f.owns[w.findings[0]]; len(out) > 0 {
		return out, ""
	}
	var out []choice
	for _, o := range w.options {
		if o.verdict == decide.Allowed {
			for _, it := range f.items(w, o.kind) {
				out = append(out, f.choice(it))
			}
		}
	}
	if len(out) > 0 {
		for _, o := range w.options {
			if o.verdict == decide.Undecided && o.kind != body.SectionOff {
				for _, it := range f.items(w, o.kind) {
					it.Open = true
					out = append(out, f.choice(it))
				}
			}
		}
		out = f.reduce(out)
		f.owns[w.findings[0]] = out
		return out, ""
	}
	if it, ok := f.assumed(w, chosen); ok {
		return []choice{f.choice(it)}, ""
	}
	var why []string
	for _, o := range w.options {
		switch {
		case o.verdict == decide.Forbidden:
			why = append(why, fmt.Sprintf("%s is forbidden (%s)", o.kind, o.because))
		case f.cannot(w, o.kind):
			why = append(why, fmt.Sprintf("%s does not put a %s right", o.kind, list(w.kinds)))
		case o.kind == body.SectionOff:
			why = append(why, fmt.Sprintf("section along %s is %s, but not part of this route", o.line, o.verdict))
		case o.kind == body.ReplaceCasting:
			why = append(why, fmt.Sprintf("replacing the casting is %s, but not part of this route", o.verdict))
		}
	}
	if len(why) == 0 {
		why = []string{fmt.Sprintf("no treatment of the body puts a %s of %s right", list(w.kinds), w.part)}
	}
	return nil, fmt.Sprintf("%s has no treatment on this route: %s", list(names(w.findings)), list(why))
}

// assumed is the treatment a route reckons with where none is allowed yet: the
// mildest that a better measurement could allow; else, since nobody knows what
// the manufacturer will say, the most thorough local repair an answer could
// allow.
func (f *finder) assumed(w *ward, chosen []action) (plan.Item, bool) {
	for _, o := range w.options {
		if o.verdict == decide.Undecided {
			if it, ok := f.openItem(w, o, chosen); ok {
				return it, true
			}
		}
	}
	for _, k := range []body.TreatmentKind{body.SectionOff, body.Exchange, body.ReplacePart, body.WeldBacking, body.Weld, body.Dress, body.Leave} {
		for _, o := range w.options {
			if o.verdict == decide.Ask && o.kind == k && (k != body.Leave || f.mayStay(w)) {
				if it, ok := f.openItem(w, o, chosen); ok {
					return it, true
				}
			}
		}
	}
	spoken := slices.ContainsFunc(w.options, func(o option) bool { return o.kind != body.SectionOff && o.kind != body.ReplaceCasting })
	for _, k := range []body.TreatmentKind{body.Exchange, body.ReplacePart, body.WeldBacking, body.Weld, body.Dress} { // nothing speaks of it
		if _, ok := w.verdict(k, ""); ok || spoken && !k.NewPart() {
			continue
		}
		for _, it := range f.items(w, k) {
			it.Open, it.Ask = true, true
			return it, true
		}
	}
	return f.straightened(w)
}

// straightened is a part as an answer may let it be straightened: where nothing else puts it
// right, since it may be kinked; and never a casting.
func (f *finder) straightened(w *ward) (plan.Item, bool) {
	o, spoken := w.verdict(body.Straighten, "")
	items := f.items(w, body.Straighten)
	if w.casting != "" || spoken && o.verdict != decide.Ask || len(items) == 0 {
		return plan.Item{}, false
	}
	it := items[0]
	it.Open, it.Ask = true, true
	return it, true
}

// mayStay says that an answer could let a finding stay as it is: a crack or a dent. What is
// parted, torn or bent does not carry what it has to.
func (f *finder) mayStay(w *ward) bool {
	return !slices.ContainsFunc(w.kinds, func(k body.FindingKind) bool { return k != body.Crack && k != body.Dent })
}

// openItem is an option as an assumed item: a section only along a line the
// route cuts.
func (f *finder) openItem(w *ward, o option, chosen []action) (plan.Item, bool) {
	if o.kind == body.SectionOff {
		line, ok := f.in.Body.Line(o.line)
		it := plan.Item{Treatment: line.Treatment, Kind: body.SectionOff, Line: o.line, Part: line.Piece, Findings: w.findings}
		it.Open, it.Ask = true, o.verdict == decide.Ask || f.unknown(it)
		return it, ok && slices.Contains(chosen, action{o.line, line.Casting}) && f.curedBy(line.Treatment, w)
	}
	for _, it := range f.items(w, o.kind) {
		it.Open, it.Ask = true, it.Ask || o.verdict == decide.Ask
		return it, true
	}
	return plan.Item{}, false
}

// items are the body's treatments of a kind for a ward that put right what is wrong with
// it; none where the kind makes no sense: a bolt-on part is exchanged, another one
// replaced, a casting neither. To leave a finding puts nothing right: it is for the
// manufacturer to say so.
func (f *finder) items(w *ward, kind body.TreatmentKind) []plan.Item {
	if kind == body.SectionOff || kind == body.ReplaceCasting || kind.NewPart() && !f.renews(w, kind) {
		return nil
	}
	var out []plan.Item
	known := false
	for _, t := range f.in.Body.Treatments {
		if t.Kind != kind {
			continue
		}
		known = true
		if kind != body.Leave && !f.cures(t, w) {
			continue
		}
		out = append(out, plan.Item{Treatment: t.ID, Kind: kind, Findings: w.findings})
	}
	if !known && (kind == body.Leave || kind.NewPart()) { // what needs no treatment of the body
		out = append(out, plan.Item{Kind: kind, Findings: w.findings})
	}
	for i := range out {
		if kind.NewPart() {
			out[i].Part = w.part
		}
		if f.unknown(out[i]) { // whoever may do it: nobody knows how the parts come off
			out[i].Open, out[i].Ask = true, true
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Treatment < out[j].Treatment })
	return out
}

// unknown says that what has to come off for an item is not known in full.
func (f *finder) unknown(it plan.Item) bool {
	it.Open, it.Ask = false, false
	k := key([]plan.Item{it})
	if _, ok := f.gaps[k]; !ok {
		f.gaps[k] = f.weigh.Gaps(it)
	}
	return len(f.gaps[k]) > 0
}

// renews says that the part of a ward can be changed in the way of the kind.
func (f *finder) renews(w *ward, kind body.TreatmentKind) bool {
	p, ok := f.in.Body.Part(w.part)
	switch {
	case !ok || p.Comes == body.Never:
		return false
	case kind == body.Exchange:
		return p.BoltOn
	}
	return !p.BoltOn && w.casting == "" && p.Kind != body.PartCasting
}

// cures says that a treatment puts right all that a ward holds.
func (f *finder) cures(t body.Treatment, w *ward) bool {
	return !slices.ContainsFunc(w.kinds, func(k body.FindingKind) bool { return !t.Cure(k, w.casting != "") })
}

// cannot says that a kind is spoken of and that no treatment of the body of that kind puts
// the ward right.
func (f *finder) cannot(w *ward, kind body.TreatmentKind) bool {
	return len(f.items(w, kind)) == 0 && slices.ContainsFunc(f.in.Body.Treatments, func(t body.Treatment) bool { return t.Kind == kind && !f.cures(t, w) })
}

func (f *finder) treatment(kind body.TreatmentKind) (body.TreatmentID, bool) {
	var best body.TreatmentID
	for _, t := range f.in.Body.Treatments {
		if t.Kind == kind && (best == "" || t.ID < best) {
			best = t.ID
		}
	}
	return best, best != ""
}

func (f *finder) planInput(items []plan.Item) plan.Input {
	return plan.Input{Body: f.in.Body, Shop: f.in.Shop, Job: f.in.Job, Inspect: f.in.Inspect, Vehicle: f.in.Vehicle,
		Choice: plan.Choice{Items: items}, Seams: f.seams, Known: f.in.Known, Work: f.in.Work}
}

// key is the same for the same set of items.
func key(items []plan.Item) string {
	s := make([]string, len(items))
	for i, it := range items {
		ids := slices.Clone(it.Findings)
		slices.Sort(ids)
		s[i] = fmt.Sprint(ids, it.Treatment, it.Line, it.Part, it.Open, it.Ask)
	}
	slices.Sort(s)
	return strings.Join(s, "|")
}

func names(ids []job.FindingID) []string {
	s := make([]string, len(ids))
	for i, id := range ids {
		s[i] = string(id)
	}
	return s
}

// list joins words as a sentence does.
func list[T ~string](s []T) string {
	switch len(s) {
	case 0:
		return "nothing"
	case 1:
		return string(s[0])
	}
	return decide.JoinWords(s[:len(s)-1]) + " and " + string(s[len(s)-1])
}

// byName orders findings as people count.
func byName(a, b job.FindingID) int { return doc.Natural(string(a), string(b)) }
