package report

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

func answers(in Input, p pick) []answer {
	all := []answer{answerMoved(in), answerSound(in), answerMay(in), answerOpening(p), answerRoute(in, p), answerHow(in, p), answerWorked(in, p)}
	for i := range all {
		all[i].N = i + 1
		all[i].Question = questions[i]
	}
	return all
}

var questions = [7]string{"Has the structure moved?", "Is the casting sound?", "What may be done?",
	"What comes off, and what is lost?", "Which route is best?", "How is it done?", "Did it work, and may it be handed back?"}

// movedCount sorts the points of the best reading of the evidence.
type movedCount struct {
	moved, maybe, out, unsure []string
	lines                     []string
	total                     int
}

func countMoved(in Input) movedCount {
	h, _ := in.Measure.Best()
	axes := wordsOf(in.Body.Axes)
	c := movedCount{total: len(h.Points)}
	for _, r := range h.Points {
		id := string(r.ID)
		switch stateOf(r) {
		case hasMoved:
			c.moved = append(c.moved, id)
			c.lines = append(c.lines, id+" "+mm(r.ShiftMM.Norm())+" "+axes.mainly(r.ShiftMM))
		case mayHaveMoved:
			c.maybe = append(c.maybe, id)
		}
		switch r.Tolerance {
		case measure.NotMet:
			c.out = append(c.out, id)
		case measure.Undecided:
			c.unsure = append(c.unsure, id)
		}
	}
	return c
}

func answerMoved(in Input) answer {
	if _, ok := in.Measure.Best(); !ok {
		return answer{Word: word{"not known", toneOpen}, Text: "No measurement can be used: nothing is known about the structure."}
	}
	c := countMoved(in)
	a := answer{Word: word{"no", toneGood}, Text: fmt.Sprintf("None of %s has moved.", unit.Count(c.total, "measured point"))}
	if len(c.moved) > 0 {
		a.Word = word{"yes", toneBad}
		a.Text = fmt.Sprintf("%d of %s moved: %s.", len(c.moved), unit.Count(c.total, "measured point"), list(c.lines, 6))
	}
	if len(c.maybe) > 0 || in.Measure.Ambiguous {
		if len(c.moved) == 0 || in.Measure.Ambiguous {
			a.Word = word{"not certain", toneOpen}
		}
		if len(c.maybe) > 0 {
			a.Lines = append(a.Lines, "Not certain: "+list(c.maybe, most)+".")
		}
		if in.Measure.Ambiguous {
			a.Lines = append(a.Lines, "The readings allow more than one answer. "+strings.Join(sentences(in.Measure.Why), " "))
		}
	}
	a.Lines = append(a.Lines, toleranceLine(c))
	if s := referenceLine(in); s != "" {
		a.Lines = append(a.Lines, s)
	}
	if m := missingPoints(in.Body, in.Measure); len(m) > 0 {
		a.Lines = append(a.Lines, "Not measured: "+list(pointNames(in.Body, m), most)+".")
		if a.Word.Tone == toneGood {
			a.Word = word{"not as far as measured", toneOpen}
		}
	}
	return a
}

func toleranceLine(c movedCount) string {
	switch {
	case len(c.out) == 0 && len(c.unsure) == 0:
		return "All measured points are in tolerance."
	case len(c.unsure) == 0:
		return "Out of tolerance: " + list(c.out, most) + "."
	case len(c.out) == 0:
		return "Tolerance undecided: " + list(c.unsure, most) + "."
	}
	return "Out of tolerance: " + list(c.out, most) + ". Undecided: " + list(c.unsure, most) + "."
}

// referenceLine names the nominated reference points that were not used.
func referenceLine(in Input) string {
	h, ok := in.Measure.Best()
	if !ok || h.Datum != measure.ByReference {
		return ""
	}
	var out []string
	for _, p := range in.Body.Points {
		if r, found := h.Point(p.ID); p.Reference && found && !r.Steady {
			out = append(out, string(p.ID))
		}
	}
	switch len(out) {
	case 0:
		return ""
	case 1:
		return "Reference point " + out[0] + " disagrees; went on without it."
	}
	return "Reference points " + list(out, most) + " disagree; went on without them."
}

