package report

import (
	"fmt"
	"strings"

	"fettle/internal/decide"
	"fettle/internal/picture"
	"fettle/internal/unit"
)

// summaryBlocks is how many of the reasons that block are told in full.
const summaryBlocks = 3

// Summary is the seven answers in short, as plain text of at most width
// columns. It has no colours: verdicts are words. Long lists end in how many
// more there are; no sentence is cut off.
func Summary(in Input, width int) string {
	if complete(in) != nil {
		return "Nothing to report.\n"
	}
	width = max(width, 40)
	p := picked(in)
	title := "Job " + in.Job.ID + ", " + in.Body.Name
	if in.Body.Invented || in.Job.Invented || in.Shop.Invented {
		title += " (INVENTED)"
	}
	lines := wrapped("", title+", VIN "+in.Job.Vehicle.VIN, width)
	bs := blocks(in)
	if len(bs) > 0 {
		text := fmt.Sprintf("BLOCKED by %s: ", unit.Count(len(bs), "reason"))
		var all []string
		for _, b := range bs[:min(len(bs), summaryBlocks)] {
			all = append(all, strings.TrimPrefix(b.Where+": ", ": ")+strings.TrimSuffix(b.Text, "."))
		}
		if n := len(bs) - summaryBlocks; n > 0 {
			all = append(all, fmt.Sprintf("and %d more", n))
		}
		lines = append(lines, wrapped("", text+strings.Join(all, "; "), width)...)
	}
	lines = append(lines, "")
	for i, a := range answers(in, p) {
		text := shortQuestion[i] + ": " + strings.ToUpper(a.Word.Text) + ". " + summaryText(in, p, i, a)
		lines = append(lines, wrapped(fmt.Sprintf("%d ", i+1), text, width)...)
	}
	return strings.Join(lines, "\n") + "\n"
}

var shortQuestion = [7]string{"Moved", "Casting sound", "May be done", "Opening", "Route", "How", "Did it work"}

// summaryText is an answer in one or two sentences.
func summaryText(in Input, p pick, i int, a answer) string {
	switch i {
	case 0:
		if c := countMoved(in); c.total > 0 {
			text := a.Text
			if len(c.moved) > 0 {
				text = fmt.Sprintf("%d of %s moved: %s.", len(c.moved), unit.Count(c.total, "measured point"), list(c.moved, most))
			}
			return strings.TrimSpace(text + " " + toleranceLine(c) + " " + referenceLine(in))
		}
	case 1:
		var s []string
		for _, f := range in.Inspect.Findings {
			t := string(f.ID)
			if f.Length != nil {
				t += " " + fixed(f.Length.MM, 1) + " mm"
			}
			s = append(s, t)
		}
		text := or(list(s, 10), "No finding")
		if n := len(notCovered(in.Inspect)); n > 0 {
			text += fmt.Sprintf("; %s not inspected as asked", unit.Count(n, "area"))
		}
		return text + "."
	case 2:
		return byTreatment(in.Decide)
	case 4:
		text := a.Text
		if look, first := lookFirst(in, p); first {
			text = look + " Without: " + text
		} else if w := worthLines(in, p); len(w) > 0 {
			text += " " + w[0]
		}
		if forced := forcedLine(in, p.Route); forced != "" {
			text += " " + forced
		}
		return text + " " + lossLine(in, p)
	case 5:
		text, _, _ := strings.Cut(a.Text, " Dangers on the way")
		return text
	case 6:
		if in.After == nil && !noWork(p) {
			text := "Measure all points again and sign."
			if n := len(holdPoints(p.Route.Plan)); n > 0 {
				text = unit.Count(n, "hold point") + " to pass, then measure all points again and sign."
			}
			if g, ok := progressTo(in, "during"); ok && len(progressLines(g)) > 0 {
				text = "Measured during the repair: " + progressLines(g)[0] + " " + text
			}
			return text
		}
	}
	return a.Text
}

// byTreatment names the findings under the mildest treatment each may have, or
// under the verdict where nothing is allowed.
func byTreatment(r decide.Result) string {
	var order []string
	who := map[string][]string{}
	put := func(text string, f decide.Finding) {
		if who[text] == nil {
			order = append(order, text)
		}
		who[text] = append(who[text], string(f.ID))
	}
	for _, f := range r.Findings {
		text := strings.ToUpper(verdictWord(f.Verdict).Text)
		for _, o := range f.Options {
			if o.Verdict == decide.Allowed {
				text = string(o.Kind)
				break
			}
		}
		put(text, f)
	}
	for i, text := range order {
		order[i] = list(who[text], 12) + " " + text
	}
	return sentence(or(strings.Join(order, "; "), "no finding to decide about"))
}

// wrapped breaks a text into lines of at most the given width; nothing is left
// out. Lines after the first are set in under the lead.
func wrapped(lead, text string, width int) []string {
	text = strings.Map(func(r rune) rune {
		if r == '\u00a0' {
			return ' '
		}
		if picture.Printable(r) < 0 || r == '\n' || r == '\t' || (r >= 0x80 && r < 0xa0) {
			return ' '
		}
		return r
	}, text)
	room := width - len(lead)
	var lines []string
	line := ""
	for _, w := range strings.Fields(text) {
		if line != "" && columns(line)+1+columns(w) <= room {
			line += " " + w
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		r := []rune(w)
		for len(r) > room { // a word longer than a line is broken
			lines, r = append(lines, string(r[:room])), r[room:]
		}
		line = string(r)
	}
	lines = append(lines, line)
	for i := range lines {
		if i == 0 {
			lines[i] = lead + lines[i]
		} else {
			lines[i] = strings.Repeat(" ", len(lead)) + lines[i]
		}
	}
	return lines
}

func columns(s string) int { return len([]rune(s)) }
