package explain

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/plan"
	"fettle/internal/report"
	"fettle/internal/shop"
)

// addFound takes what was computed and has a name: points, findings, risks,
// routes, areas, questions, total-loss rules, chances, tenths, drivers, notes.
func (n *Names) addFound() {
	in := n.In
	for _, p := range in.Body.Points {
		n.add(kindControlPoint, func() Reason {
			return n.with(n.point(p), kindControlPoint, string(p.ID))
		}, string(p.ID), p.Name)
	}
	for _, f := range in.Job.Findings {
		n.add(kindFinding, func() Reason {
			t, ok := n.finding(f.ID)
			if !ok {
				t = because(diag.Say("explain.finding-unplaced", "{finding} was not laid on a casting.", f.ID))
			}
			return n.with(t, kindFinding, string(f.ID))
		}, string(f.ID), f.Text)
	}
	for _, k := range in.Job.Risks {
		n.add(kindRisk, func() Reason {
			t := explainRisk(n.In, k.ID)
			t.Under = append(t.Under, each("explain.driver-says", "{sentence}", report.DriverSays(n.In, k.ID))...)
			return n.with(t, kindRisk, k.ID)
		}, k.ID, k.Text, k.ID+": "+k.Text)
	}
	for _, route := range in.Compare.Routes {
		n.add(kindRoute, func() Reason { return n.route(route) }, route.ID, route.Name)
	}
	for _, g := range in.Inspect.Groups {
		n.add("group of cracks", func() Reason {
			length := diag.Say("explain.group-unknown", "{group}: its length is not known.", g.ID)
			if !g.Unknown {
				length = diag.Say("explain.group", "{group}: {length} together.", g.ID, far(g.LengthMM, g.StdMM))
			}
			return because(length, because(diag.Say("explain.group-because", "{sentence}", g.Because)), because(diag.Say("explain.group-of", "Of: {findings}", Joined(g.Findings))))
		}, g.ID)
	}
	n.addAreas()
	n.addQuestions()
	n.addLossRules()
	n.addSupplement()
	n.addDone()
	n.addSpread()
	n.addMeasuring()
	n.addFacts()
	n.addKinds()
	n.addNotes()
}

// addAreas takes every area to be inspected.
func (n *Names) addAreas() {
	for _, x := range n.In.Inspect.Coverage {
		n.add(kindArea, func() Reason {
			t := because(diag.Say("explain.area", "{area} ({name}): {state}.", x.Area, x.Name, report.AreaWord(n.In, x)), each("explain.area-says", "{sentence}", report.AreaSays(n.In, x))...)
			if x.Fails != "" {
				t.Under = append(t.Under, because(diag.Say("explain.area-fails", "Does not count: {fails}", x.Fails)))
			}
			for _, rule := range n.all {
				if rule.kind == kindAreaRule && len(rule.names) > 0 && strings.Contains(x.Because, "rule "+rule.names[0]+" ") && n.inForce(rule.of) {
					t.Under = append(t.Under, Reason{Said: diag.Say("explain.area-rule", "By {entry}", rule.line()), Source: fieldOf(rule.fields, "cite"), At: rule.at})
				}
			}
			return n.with(t, kindArea, x.Area)
		}, x.Area, x.Name)
	}
}

// addQuestions takes the questions to the manufacturer, with their text.
func (n *Names) addQuestions() {
	for i, list := range [][]decide.Question{n.In.Decide.Questions, n.In.Decide.Offers} {
		for _, q := range list {
			n.add(kindQuestion, func() Reason {
				about := string(q.Finding)
				if about == "" {
					about = string(q.Point)
				}
				t := because(diag.Say("explain.question", "{question}, about {about}: {state}.", q.ID, about, q.State))
				if i == 1 {
					t.Under = append(t.Under, because(diag.Say("explain.question-spare", "It need not be asked: another treatment is allowed. A milder one waits for the answer.")))
				}
				if !q.Asked.IsZero() {
					t.Under = append(t.Under, because(diag.Say("explain.question-sent", "Sent on {asked}", q.Asked.String())))
				}
				if !q.Answer.IsZero() {
					t.Under = append(t.Under, because(diag.Say("explain.question-answered", "Answered on {answer} by {by}; holds until {expires}", q.Answer, q.By, q.Expires)))
				}
				t.Under = append(t.Under, because(diag.Say("explain.question-text", "Its text"), each("explain.question-line", "{sentence}", strings.Split(q.Text, "\n"))...))
				for _, f := range n.In.Decide.Findings {
					if f.ID == q.Finding {
						t.Under = append(t.Under, because(diag.Say("explain.question-verdict", "Verdict on {finding}: {verdict}. {because}", f.ID, f.Verdict.String(), f.Because)))
					}
				}
				for _, w := range n.all {
					if w.kind == kindFinding && w.names[0] == about || w.kind == kindControlPoint && w.names[0] == about {
						t.Under = append(t.Under, Reason{Said: diag.Say("explain.question-about", "About {kind} {about}", w.kind, about), At: w.at})
					}
				}
				return n.with(t, kindQuestion, q.ID)
			}, q.ID)
		}
	}
}

