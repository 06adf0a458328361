package decide

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// A second evaluator, written from docs/methods/decision.md and from nothing of this
// package: how a condition is read, when a row applies, what the rows say together,
// zone by zone and line by line, and how an answer speaks over them. It knows the few
// forms of conditions that random tables use.

// three-way and unknown, as the page has them.
const (
	oNo = iota
	oOpen
	oYes
)

type oFact struct {
	known    bool
	words    []string
	mm, std  float64
	isNumber bool
}

// oNumber is the probability that a normal value lies where the condition says,
// against the confidence.
func oNumber(f oFact, text string, conf float64) int {
	low, high := math.Inf(-1), math.Inf(1)
	lowStrict, highStrict := false, false
	for _, clause := range strings.Split(text, " and ") {
		op, rest, _ := strings.Cut(clause, " ")
		x, err := strconv.ParseFloat(strings.TrimSuffix(rest, " mm"), 64)
		if err != nil {
			panic(text)
		}
		switch op {
		case "<=", "<":
			high, highStrict = x, op == "<"
		case ">=", ">":
			low, lowStrict = x, op == ">"
		case "=":
			low, high = x, x
		}
	}
	if f.std == 0 {
		in := (f.mm > low || f.mm == low && !lowStrict) && (f.mm < high || f.mm == high && !highStrict)
		if in {
			return oYes
		}
		return oNo
	}
	below := func(t float64) float64 { return 0.5 * math.Erfc((f.mm-t)/f.std/math.Sqrt2) }
	p := below(high) - below(low)
	if math.IsInf(low, -1) {
		p = below(high)
	}
	if math.IsInf(high, 1) {
		p = 1 - below(low)
	}
	switch {
	case p >= conf:
		return oYes
	case 1-p >= conf:
		return oNo
	}
	return oOpen
}

func oWords(f oFact, text string) int {
	list := func(s string) []string {
		return strings.FieldsFunc(strings.NewReplacer(" and ", ",", " or ", ",").Replace(s), func(r rune) bool { return r == ',' || r == ' ' })
	}
	in := func(l []string) (n int) {
		for _, w := range f.words {
			if slices.Contains(l, w) {
				n++
			}
		}
		return n
	}
	ok := false
	switch {
	case strings.HasPrefix(text, "only "):
		ok = len(f.words) > 0 && in(list(text[5:])) == len(f.words)
	case strings.HasPrefix(text, "any of "):
		ok = in(list(text[7:])) > 0
	case strings.HasPrefix(text, "none of "):
		ok = in(list(text[8:])) == 0
	case strings.HasPrefix(text, "includes "):
		l := list(text[9:])
		ok = in(l) == len(l)
	case strings.HasPrefix(text, "not "):
		ok = in(list(text[4:])) == 0
	default:
		ok = in(list(text)) > 0
	}
	if ok {
		return oYes
	}
	return oNo
}

func oRow(when map[string]string, facts map[string]oFact, conf float64) int {
	out := oYes
	for name, text := range when {
		f := facts[name]
		got := oOpen
		switch {
		case !f.known:
		case f.isNumber:
			got = oNumber(f, text, conf)
		default:
			got = oWords(f, text)
		}
		if got == oNo {
			return oNo
		}
		out = min(out, got)
	}
	return out
}

// oOnce is what the rows say about a kind: forbidding beats asking, asking beats doubt,
// doubt beats allowing, no row is ask.
func oOnce(p body.Procedure, k body.TreatmentKind, facts map[string]oFact, conf float64) Verdict {
	stays := k != body.SectionOff && k != body.Exchange && k != body.ReplacePart && k != body.ReplaceCasting
	var forbids, asks, allows [3]int
	for _, r := range p.Rows {
		s := oRow(r.When, facts, conf)
		if slices.Contains(r.Forbid, k) {
			forbids[s]++
		}
		if r.Ask != "" && stays {
			asks[s]++
		}
		if _, says := r.When["on_casting"]; slices.Contains(r.Allow, k) && (says || k != body.Straighten) {
			allows[s]++
		}
	}
	switch {
	case forbids[oYes] > 0:
		return Forbidden
	case asks[oYes] > 0, allows[oYes]+allows[oOpen] == 0:
		return Ask
	case allows[oYes] > 0 && forbids[oOpen]+asks[oOpen] == 0:
		return Allowed
	}
	return Undecided
}