func answerSound(in Input) answer {
	open := notCovered(in.Inspect)
	a := answer{Word: word{"yes, as far as inspected", toneGood}, Text: "No finding, and every area is inspected as the manufacturer asks."}
	on, longest := 0, inspect.Finding{}
	for _, f := range in.Inspect.Findings {
		if f.Casting != "" {
			on++
		}
		if lengthOf(f) > lengthOf(longest) {
			longest = f
		}
	}
	switch {
	case on > 0:
		a.Word = word{"no", toneBad}
		a.Text = unit.Count(on, "finding") + " on the casting"
		if rest := len(in.Inspect.Findings) - on; rest > 0 {
			a.Text += fmt.Sprintf(", %d on other parts", rest)
		}
		if longest.Length != nil {
			a.Text += fmt.Sprintf("; the longest is %s, %s", longest.ID, plusMinus(longest.Length.MM, longest.Length.Std))
		}
		a.Text += "."
	case len(open) > 0 || len(in.Inspect.Coverage) == 0:
		a.Word = word{"not known yet", toneOpen}
		a.Text = "No finding on the casting so far, but not all of it has been inspected."
	case len(in.Inspect.Findings) > 0:
		a.Text = "No finding on the casting; " + unit.Count(len(in.Inspect.Findings), "finding") + " on other parts."
	}
	switch {
	case len(open) > 0 && on > 0:
		a.Text += " " + unit.Count(len(open), "area") + " not inspected as asked."
	case len(in.Inspect.Coverage) == 0 && on > 0:
		a.Text += " No area to be inspected is given, so nothing is known of the rest."
	}
	return a
}

func answerMay(in Input) answer {
	if len(in.Decide.Findings) == 0 {
		if in.Decide.Permits {
			return answer{Word: word{"nothing to do", toneGood}, Text: "There is no finding to decide about."}
		}
		return answer{Word: word{"nothing yet", toneOpen}, Text: "There is no finding to decide about, but nothing is permitted: see what blocks."}
	}
	a := answer{Word: word{"allowed", toneGood}, Text: "Every finding has a treatment that is allowed; below, the mildest of each with the row that permits it."}
	if in.Decide.Permits {
		return a
	}
	var not []string
	for _, f := range in.Decide.Findings {
		if f.Verdict != decide.Allowed {
			not = append(not, string(f.ID)+" "+verdictWord(f.Verdict).Text)
		}
	}
	a.Word, a.Text = word{"not all", toneOpen}, "Nothing may start: "+or(list(not, most), "a procedure may not be used any more")+"."
	return a
}

func answerOpening(p pick) answer {
	if !p.Found {
		return answer{Word: word{"not known", toneOpen}, Text: "There is no route to open up for."}
	}
	pl := p.Route.Plan
	unknown := unreached(pl)
	if len(pl.Removal) == 0 && len(pl.Lost) == 0 && len(unknown) > 0 {
		return answer{Word: word{"not known", toneOpen}, Text: "Nobody knows what has to come off: " + list(unknown, most) + "."}
	}
	if len(pl.Removal) == 0 && len(pl.Lost) == 0 {
		return answer{Word: word{"nothing", toneGood}, Text: "Nothing has to come off and nothing is lost."}
	}
	var lost []string
	for _, l := range pl.Lost {
		lost = append(lost, l.Name)
	}
	a := answer{Word: word{unit.Count(len(pl.Removal), "part") + " off, " + fmt.Sprint(len(lost)) + " to buy", toneFlat}}
	var off []string
	for _, r := range pl.Removal {
		off = append(off, r.Name)
	}
	a.Text = "Off, in order: " + or(list(off, 6), "nothing") + "."
	if len(lost) > 0 {
		a.Lines = append(a.Lines, "Must be bought: "+list(lost, most)+".")
	}
	if len(unknown) > 0 {
		a.Word.Tone = toneOpen
		a.Lines = append(a.Lines, "More may have to come off: "+list(unknown, most)+".")
	}
	return a
}

// unreached is what is not known of reaching places on castings.
func unreached(p plan.Plan) []string {
	var out []string
	for _, g := range p.Gaps {
		if len(g.To) > 0 {
			out = append(out, g.Lacks...)
		}
	}
	return out
}