// addLossRules takes the rules by which a total loss is judged, with what each
// says of every route.
func (n *Names) addLossRules() {
	for i, rule := range n.In.Shop.TotalLoss {
		n.add(kindLossRule, func() Reason {
			t := because(diag.Say("explain.loss-rule", "{rule}: {name}.", rule.ID, rule.Name))
			t.At = fileLine(n.In.Job.Shop, n.In.Shop.Problem(fmt.Sprintf("total_loss[%d]", i), "", "").Line)
			for _, route := range n.In.Compare.Routes {
				if said := report.LossSays(route, rule.ID); len(said) > 0 {
					t.Under = append(t.Under, because(diag.Say("explain.of-route", "Route {route}", route.ID), each("explain.loss-rule-of-route", "{sentence}", said)...))
				}
			}
			return n.with(t, kindLossRule, rule.ID)
		}, rule.ID, rule.Name)
	}
}

// addSpread takes chances, tenths, what moves the money and the days, and what it
// is worth to look first.
func (n *Names) addSpread() {
	s := n.In.Compare.Spread
	if s == nil {
		return
	}
	seed := diag.Say("explain.seed", "{draws} draws with seed {seed} ({number}), made of the hashes of the inputs.", s.Draws, fmt.Sprintf("%x", s.Seed), fmt.Sprint(s.Seed))
	n.add("seed", func() Reason { return because(seed) }, fmt.Sprintf("%x", s.Seed), fmt.Sprint(s.Seed), "seed")
	spread := func(what diag.Said) func() Reason {
		return func() Reason {
			t := because(what, because(seed))
			for _, x := range s.Routes {
				t.Under = append(t.Under, because(diag.Say("explain.of-route", "Route {route}", x.Route), each("explain.spread-says", "{sentence}", report.SpreadSays(n.In, x.Route))...))
			}
			for _, w := range n.all {
				if w.kind == kindSpread || w.kind == kindRisk {
					t.Under = append(t.Under, Reason{Said: diag.Say("explain.spread-from", "From {entry}", w.line()), At: w.at, Source: fieldOf(w.fields, "source")})
				}
			}
			t.Under = append(t.Under, each("explain.spread-left-out", "{sentence}", s.Left)...)
			return t
		}
	}
	n.add("chance", spread(diag.Say("explain.chances", "How often, in the draws, a route turns out the cheapest, and a total loss by the rule that applies.")),
		"chance", "chances", "bestChance", "lossChance", "Turns out cheapest", "Total loss by the rule")
	n.add("tenth", spread(diag.Say("explain.tenths", "Below the first tenth lies one draw in ten, above the last one in ten; the middle has as many draws below as above; expected is the mean of all.")),
		"tenth", "tenths", "1 in 10 below", "1 in 10 above", "Middle", "Expected", "p10Minor", "p50Minor", "p90Minor", "meanMinor", "8 of 10 draws")
	n.add("driver", func() Reason {
		t := because(diag.Say("explain.drivers", "What moves the money, and what moves the days, of the best route."))
		for _, name := range drivenBy(s) {
			t.Under = append(t.Under, because(diag.Say("explain.driver", "{name}", report.DriverName(n.In, name)), each("explain.driver-says", "{sentence}", report.DriverSays(n.In, name))...))
		}
		return t
	}, "driver", "drivers", "What moves the money", "What moves the days")
	for _, l := range s.Looks {
		n.add("look", func() Reason {
			t := because(diag.Say("explain.look", "{sentence}", l.Text), because(diag.Say("explain.look-gain", "Gain {gain} {currency} before the price of {price}; another route is taken in {changes} of the draws; perfect knowledge would be worth {perfect}.", diag.Paid(l.Gain, n.In.Shop.Currency), n.In.Shop.Currency, diag.Paid(l.Price, n.In.Shop.Currency), share(l.Changes), diag.Paid(s.Perfect, n.In.Shop.Currency))))
			for _, id := range l.Risks {
				t.Under = append(t.Under, n.with(explainRisk(n.In, id), kindRisk, id))
			}
			return t
		}, l.Text, "look "+strings.Join(l.Risks, " "))
	}
}