// oVerdict is the strictest for all zones together and each alone.
func oVerdict(p body.Procedure, k body.TreatmentKind, facts map[string]oFact, conf float64) Verdict {
	rank := map[Verdict]int{Allowed: 0, Undecided: 1, Ask: 2, Forbidden: 3}
	worst := oOnce(p, k, facts, conf)
	if zones := facts["zones"].words; len(zones) > 1 {
		for _, z := range zones {
			if v := oOnce(p, k, oWith(facts, "zones", z), conf); rank[v] > rank[worst] {
				worst = v
			}
		}
	}
	return worst
}

func oWith(facts map[string]oFact, name string, words ...string) map[string]oFact {
	out := map[string]oFact{}
	for k, v := range facts {
		out[k] = v
	}
	out[name] = oFact{known: true, words: words}
	return out
}

// oOptions is every kind's verdict, a section by line.
func oOptions(p body.Procedure, facts map[string]oFact, conf float64) map[string]Verdict {
	out := map[string]Verdict{}
	for _, k := range body.TreatmentKinds() {
		if !slices.ContainsFunc(p.Rows, func(r body.Row) bool { return slices.Contains(r.Allow, k) || slices.Contains(r.Forbid, k) }) {
			continue
		}
		v := oVerdict(p, k, facts, conf)
		lines := facts["outboard_of"]
		switch {
		case k != body.SectionOff || v != Allowed:
			out[string(k)] = v
		case len(lines.words) == 0:
			out[string(k)] = Ask
		case len(lines.words) == 1:
			out[string(k)+" along "+lines.words[0]] = v
		default:
			for _, l := range lines.words {
				out[string(k)+" along "+l] = oVerdict(p, k, oWith(facts, "outboard_of", l), conf)
			}
		}
	}
	return out
}

// oracleJob is one random table and up to four findings.
func oracleJob(rng *rand.Rand) *world {
	w := newWorld()
	p := randomTable(rng)
	p.Casting, p.Effective, p.Recheck = "FRONT", day(2030, 1, 1), day(2031, 1, 1)
	w.in.Body.Procedures = []body.Procedure{p}
	w.in.Body.Confidence = []unit.Frac{0.95, 0.99}[rng.IntN(2)]
	for i := range 1 + rng.IntN(4) {
		var zones []body.ZoneID
		for _, z := range zonesOfCheck {
			if rng.IntN(4) == 0 {
				zones = append(zones, body.ZoneID(z))
			}
		}
		if len(zones) == 0 {
			zones = []body.ZoneID{"OPEN-1"}
		}
		g := w.crack(job.FindingID(fmt.Sprint("F", i+1)), 60*rng.Float64(), []float64{0, 0.5, 2}[rng.IntN(3)], zones...)
		for k := range g.Sides {
			g.Sides[k].Outboard = rng.IntN(2) == 0
			g.Sides[k].Reaches, g.Sides[k].Of = true, []inspect.Element{{MM: 50}}
		}
		g.Bore = &inspect.Clearance{To: "H1", MM: 25 * rng.Float64(), Std: []float64{0, 1, 3}[rng.IntN(3)]}
		if rng.IntN(5) == 0 {
			g.Bore = nil
		}
		g.Spacing = &inspect.Clearance{To: "x", MM: 40 * rng.Float64(), Std: rng.Float64()}
		f := &w.in.Job.Findings[i]
		f.Kind = []body.FindingKind{"crack", "crack", "break", "dent"}[rng.IntN(4)]
		f.Through = []body.YesNo{"yes", "no", "unknown"}[rng.IntN(3)]
		f.Tips = []body.TipMethod{[]body.TipMethod{body.TipVisual, body.TipPenetrant, body.TipStopHole}[rng.IntN(3)], body.TipStopHole}
	}
	oGroup(rng, w)
	for i := range w.in.Inspect.Findings {
		if rng.IntN(6) == 0 && w.in.Inspect.Findings[i].Group == "" {
			w.in.Inspect.Findings[i].Decision = nil // no trace, and no length by hand
		}
	}
	if rng.IntN(2) == 0 {
		w.answers(oAnswer(rng))
	}
	return w
}

