package explain

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
)

// Ruled is what a procedure says to a single question, for people.
func Ruled(r decide.Ruled, col Column) string {
	var b strings.Builder
	of := fmt.Sprintf("%s; in force from %s, to be looked up again before %s; asked for %s", r.Source, r.Effective, r.Recheck, r.On)
	asked(&b, col, fmt.Sprintf("%s revision %s, %s", r.Procedure, r.Revision, r.Title), of, r.Barred, r.Facts)
	b.WriteString("\nTreatments\n")
	for _, o := range r.Options {
		label := fmt.Sprintf("  %-27s", decide.KindText(o))
		b.WriteString(col.Wrap(o.Verdict.String()+": "+strings.TrimSuffix(o.Because, ".")+".", label, strings.Repeat(" ", 29)))
		for _, list := range []struct {
			word  string
			texts []string
		}{{"How: ", o.Manner}, {"Afterwards: ", o.After}} {
			if o.Verdict == decide.Allowed && len(list.texts) > 0 {
				b.WriteString(col.Wrap(list.word+strings.Join(list.texts, "; ")+".", strings.Repeat(" ", 29), strings.Repeat(" ", 29)))
			}
		}
	}
	if len(r.Missing) > 0 {
		b.WriteString("\nNot known, and it may decide\n")
		for _, m := range r.Missing {
			label := fmt.Sprintf("  %-27s", m.Name)
			b.WriteString(col.Wrap(m.Means+"; for "+decide.JoinWords(m.For), label, strings.Repeat(" ", 29)))
		}
	}
	if len(r.Change) > 0 {
		b.WriteString("\nWhat would change it\n")
		for _, c := range r.Change {
			b.WriteString(col.Wrap(c, "  ", "    "))
		}
	}
	b.WriteString("\n")
	for _, c := range r.Cautions {
		b.WriteString(col.Wrap(c, "", ""))
	}
	return b.String()
}

// asked is what was asked, and of what: the head of an answer.
func asked(b *strings.Builder, col Column, title, source, barred string, facts []decide.Fact) {
	b.WriteString(col.Wrap(title, "", ""))
	b.WriteString(col.Wrap(source, "", ""))
	if barred != "" {
		b.WriteString(col.Wrap(barred+": it permits nothing.", "", ""))
	}
	b.WriteString("\nKnown\n")
	for _, f := range facts {
		text := f.Value
		if f.From != decide.FromSaying {
			text += " (" + f.From + ")"
		}
		label := fmt.Sprintf("  %-27s", body.Fact(f.Name).BeforeValue())
		b.WriteString(col.Wrap(text, label, strings.Repeat(" ", 29)))
	}
}

// RuleTable is all that a procedure says of a zone, for people.
func RuleTable(t decide.RuleTable, col Column) string {
	var b strings.Builder
	asked(&b, col, fmt.Sprintf("%s revision %s, %s", t.Procedure, t.Revision, t.Title), t.Source, t.Barred, t.Facts)
	if len(t.Changes) > 0 {
		at := "a decision length of "
		if len(t.Changes) > 1 {
			at = "decision lengths of "
		}
		b.WriteString(col.Wrap("The rule changes at "+at+Joined(t.Changes)+".", "\n", ""))
	}
	var silent []string
	for _, k := range t.Kinds {
		if text := kindTable(k, col); text != "" {
			b.WriteString("\n" + string(k.Kind) + "\n" + text)
		} else {
			silent = append(silent, string(k.Kind))
		}
	}
	if len(silent) > 0 {
		b.WriteString("\n" + col.Wrap("No row allows here, so that the manufacturer has to be asked: "+strings.Join(silent, ", ")+".", "", ""))
	}
	b.WriteString("\n" + col.Wrap("Forbidding beats asking, asking beats allowing. What no row allows has to be asked of the manufacturer.", "", ""))
	return b.String()
}

// kindTable is the rows about one treatment that can decide; empty when none speaks of it.
func kindTable(k decide.KindTable, col Column) string {
	rows := k.Unbeaten()
	var b strings.Builder
	for _, says := range []decide.RowSays{decide.RowAllows, decide.RowAsks, decide.RowForbids} {
		for _, r := range rows {
			if r.Says == says {
				b.WriteString(rowTable(r, col))
			}
		}
	}
	if len(rows) > 0 && !slices.ContainsFunc(rows, settles) {
		b.WriteString("  ask        no row allows it\n")
	}
	return b.String()
}

// settles says that a row allows, or leaves nothing to the words that no row allows.
func settles(r decide.RowTable) bool { return r.Says == decide.RowAllows || r.Always() }

// rowTable is one row: what it says, when and where it stands.
func rowTable(r decide.RowTable, col Column) string {
	word := map[decide.RowSays]string{decide.RowForbids: "forbidden", decide.RowAsks: "ask", decide.RowAllows: "allowed"}[r.Says]
	var when []string
	if r.Length != "" {
		when = append(when, body.Fact(body.FactLength).BeforeValue()+" "+r.Length)
	}
	for _, c := range r.Rest {
		when = append(when, body.Fact(c.Fact).BeforeValue()+" "+c.Text)
	}
	if len(when) == 0 {
		when = []string{"always"}
	}
	if r.Ask != "" {
		when = append(when, r.Ask)
	}
	return col.Wrap(strings.Join(when, "; ")+" ["+r.Row+", "+r.Cite+"]", fmt.Sprintf("  %-11s", word), strings.Repeat(" ", 13))
}