// drivenBy are the names of what moves the money and the days, each once.
func drivenBy(s *compare.Spread) []string {
	var out []string
	for _, d := range s.Drivers {
		out = append(out, d.Name)
	}
	for _, d := range s.Days {
		if !slices.Contains(out, d.Name) {
			out = append(out, d.Name)
		}
	}
	return out
}

// addMeasuring takes the measurement as a whole, sections of the structure and
// devices.
func (n *Names) addMeasuring() {
	n.add("measurement", func() Reason {
		return because(diag.Say("explain.measurement", "What holds for the measurement before the repair as a whole."), each("explain.measurement-says", "{sentence}", report.MeasurementSays(n.In))...)
	}, "measurement", "adjustment")
	n.add(kindJob, func() Reason {
		t := because(diag.Say("explain.job", "The vehicle, and what the first page says of it."), each("explain.job-says", "{sentence}", report.JobSays(n.In))...)
		for _, w := range n.all {
			if w.kind == kindJob {
				t.Under = append(t.Under, w.reason())
			}
		}
		return t
	}, n.In.Job.ID, n.In.Job.Vehicle.VIN, "vehicle")
	var seen []string
	for _, s := range n.In.Job.Setups {
		if slices.Contains(seen, s.Device) {
			continue
		}
		seen = append(seen, s.Device)
		n.add("device", func() Reason {
			t := because(diag.Say("explain.device", "Device {device}.", s.Device))
			for i, x := range n.In.Job.Setups {
				if x.Device == s.Device {
					p := n.In.Job.Problem(fmt.Sprintf("setups[%d]", i), "", "")
					t.Under = append(t.Under, Reason{Said: diag.Say("explain.setup", "Set-up {setup}", x.ID), At: fileLine(p.File, p.Line), Under: each("explain.setup-says", "{sentence}", report.SetupSays(n.In, x.ID))})
				}
			}
			for _, w := range n.all {
				if w.kind != kindSetup && fieldOf(w.fields, "device") == s.Device {
					t.Under = append(t.Under, Reason{Said: diag.Say("explain.entry-line", "{entry}", w.line()), At: w.at})
				}
			}
			return t
		}, s.Device)
	}
}

// addFacts takes the facts that rows of a procedure are held against, with their
// value for every finding.
func (n *Names) addFacts() {
	for _, d := range body.FactDefs() {
		n.add("fact", func() Reason {
			t := because(diag.Say("explain.fact", "{fact}: {help}.", strings.ReplaceAll(d.Name, "_", " "), d.Help), because(diag.Say("explain.fact-get", "Where it is not known: {get}", d.Get)))
			for _, f := range n.In.Decide.Findings {
				for _, x := range f.Facts {
					if x.Name != d.Name {
						continue
					}
					v := x.Value
					if !x.Known {
						v = "not known"
					}
					t.Under = append(t.Under, because(diag.Say("explain.fact-value", "{finding}: {value} ({from})", f.ID, v, x.From)))
				}
			}
			return t
		}, d.Name, strings.ReplaceAll(d.Name, "_", " "))
	}
}

// addKinds takes kinds of treatment, and of danger.
func (n *Names) addKinds() {
	for _, k := range body.TreatmentKinds() {
		n.add("kind of treatment", func() Reason {
			t := because(diag.Say("explain.kind-of-treatment", "{kind}, for each finding that a row or an answer speaks of it.", k))
			for _, f := range n.In.Decide.Findings {
				for _, o := range f.Options {
					if o.Kind == k {
						t.Under = append(t.Under, optionReason(string(f.ID)+", ", o))
					}
				}
			}
			return t
		}, string(k))
	}
	for _, k := range body.Cautions() {
		n.add("caution", func() Reason {
			t := because(diag.Say("explain.caution", "{title} ({caution}).", report.CautionTitle(k), k))
			for _, w := range n.all {
				if w.kind == kindHazard && w.names[0] == string(k) {
					t.Under = append(t.Under, Reason{Said: diag.Say("explain.entry-line", "{entry}", w.line()), At: w.at})
				}
			}
			for _, s := range n.ShownRoute().Plan.Steps {
				if slices.Contains(s.Cautions, k) {
					t.Under = append(t.Under, Reason{Said: diag.Say("explain.at-step", "At {step} {name}", s.ID, s.Name), Source: s.Cite, Under: n.source(s.Ref)})
				}
			}
			return t
		}, string(k), report.CautionTitle(k))
	}
}