func answerRoute(in Input, p pick) answer {
	if !p.Found {
		return answer{Word: word{"none", toneOpen}, Text: p.Status}
	}
	r := p.Route
	a := answer{Word: p.Word}
	look, first := lookFirst(in, p)
	if first {
		a.Word = word{"look first", toneOpen}
		a.Lines = append(a.Lines, look)
	}
	cost := "without a price"
	if r.Bill.Currency != "" {
		cost = money(r.Bill.Total, r.Bill.Currency)
		if !r.Bill.Complete {
			cost = "at least " + cost + " (a price is missing)"
		}
	}
	a.Text = fmt.Sprintf("%s: %s, %s, %s.", r.Name, cost, daysWords(r.Plan), openText(in, r))
	a.Lines = append(a.Lines, p.Status)
	worth, forced := worthLines(in, p), forcedLine(in, r)
	if len(worth) > 0 { // says what the cheaper one waits for
		forced = forcedBy(in, r)
	}
	for _, l := range []string{forced, routeProof(in, p), tenths(in, p)} {
		if l != "" {
			a.Lines = append(a.Lines, l)
		}
	}
	a.Lines = append(a.Lines, worth...)
	a.Lines = append(a.Lines, lossLine(in, p))
	var rest []string
	for _, o := range in.Compare.Routes {
		if o.ID != r.ID && o.Excluded == "" && o.Bill.Currency != "" && len(o.Plan.Steps) > 0 {
			much := money(o.Bill.Total, o.Bill.Currency)
			if !o.Bill.Complete {
				much = "at least " + much
			}
			days := "in " + unit.Count(o.Plan.WorkDays, "day")
			if o.Plan.Finish.IsZero() {
				days = "without a date"
			}
			rest = append(rest, fmt.Sprintf("%s %s %s", o.Name, much, days))
		}
	}
	if len(rest) > 0 && len(in.Compare.Worth) == 0 {
		a.Lines = append(a.Lines, "Others: "+list(rest, 3)+".")
	}
	return a
}

// lookFirst is the advice to look before a route is taken: nobody has chosen one, the best
// could be taken, and what looking is expected to save is more than it costs.
func lookFirst(in Input, p pick) (string, bool) {
	s := in.Compare.Spread
	if s == nil || len(s.Looks) == 0 || !s.Looks[0].Worth || p.Choice.Route != "" || p.Word.Tone != toneGood {
		return "", false
	}
	var to []string
	for _, r := range in.Compare.Routes {
		if slices.Contains(s.Looks[0].To, r.ID) {
			to = append(to, "“"+r.Name+"”")
		}
	}
	text := s.Looks[0].Text
	if len(to) > 0 {
		text += " It may change to " + list(to, 3) + "."
	}
	return text, true
}

// openText is what a route waits for, in a few words.
func openText(in Input, r compare.Route) string {
	var out []string
	if n := len(r.Ask); n > 0 {
		out = append(out, unit.Count(n, "open question")+" to the manufacturer ("+list(r.Ask, 8)+")")
	}
	if n := len(r.Measure); n > 0 {
		out = append(out, "measure or inspect first: "+list(areaNames(in, r.Measure), 8))
	}
	return or(strings.Join(out, ", "), "no open question")
}

// areaNames puts the name of an area before its identity, where a text ends in one.
func areaNames(in Input, texts []string) []string {
	out := slices.Clone(texts)
	for i, text := range texts {
		for _, a := range in.Inspect.Coverage {
			if before, ok := strings.CutSuffix(text, a.Area); ok && a.Name != "" && (before == "" || strings.HasSuffix(before, " ")) {
				out[i] = before + a.Name + " (" + a.Area + ")"
			}
		}
	}
	return out
}

// worthLines says which cheaper route only waits for something: the one that
// is easiest to settle.
func worthLines(in Input, p pick) []string {
	var out []string
	if p.Route.ID != in.Compare.Best {
		return nil // what is saved is against the best route
	}
	for _, w := range in.Compare.Worth[:min(1, len(in.Compare.Worth))] {
		name := w.Route
		for _, r := range in.Compare.Routes {
			if r.ID == w.Route {
				name = r.Name
			}
		}
		line := fmt.Sprintf("cheaper by %s", money(w.Saves, currencyOf(in)))
		switch {
		case w.Days > 0:
			line += " and " + unit.Count(w.Days, "day")
		case w.Days < 0:
			line += " but " + unit.Count(-w.Days, "day") + " longer"
		}
		out = append(out, sentence(line+": “"+name+"”, if these turn out well: "+list(areaNames(in, w.Needs), 6)))
	}
	return out
}