// oGroup lets the first two findings count as one, sometimes: cracks whose distances are
// exact, so that the nearest is the nearest.
func oGroup(rng *rand.Rand, w *world) {
	if len(w.in.Inspect.Findings) < 2 || rng.IntN(2) == 0 {
		return
	}
	length := inspect.Length{MM: 60 * rng.Float64(), Std: rng.Float64()}
	for i := range 2 {
		g := &w.in.Inspect.Findings[i]
		l := length
		g.Group, g.Decision, w.in.Job.Findings[i].Kind = "G1", &l, "crack"
		g.Spacing.Std = 0
		if g.Bore != nil {
			g.Bore.Std = 0
		}
	}
	w.in.Inspect.Groups = []inspect.Group{{ID: "G1", Findings: []job.FindingID{"F1", "F2"}, LengthMM: length.MM}}
}

// oAnswer is an answer about the first finding, allowing or forbidding one kind, under
// conditions or without.
func oAnswer(rng *rand.Rand) job.Answer {
	a := answer()
	k := []body.TreatmentKind{body.Weld, body.WeldBacking, body.Dress, body.Leave}[rng.IntN(4)]
	if a.Allow = []body.TreatmentKind{k}; rng.IntN(2) == 0 {
		a.Allow, a.Forbid = nil, a.Allow
	}
	switch rng.IntN(4) {
	case 0:
		a.When = map[string]string{body.FactLength: []string{"<= 30 mm", "> 20 mm"}[rng.IntN(2)]}
	case 1:
		a.When = map[string]string{body.FactZones: []string{"only OPEN-1, OPEN-2", "any of CRITICAL-1"}[rng.IntN(2)]}
	case 2:
		a.When = map[string]string{body.FactThrough: "no", body.FactLength: "< 50 mm"}
	}
	return a
}

// oAnswered is what an answer makes of the verdicts of the finding that it is about.
func oAnswered(a job.Answer, facts map[string]oFact, conf float64, out map[string]Verdict) {
	speaks := []int{oRow(a.When, facts, conf)}
	if zones := facts["zones"].words; len(zones) > 1 {
		for _, z := range zones {
			speaks = append(speaks, oRow(a.When, oWith(facts, "zones", z), conf))
		}
	}
	for _, k := range a.Forbid {
		switch slices.Max(speaks) {
		case oYes:
			out[string(k)] = Forbidden
		case oOpen:
			if v, ok := out[string(k)]; !ok || v != Forbidden {
				out[string(k)] = Undecided
			}
		}
	}
	for _, k := range a.Allow {
		switch v, ok := out[string(k)]; slices.Min(speaks) {
		case oYes:
			out[string(k)] = Allowed
		case oOpen:
			if !ok || v != Allowed {
				out[string(k)] = Undecided
			}
		}
	}
}

// oOne is a finding as what it counts as: one of a group has the zones of all, the nearest
// of the distances, is through if one is, has the weakest tip, and lies outboard of a line
// if all do.
func oOne(w *world, i int) (job.Finding, inspect.Finding) {
	f, g := w.in.Job.Findings[i], w.in.Inspect.Findings[i]
	if g.Group == "" {
		return f, g
	}
	g.Sides = slices.Clone(g.Sides)
	weak := map[body.TipMethod]int{body.TipVisual: 0, body.TipPenetrant: 1, body.TipStopHole: 2}
	for k := range 2 {
		of, og := w.in.Job.Findings[k], w.in.Inspect.Findings[k]
		for _, z := range og.Zones {
			if !slices.ContainsFunc(g.Zones, func(x inspect.ZoneShare) bool { return x.Zone == z.Zone }) {
				g.Zones = append(slices.Clone(g.Zones), z)
			}
		}
		switch {
		case g.Bore == nil || og.Bore == nil:
			g.Bore = nil
		case og.Bore.MM < g.Bore.MM:
			g.Bore = og.Bore
		}
		if og.Spacing.MM < g.Spacing.MM {
			g.Spacing = og.Spacing
		}
		for l := range g.Sides {
			g.Sides[l].Outboard = g.Sides[l].Outboard && og.Sides[l].Outboard
		}
		if of.Through == "yes" || of.Through == "unknown" && f.Through == "no" {
			f.Through = of.Through
		}
		if weak[of.Tips[0]] < weak[f.Tips[0]] {
			f.Tips = of.Tips
		}
	}
	return f, g
}

