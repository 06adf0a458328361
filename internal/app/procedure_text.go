package app

import (
	"fmt"
	"strings"

	"fettle/internal/revise"
)

// ReplayText is what a new revision changes, for a terminal.
func (a *App) ReplayText(r Replayed, col Column) string {
	var b strings.Builder
	line := func(indent, text string) {
		b.WriteString(col.Wrap(text, indent, strings.Repeat(" ", len(indent))))
	}
	line("", fmt.Sprintf("%s revision %s, judged as of %s.", r.Procedure, r.Revision, r.Day))
	if r.Changes != nil {
		b.WriteString("\nWhat changed\n")
		if len(r.Changes) == 0 {
			line("  ", "nothing: both files say the same")
		}
		for _, c := range r.Changes {
			line("  ", changeText(c))
		}
	}
	if len(r.Jobs) == 0 {
		return b.String()
	}
	b.WriteString("\nJobs\n")
	same := 0
	for _, j := range r.Jobs {
		switch {
		case j.Failed != "":
			line("  ", j.Dir+": could not be decided: "+j.Failed)
		case len(j.Turned) == 0:
			same++
		default:
			line("  ", fmt.Sprintf("%s (%s), against %s: %s.", j.ID, j.Dir, orNone(j.Against), jobWay(j.Turned)))
			for _, t := range j.Turned {
				line("    ", string(t.Finding)+", "+t.Way.String()+": "+t.Text+".")
			}
		}
	}
	if len(r.Others) > 0 {
		line("  ", "Of another casting, and not looked at: "+strings.Join(r.Others, ", ")+".")
	}
	line("  ", fmt.Sprintf("Of %[2]d jobs %[1]d change, %[3]d decide as before and %[4]d could not be decided.", len(r.Jobs)-same-r.Failed(), len(r.Jobs), same, r.Failed()))
	return b.String()
}

func changeText(c revise.Change) string {
	t := c.Text
	if c.Row != "" {
		t = "row " + c.Row + ": " + t
	}
	if c.Way != revise.Unclear {
		t += " (" + c.Way.String() + ")"
	}
	if c.Cite != "" {
		t += " [" + c.Cite + "]"
	}
	return t
}

func orNone(s string) string {
	if s == "" {
		return "no procedure in force"
	}
	return s
}

// jobWay sums up the directions of a job's findings.
func jobWay(turned []revise.Turned) string {
	n := map[revise.Direction]int{}
	for _, t := range turned {
		n[t.Way]++
	}
	var parts []string
	for _, w := range []struct {
		way  revise.Direction
		text string
	}{{revise.Milder, "milder"}, {revise.Stricter, "stricter"}, {revise.Unclear, "with another verdict but nothing more or less allowed"}} {
		if n[w.way] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n[w.way], w.text))
		}
	}
	return findings(len(turned)) + ": " + strings.Join(parts, ", ")
}

func findings(n int) string {
	if n == 1 {
		return "1 finding changes"
	}
	return fmt.Sprintf("%d findings change", n)
}