// addNotes takes the notes by their codes.
func (n *Names) addNotes() {
	var seen []string
	for _, x := range append(append([]diag.Note{}, n.In.Notes...), n.In.Measure.Notes...) {
		if slices.Contains(seen, x.Code) {
			continue
		}
		seen = append(seen, x.Code)
		n.add("note", func() Reason {
			t := because(diag.Say("explain.notes-of-code", "Notes {code}.", x.Code))
			for _, y := range n.In.Notes {
				if y.Code == x.Code {
					t.Under = append(t.Under, because(diag.Say("explain.note-of", "{where}: {note}", y.Where, noteReason(y).Said)))
				}
			}
			return t
		}, x.Code)
	}
}

// route is where a route stands and why, with its spread.
func (n *Names) route(route compare.Route) Reason {
	t := explainRoute(route)
	if route.Plan.SpanMin > 0 {
		t.Under = append(t.Under, because(diag.Say("explain.route-span", "From the first to the last step {span} pass; no plan takes less than {least}.", diag.Figure{Text: report.Elapsed(route.Plan.SpanMin), Value: route.Plan.SpanMin, Unit: "min"}, diag.Figure{Text: report.Elapsed(route.Plan.BoundMin), Value: route.Plan.BoundMin, Unit: "min"})))
	}
	t.Under = append(t.Under, each("explain.route-says", "{sentence}", report.RouteSays(n.In, route))...)
	if said := report.SpreadSays(n.In, route.ID); len(said) > 0 {
		t.Under = append(t.Under, because(diag.Say("explain.route-spread", "How far it may turn out off"), each("explain.spread-says", "{sentence}", said)...))
	}
	for _, w := range n.In.Compare.Worth {
		if w.Route == route.ID {
			t.Under = append(t.Under, because(diag.Say("explain.route-worth", "It saves {saves} {currency} and {days}, if these turn out well: {needs}.", diag.Paid(w.Saves, route.Bill.Currency), route.Bill.Currency, diag.Counted(w.Days, "working day"), strings.Join(w.Needs, "; "))))
		}
	}
	for _, w := range n.all {
		if w.kind == kindTreatment && slices.ContainsFunc(route.Items, func(i plan.Item) bool { return string(i.Treatment) == w.names[0] }) {
			t.Under = append(t.Under, Reason{Said: diag.Say("explain.route-treatment", "By treatment {treatment}: {name}", w.names[0], w.names[1]), Source: fieldOf(w.fields, "cite"), At: w.at})
		}
		for _, f := range w.fields {
			if w.kind == kindJob && (f.name == "vehicle.value" || f.name == "vehicle.salvage") {
				t.Under = append(t.Under, Reason{Said: diag.Say("explain.against", "Against {field}: {value}", f.name, f.text), At: f.at})
			}
		}
	}
	return n.with(t, kindRoute, route.ID)
}