// oFacts is the facts of a finding, from what was put in.
func oFacts(w *world, i int) map[string]oFact {
	f, g := oOne(w, i)
	number := func(mm, std float64) oFact { return oFact{known: true, isNumber: true, mm: mm, std: std} }
	text := func(known bool, words ...string) oFact { return oFact{known: known, words: words} }
	facts := map[string]oFact{"kind": text(true, string(f.Kind)), "through": text(f.Through != "unknown", string(f.Through)), "tips": text(true, string(f.Tips[0])),
		"spacing": number(g.Spacing.MM, g.Spacing.Std)}
	if g.Decision != nil {
		facts["length"] = number(g.Decision.MM, g.Decision.Std)
	}
	if g.Bore != nil {
		facts["bore_clearance"] = number(g.Bore.MM, g.Bore.Std)
	}
	var zones, lines []string
	most := 0
	for _, z := range g.Zones {
		zones = append(zones, string(z.Zone))
		n := 0
		for k, o := range w.in.Inspect.Findings {
			counts := w.in.Job.Findings[k].Kind == "crack" || w.in.Job.Findings[k].Kind == "break"
			if (counts || k == i) && slices.ContainsFunc(o.Zones, func(s inspect.ZoneShare) bool { return s.Zone == z.Zone }) {
				n++
			}
		}
		most = max(most, n)
	}
	for _, l := range g.Sides {
		if l.Outboard {
			lines = append(lines, string(l.Line))
		}
	}
	facts["zones"], facts["outboard_of"], facts["count_in_zone"] = text(true, zones...), text(true, lines...), number(float64(most), 0)
	return facts
}

// oracleJobs is how many jobs FETTLE_ORACLE asks for; none when it is not set.
func oracleJobs() int {
	n, _ := strconv.Atoi(os.Getenv("FETTLE_ORACLE"))
	return n
}

// draws is how many times over a law is drawn: more when FETTLE_ORACLE is set.
func draws(few, many int) int {
	if oracleJobs() > 0 {
		return many
	}
	return few
}

// Random procedures and jobs: the program and the second evaluator agree on every
// treatment of every finding: seed 49. 120 jobs, and as many as FETTLE_ORACLE says.
func TestOracleSeed49(t *testing.T) {
	jobs := 120
	if n := oracleJobs(); n > 0 {
		jobs = n
	}
	rng := rand.New(rand.NewPCG(49, 49))
	seen := map[Verdict]int{}
	for n := range jobs {
		w := oracleJob(rng)
		res, _ := Run(w.in)
		for i, f := range res.Findings {
			facts := oFacts(w, i)
			want := oOptions(w.in.Body.Procedures[0], facts, float64(w.in.Body.Confidence))
			for _, a := range w.in.Job.Answers {
				if a.Finding == f.ID {
					oAnswered(a, facts, float64(w.in.Body.Confidence), want)
				}
			}
			got := map[string]Verdict{}
			for _, o := range f.Options {
				got[KindText(o)] = o.Verdict
				seen[o.Verdict]++
			}
			for k, v := range want {
				if got[k] != v {
					t.Fatalf("job %d, %s, %s: %s, the second evaluator says %s\nfacts %+v\nrows %+v", n, f.ID, k, got[k], v, facts, w.in.Body.Procedures[0].Rows)
				}
			}
			if len(got) != len(want) {
				t.Fatalf("job %d, %s: %v, the second evaluator says %v", n, f.ID, got, want)
			}
		}
	}
	if len(seen) != 4 || seen[Allowed] < jobs/4 {
		t.Errorf("verdicts %v", seen)
	}
}