// forcedLine says what leads to the route shown and to no cheaper one: the findings for
// which nothing milder is allowed than the gravest that it does, and what every cheaper
// route waits for.
func forcedLine(in Input, r compare.Route) string {
	by := forcing(in.Decide, r)
	var cheaper int
	var wait []string // by every cheaper route
	for _, o := range in.Compare.Routes {
		if o.Excluded != "" || len(o.Items) == 0 || o.Bill.Currency == "" || o.Bill.Currency != r.Bill.Currency || o.Bill.Total >= r.Bill.Total {
			continue
		}
		if cheaper++; cheaper == 1 {
			wait = o.OpenFor()
		} else {
			wait = slices.DeleteFunc(wait, func(id string) bool { return !slices.Contains(o.OpenFor(), id) })
		}
	}
	wait = slices.DeleteFunc(wait, func(id string) bool { return slices.Contains(by, id) })
	var out []string
	if forced := forcedBy(in, r); forced != "" {
		out = append(out, forced)
	}
	if len(wait) > 0 {
		also := ""
		if len(by) > 0 {
			also = "also "
		}
		out = append(out, fmt.Sprintf("Every cheaper route %swaits for %s.", also, list(areaNames(in, wait), 8)))
	}
	return strings.Join(out, " ")
}

// forcedBy is the part of it about findings.
func forcedBy(in Input, r compare.Route) string {
	by := forcing(in.Decide, r)
	if len(by) == 0 {
		return ""
	}
	return fmt.Sprintf("Forced by %s, for which nothing milder than “%s” is allowed.", list(by, 8), gravest(r))
}

// gravest is the gravest kind of treatment that a route does and that nobody does without
// need: where something is cut off or put in; empty without any.
func gravest(r compare.Route) body.TreatmentKind {
	for _, kind := range []body.TreatmentKind{body.ReplaceCasting, body.ReplacePart, body.SectionOff} {
		if slices.ContainsFunc(r.Items, func(it plan.Item) bool { return it.Kind == kind }) {
			return kind
		}
	}
	return ""
}

// forcing is the findings that the gravest treatment of a route is done for and that may
// have no milder one.
func forcing(d decide.Result, r compare.Route) []string {
	kind, kinds := gravest(r), body.TreatmentKinds()
	var out []string
	for _, f := range d.Findings {
		doneSo := slices.ContainsFunc(r.Items, func(it plan.Item) bool { return it.Kind == kind && slices.Contains(it.Findings, f.ID) })
		milder := slices.ContainsFunc(f.Options, func(o decide.Option) bool {
			return o.Verdict == decide.Allowed && slices.Index(kinds, o.Kind) < slices.Index(kinds, kind)
		})
		if kind != "" && doneSo && !milder {
			out = append(out, string(f.ID))
		}
	}
	return out
}

func lossLine(in Input, p pick) string {
	for _, l := range p.Route.Bill.Loss {
		if l.Applies {
			w := "Repair, not a total loss, by the rule that applies here"
			if l.IsLoss {
				w = "A total loss by the rule that applies here"
			} else if l.Unsure {
				w = "Whether it is a total loss is not certain: a price is missing. As far as it is priced"
			}
			return fmt.Sprintf("%s: %s against %s (%s). Law and insurer decide.", w, money(l.Left, p.Route.Bill.Currency), money(lossLimit(l), p.Route.Bill.Currency), l.Name)
		}
	}
	return "Repair against total loss: no rule that applies was worked out. Law and insurer decide."
}

func answerHow(in Input, p pick) answer {
	pl := p.Route.Plan
	if pl.Unplanned != "" {
		return answer{Word: word{"not planned", toneBad}, Text: sentence("There are no steps: " + pl.Unplanned)}
	}
	if len(pl.Steps) == 0 {
		return answer{Word: word{"no steps", toneFlat}, Text: "This route has no work steps."}
	}
	a := answer{Word: word{unit.Count(len(pl.Steps), "step"), toneFlat},
		Text: sentence(spanned(day(pl.Start), day(pl.Finish)) + ", " + minutes(pl.WorkMin) + " of work")}
	if p.Word.Tone != toneGood {
		a.Lines = append(a.Lines, "Not released: the dates hold only once nothing blocks and every question is answered.")
	}
	if s := promisedLine(in, pl); s != "" {
		a.Lines = append(a.Lines, s)
	}
	if c := jobCautions(pl); len(c) > 0 {
		a.Text += " Dangers on the way: " + strings.ToLower(list(c, most)) + "."
	}
	return a
}