// found is what was computed about an entry of a document.
func (n *Names) found(w written) []Reason {
	id := w.names[0]
	switch w.kind {
	case kindZone:
		return n.zone(body.ZoneID(id))
	case kindRecord:
		return n.recorded(fieldOf(w.fields, "step"))
	case kindLine:
		for _, l := range n.In.Body.Lines {
			if string(l.ID) == id {
				return append(each("explain.line-says", "{sentence}", report.LineSays(n.In, l)), n.optionsOf(func(o decide.Option) bool { return o.Line == l.ID })...)
			}
		}
	case kindRow:
		return n.row(w)
	case kindTreatment:
		kind := fieldOf(w.fields, "kind")
		return n.optionsOf(func(o decide.Option) bool { return string(o.Kind) == kind })
	case kindInspection:
		var out []Reason
		for _, j := range n.In.Inspect.Inspections {
			if j.ID == id {
				verdict := diag.Say("explain.inspection-fails-for", "It does not count for {casting}", j.Casting)
				if j.Counts {
					verdict = diag.Say("explain.inspection-counts-for", "It counts for {casting}", j.Casting)
				}
				out = append(out, because(verdict, append(each("explain.inspection-says", "{sentence}", report.InspectionSays(n.In, j)), each("explain.inspection-fails", "{sentence}", j.Why)...)...))
			}
		}
		return out
	case kindSetup:
		return n.setup(id)
	case kindReading:
		return n.reading(w)
	case kindStructure:
		return each("explain.section-says", "{sentence}", report.SectionSays(n.In, body.SectionID(id)))
	case kindJoint:
		return n.jointSteps(body.JointID(id))
	case kindBore, kindEdge:
		return n.clearancesTo(id)
	case kindEvidence:
		for _, e := range n.read {
			if e.ID == id {
				return []Reason{because(diag.Say("explain.evidence-read", "As it was read: {bytes} bytes, SHA-256 {sha256}", e.Bytes, e.SHA256))}
			}
		}
	case kindPerson:
		return append(n.absences(func(a shop.Absence) bool { return a.Person == id }), n.work(func(s workStep) bool { return s.person == id })...)
	case kindBay:
		return append(n.absences(func(a shop.Absence) bool { return a.Bay == id }), n.work(func(s workStep) bool { return s.bay == id })...)
	case kindAnswer:
		return n.optionsOf(func(o decide.Option) bool { return o.Answer == id })
	case kindEquipment:
		return n.equipment(id)
	case kindProcedure:
		var out []Reason
		for _, p := range n.In.Decide.Procedures {
			if string(p.Procedure) == id && p.Revision == fieldOf(w.fields, "revision") {
				force := diag.Say("explain.in-force", "In force for {casting}: {title}, effective {effective}, to be looked up again before {recheck}, last looked up {checked}", p.Casting, p.Title, p.Effective, p.Recheck, p.CheckedOn)
				if p.Why != "" {
					force = diag.Say("explain.in-force-barred", "{force}; {why}", force, p.Why)
				}
				out = append(out, because(force))
			}
		}
		return out
	}
	return nil
}

// absences is when a person or a bay is away.
func (n *Names) absences(of func(shop.Absence) bool) []Reason {
	var out []Reason
	for _, a := range n.In.Shop.Absences {
		if of(a) {
			out = append(out, because(diag.Say("explain.absence", "It is {away}: nothing is planned for it then", a.Words())))
		}
	}
	return out
}

// spoken is other names that an entry is printed with.
func (n *Names) spoken(w written) []string {
	switch w.kind {
	case kindSetup:
		return []string{"set-up " + w.names[0]}
	case kindRow:
		return []string{"row " + w.names[0]}
	case kindBay:
		return []string{fieldOf(w.fields, "kind")}
	}
	return nil
}

// zone is what lies in a zone, what has been looked at there, and which rows name
// it.
func (n *Names) zone(id body.ZoneID) []Reason {
	out := []Reason{because(diag.Say("explain.zone-cracks", "Cracks in it, those that surely are one counted once: {cracks}.", n.In.Inspect.CracksInZone(id)))}
	for _, f := range n.In.Inspect.Findings {
		for _, z := range f.Zones {
			if z.Zone != id {
				continue
			}
			lies := diag.Say("explain.zone-finding-part", "{finding}, {kind}: {length:.1f mm} of it here", f.ID, f.Kind, z.LengthMM)
			if f.Length != nil && len(f.Zones) == 1 {
				lies = diag.Say("explain.zone-finding", "{finding}, {kind}: {length}", f.ID, f.Kind, far(f.Length.MM, f.Length.Std))
			}
			if z.Touches {
				lies = diag.Say("explain.zone-finding-near", "{finding}, {kind}: nearer than the uncertainty", f.ID, f.Kind)
			}
			out = append(out, because(lies))
		}
		if slices.Contains(f.MayLieIn, id) {
			out = append(out, because(diag.Say("explain.zone-may-hold", "{finding} may lie in it: it could not be located", f.ID)))
		}
	}
	for _, x := range n.In.Inspect.Coverage {
		if x.Zone == id {
			out = append(out, because(diag.Say("explain.zone-area", "Area {area}: {sentence}", x.Area, x.Text)))
		}
	}
	for _, w := range n.all {
		if w.kind == kindRow && slices.ContainsFunc(strings.FieldsFunc(fieldOf(w.fields, "when.zones"), func(r rune) bool { return r == ',' || r == ' ' }), func(s string) bool { return s == string(id) }) {
			out = append(out, Reason{Said: diag.Say("explain.zone-row", "Row {row} ({procedure}) asks for zones {zones}", w.names[0], w.of, fieldOf(w.fields, "when.zones")), Source: fieldOf(w.fields, "cite"), At: w.at})
		}
	}
	return out
}

