package report

import (
	"fmt"
	"strings"

	"fettle/internal/decide"
)

// summaryLines is the most the summary takes: one screen.
const summaryLines = 24

// Summary is the seven answers in short, as plain text of at most width
// columns and 24 lines. It has no colours: verdicts are words.
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
	lines := wrapped("", title+", VIN "+in.Job.Vehicle.VIN, width, 2)
	bs := blocks(in)
	if len(bs) > 0 {
		text := fmt.Sprintf("BLOCKED by %s: ", plural(len(bs), "reason"))
		var all []string
		for _, b := range bs {
			all = append(all, strings.TrimSpace(b.Where+" "+strings.TrimSuffix(b.Text, ".")))
		}
		lines = append(lines, wrapped("", text+strings.Join(all, "; "), width, 3)...)
	}
	lines = append(lines, "")
	room := summaryLines - len(lines)
	for i, a := range answers(in, p) {
		text := shortQuestion[i] + ": " + strings.ToUpper(a.Word.Text) + ". " + summaryText(in, p, i, a)
		share := (room - (len(shortQuestion) - 1 - i)) // leave a line for each that follows
		got := wrapped(fmt.Sprintf("%d ", i+1), text, width, min(share, summaryRoom[i]))
		lines = append(lines, got...)
		room -= len(got)
	}
	return strings.Join(lines, "\n") + "\n"
}

var shortQuestion = [7]string{"Moved", "Casting", "May be done", "Opening", "Route", "How", "Did it work"}

// summaryRoom is how many lines each answer may take.
var summaryRoom = [7]int{3, 3, 3, 2, 5, 2, 2}

// summaryText is an answer in one or two sentences.
func summaryText(in Input, p pick, i int, a answer) string {
	switch i {
	case 0:
		if c := countMoved(in); c.total > 0 {
			return strings.TrimSpace(a.Text + " " + toleranceLine(c) + " " + referenceLine(in))
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
			text += fmt.Sprintf("; %s not inspected as asked", plural(n, "area"))
		}
		return text + "."
	case 2:
		return byTreatment(in.Decide)
	case 4:
		text := a.Text
		if w := worthLines(in); len(w) > 0 {
			text += " " + w[0]
		}
		return text + " " + lossLine(in, p)
	case 6:
		if in.After == nil && !noWork(p) {
			text := plural(len(holdPoints(p.Route.Plan)), "hold point") + " to pass, then measure all points again and sign."
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

// wrapped breaks a text into at most n lines of the given width; what does not
// fit ends in three dots. Lines after the first are set in under the lead.
func wrapped(lead, text string, width, n int) []string {
	text = strings.Map(func(r rune) rune {
		if r == '\u00a0' {
			return ' '
		}
		if printable(r) < 0 || r == '\n' || r == '\t' || (r >= 0x80 && r < 0xa0) {
			return ' '
		}
		return r
	}, text)
	indent := strings.Repeat(" ", len(lead))
	var lines []string
	line := lead
	empty := true
	for _, w := range strings.Fields(text) {
		for columns(w) > width-len(lead) {
			r := []rune(w)
			w = string(r[:width-len(lead)-1]) + "…"
		}
		switch {
		case empty:
			line, empty = line+w, false
		case columns(line)+1+columns(w) <= width:
			line += " " + w
		default:
			lines = append(lines, line)
			line = indent + w
		}
	}
	lines = append(lines, line)
	if len(lines) <= n {
		return lines
	}
	last := []rune(lines[n-1])
	if len(last) > width-3 {
		last = last[:width-3]
	}
	lines[n-1] = string(last) + "..."
	return lines[:n]
}

func columns(s string) int { return len([]rune(s)) }