// jobCautions is the titles of every caution that some step has.
func jobCautions(pl plan.Plan) []string {
	var all []string
	seen := map[string]bool{}
	for _, s := range pl.Steps {
		for _, c := range orderedCautions(s.Cautions) {
			if t, _ := cautionText(c); !seen[t] {
				seen[t] = true
				all = append(all, t)
			}
		}
	}
	return all
}

func answerWorked(in Input, p pick) answer {
	a := answerShown(in, p)
	a.Lines = append(a.Lines, handBackLines(in)...)
	return a
}

// handBackLines say what is on record of a hand-back; whether it stands, the gate says.
func handBackLines(in Input) []string {
	h, is := in.Job.HandedBack()
	if !is {
		return nil
	}
	out := []string{fmt.Sprintf("On record: handed back on %s to %s, signed by %s.", h.On, h.To, h.By)}
	for _, what := range in.Job.ChangedSince(h) {
		out = append(out, "Changed since it was handed back: "+what+".")
	}
	return out
}

func answerShown(in Input, p pick) answer {
	if in.After != nil {
		return answerAfter(in)
	}
	if noWork(p) {
		return answer{Word: word{"no repair", toneFlat}, Text: "No work is done on this route, so there is no repair to prove."}
	}
	a := answer{Word: word{"not yet: do not hand back", toneOpen}, Text: "The vehicle has not been measured after the repair. Still to be shown:"}
	if p, ok := progressTo(in, "during"); ok {
		for _, l := range progressLines(p) {
			a.Lines = append(a.Lines, "During the repair, "+strings.ToLower(l[:1])+l[1:])
		}
	}
	if h := holdPoints(p.Route.Plan); len(h) > 0 {
		a.Lines = append(a.Lines, unit.Count(len(h), "hold point")+" passed and signed, as section 7 lists them.")
	}
	again := append(append([]string{}, countMoved(in).moved...), countMoved(in).maybe...)
	if len(again) > 0 {
		a.Lines = append(a.Lines, "All points measured again, above all "+list(again, most)+".")
	} else {
		a.Lines = append(a.Lines, "All points measured again.")
	}
	if s := afterChecks(in, p.Route); len(s) > 0 {
		a.Lines = append(a.Lines, "Inspections afterwards: "+list(s, 5)+".")
	}
	return a
}

// noWork says that the route shown is one without any repair.
func noWork(p pick) bool { return p.Found && p.Route.Feasible && len(p.Route.Plan.Steps) == 0 }

// answerAfter is the verdict of the measurement after the repair.
func answerAfter(in Input) answer {
	h, ok := in.After.Best()
	a := answer{Word: word{"yes, by measurement", toneGood}, Text: "Measured after the repair: every point is in tolerance."}
	var bad []string
	for _, p := range in.Body.Points {
		r, found := h.Point(p.ID)
		if !found || r.Tolerance != measure.Met || !r.Firm {
			bad = append(bad, string(p.ID))
		}
	}
	if !ok || len(bad) > 0 || in.After.Ambiguous {
		a.Word = word{"not shown: do not hand back", toneOpen}
		a.Text = "Measured after the repair; not shown to be in tolerance: " + or(list(bad, most), "the readings allow more than one answer") + "."
	}
	if p, ok := progressTo(in, "after"); ok {
		if l := progressLines(p); len(l) > 1 || len(bad) > 0 || in.After.Ambiguous { // one sort alone is said already
			a.Lines = append(a.Lines, l...)
		}
	}
	a.Lines = append(a.Lines, "The signatures of section 7 are part of the proof.")
	return a
}

// spanned is a span of days in words: one day is named once.
func spanned(from, to string) string {
	if from == to {
		return "on " + from
	}
	return "from " + from + " to " + to
}