// optionsOf are the treatments of findings that something speaks of.
func (n *Names) optionsOf(of func(decide.Option) bool) []Reason {
	var out []Reason
	for _, f := range n.In.Decide.Findings {
		for _, o := range f.Options {
			if of(o) {
				out = append(out, optionReason(string(f.ID)+", ", o))
			}
		}
	}
	return out
}

func optionReason(lead string, o decide.Option) Reason {
	name := string(o.Kind)
	if o.Line != "" {
		name += " along " + string(o.Line)
	}
	under := each("explain.treatment-manner", "{sentence}", o.Manner)
	for _, a := range o.After {
		under = append(under, because(diag.Say("explain.treatment-afterwards", "Afterwards: {after}", a)))
	}
	return Reason{Said: diag.Say("explain.treatment", "{finding}{treatment}: {verdict}. {because}", lead, name, o.Verdict.String(), o.Because), Source: o.Cite, Under: under}
}

// row is what a row of the procedure in force says of every finding.
func (n *Names) row(w written) []Reason {
	if !n.inForce(w.of) {
		return []Reason{because(diag.Say("explain.row-not-in-force", "This revision is not in force: the row spoke of nothing."))}
	}
	var out []Reason
	for _, f := range n.In.Decide.Findings {
		for _, row := range f.Rows {
			if row.Row == w.names[0] {
				x := rowReason(row, report.Confidence(n.In.Body))
				x.Said = diag.Say("explain.of-finding", "{finding}: {sentence}", f.ID, x.Said)
				out = append(out, x)
			}
		}
	}
	return out
}

// inForce says that a revision ("BR-FC revision D") is the one that is judged by.
func (n *Names) inForce(revision string) bool {
	return slices.ContainsFunc(n.In.Decide.Procedures, func(p decide.InForce) bool { return revision == string(p.Procedure)+" revision "+p.Revision })
}

// rowReason is how a row was judged, condition by condition.
func rowReason(row decide.RowResult, confidence float64) Reason {
	rr := Reason{Said: diag.Say("explain.row", "{row} {state}: {effect}", row.Row, row.State, row.Effect), Source: row.Cite}
	for _, cond := range row.Conds {
		was := diag.Say("explain.condition", "{fact} {limit}: {state}, is {value}", cond.Fact, cond.Text, cond.State, cond.Value)
		if cond.State == decide.CondUndecided {
			was = diag.Say("explain.condition-undecided", "{condition} (probability {probability})", was, diag.Figure{Text: report.PercentBeside(cond.Prob, confidence), Value: cond.Prob})
		}
		if cond.Need != "" {
			was = diag.Say("explain.condition-needs", "{condition}; {need}", was, cond.Need)
		}
		rr.Under = append(rr.Under, because(was))
	}
	return rr
}

// setup is how a set-up was judged: its row, its place and what its readings
// leave over.
func (n *Names) setup(id string) []Reason {
	out := each("explain.setup-says", "{sentence}", report.SetupSays(n.In, id))
	if h, ok := n.In.Measure.Best(); ok {
		if p, ok := h.Setups[id]; ok {
			out = append(out, because(diag.Say("explain.setup-place", "Its place: turned by {turned-x:.3f}, {turned-y:.3f}, {turned-z:.3f degrees}, moved by {moved-x:.1f}, {moved-y:.1f}, {moved-z:.1f mm} from vehicle axes; scale {scale:.5f} with standard uncertainty {std:.5f}, not applied.", p.RotationDeg[0], p.RotationDeg[1], p.RotationDeg[2], p.TranslationMM[0], p.TranslationMM[1], p.TranslationMM[2], p.Scale, p.ScaleStd)))
		}
	}
	for _, t := range n.In.Measure.Thermal {
		if t.Setup == id {
			out = append(out, because(diag.Say("explain.setup-thermal", "{sentence}", t.Text)))
		}
	}
	return out
}

// reading is what the adjustment makes of a reading.
func (n *Names) reading(w written) []Reason {
	setup, from, to := fieldOf(w.fields, "setup"), fieldOf(w.fields, "from"), fieldOf(w.fields, "to")
	out := each("explain.length-says", "{sentence}", report.LengthSays(n.In.Measure, setup, from, to))
	for _, o := range n.In.Measure.Adjustment.Observations {
		if o.Setup != setup || string(o.From) != from || string(o.To) != to {
			continue
		}
		left := diag.Say("explain.reading-blind", "{kind}: adjusted minus observed {residual:+.2f mm}, standard uncertainty {std:.2f mm}, {ratio:.1f} of that; no error of it would show", o.Kind, o.ResidualMM, o.StdMM, o.W)
		if o.Detectable > 0 {
			left = diag.Say("explain.reading", "{kind}: adjusted minus observed {residual:+.2f mm}, standard uncertainty {std:.2f mm}, {ratio:.1f} of that; an error of {detectable:.1f mm} would show", o.Kind, o.ResidualMM, o.StdMM, o.W, o.Detectable)
		}
		out = append(out, because(left))
	}
	return out
}

// jointSteps is where a joint is opened and closed on the route shown.
func (n *Names) jointSteps(id body.JointID) []Reason {
	var out []Reason
	for _, route := range n.In.Compare.Routes {
		if route.ID != n.Picked {
			continue
		}
		for _, p := range route.Plan.Removal {
			if slices.Contains(p.Joints, id) {
				out = append(out, because(diag.Say("explain.joint-opened", "Opened to take off {part}. {because}", p.Name, p.Because)))
			}
		}
		for _, s := range route.Plan.Steps {
			if slices.Contains(s.Closes, id) {
				out = append(out, Reason{Said: diag.Say("explain.joint-closed", "Closed at {step} {name}", s.ID, s.Name), Source: s.Cite})
			}
		}
	}
	return append(out, n.clearancesTo(string(id))...)
}

// clearancesTo is how far findings are from something.
func (n *Names) clearancesTo(id string) []Reason {
	var out []Reason
	for _, f := range n.In.Inspect.Findings {
		for _, x := range []struct {
			what string
			c    *inspect.Clearance
		}{{"bore", f.Bore}, {"edge", f.Edge}, {"joint", f.Joint}, {"border", f.Border}, {"earlier repair", f.Earlier}} {
			if x.c == nil {
				continue
			}
			if x.c.To == id {
				out = append(out, because(diag.Say("explain.clearance", "{finding} is {distance} from it, and nothing of its kind is nearer.", f.ID, far(x.c.MM, x.c.Std))))
			}
		}
	}
	return out
}

// ShownRoute is the route that the pages show; one without steps when they show none.
func (n *Names) ShownRoute() compare.Route {
	for _, route := range n.In.Compare.Routes {
		if route.ID == n.Picked {
			return route
		}
	}
	return compare.Route{}
}

// workStep is who does a step where.
type workStep struct{ person, bay string }

// work is the steps of the route shown that somebody does, or that are done
// somewhere.
func (n *Names) work(of func(workStep) bool) []Reason {
	var out []Reason
	for _, s := range n.ShownRoute().Plan.Steps {
		if of(workStep{s.Person, s.BayID}) {
			out = append(out, because(diag.Say("explain.work", "{step} {name}, {from} to {to}", s.ID, s.Name, s.From.Format("Mon 2006-01-02 15:04"), s.To.Format("Mon 15:04"))))
		}
	}
	return out
}

// equipment is the steps of the route shown that need a piece of equipment.
func (n *Names) equipment(id string) []Reason {
	var out []Reason
	for _, s := range n.ShownRoute().Plan.Steps {
		if slices.Contains(s.Equipment, id) {
			out = append(out, because(diag.Say("explain.equipment-at-step", "Needed at {step} {name}", s.ID, s.Name)))
		}
	}
	return out
}

// withPart adds to why a part comes off how it is written and what names it.
func (n *Names) withPart(t Reason, id body.PartID) Reason {
	if _, ok := n.In.Body.Part(id); ok {
		return n.with(t, kindPart, string(id))
	}
	return n.with(t, kindAssembly, string(id))
}

func partOnly(b *body.Body, id body.PartID) string {
	p, _ := b.Part(id)
	return p.Name
}
