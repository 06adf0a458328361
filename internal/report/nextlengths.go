package report

import (
	"cmp"
	"fmt"
	"html/template"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/unit"
)

// LengthsInput is what the page of lengths to take next is made from.
type LengthsInput struct {
	Body  *body.Body
	Job   *job.State
	Stage job.Stage
	Next  measure.NextLengths
	Meta  Meta
}

// lengthsPage is what its template is filled with.
type lengthsPage struct {
	CSS        template.CSS
	Head       head
	Stage, VIN string
	Lead       []string
	Rows       []nextRow
}

type nextRow struct {
	No                                                int
	From, FromName, To, ToName, Nominal, Allowed, For string
}

// LengthsHTML is one page to be printed, with a table to be filled in by hand: which
// lengths to take next.
func LengthsHTML(in LengthsInput) ([]byte, error) {
	css, err := pages.ReadFile("page/lengths.css")
	if err != nil {
		return nil, err
	}
	doc := lengthsPage{CSS: template.CSS(css), Stage: string(cmp.Or(in.Stage, job.StageBefore)), VIN: or(in.Job.Vehicle.VIN, "not given"), Lead: nextLead(in.Next), Rows: nextRows(in.Body.Points, in.Next)}
	doc.Head = head{Title: "Lengths to take next, job " + in.Job.ID, Job: in.Job.ID, Made: in.Meta.Made.Format("2 Jan 2006 15:04"), Program: "fettle " + or(in.Meta.Version, "of unknown version"),
		Invented: in.Body.Invented || in.Job.Invented}
	return made("lengths.html", doc)
}

// nextLead is what the lengths would settle, in sentences.
func nextLead(n measure.NextLengths) []string {
	if len(n.Rows) == 0 {
		out := "No further length of this gauge would give a point a place or decide its tolerance."
		if len(n.Open) > 0 {
			out += " Open: " + list(texts(n.Open), 12) + "."
		}
		return []string{out}
	}
	out := []string{fmt.Sprintf("With a gauge that reads one length to ± %s (k = 2), and every length as published:", mm(expanded(n.StdMM)))}
	say := func(ids []body.PointID, what string) {
		if len(ids) > 0 {
			out[0] += " " + list(texts(ids), 12) + " " + what + "."
		}
	}
	say(n.Placed, "would get a place")
	say(n.Decided, "would be shown within tolerance, on four of five sound vehicles")
	if len(n.Placed)+len(n.Decided) == 0 {
		out[0] += " no point more would be settled, but a wrong reading would show."
	}
	if len(n.Open) > 0 {
		out = append(out, "Open all the same: "+list(texts(n.Open), 12)+".")
	}
	return out
}

func nextRows(points []body.Point, n measure.NextLengths) []nextRow {
	name := map[body.PointID]string{}
	for _, p := range points {
		name[p.ID] = p.Name
	}
	var out []nextRow
	for i, l := range n.Rows {
		row := nextRow{No: i + 1, From: string(l.From), FromName: name[l.From], To: string(l.To), ToName: name[l.To], Nominal: unit.Fixed(l.NominalMM, 1),
			Allowed: leeway(measure.LengthCheck{NominalMM: l.NominalMM, Limit: l.Limit}), For: string(l.For)}
		switch l.Why {
		case measure.NextAgain:
			row.For = "read again"
		case measure.NextFrame:
			row.For = "frame"
		case measure.NextCheck:
			row.For = "check"
		}
		out = append(out, row)
	}
	return out
}

// LengthsText is the same for a terminal of the given width.
func LengthsText(points []body.Point, n measure.NextLengths, width int) string {
	t := &textPage{width: width}
	for _, s := range nextLead(n) {
		t.para(s)
	}
	rows := nextRows(points, n)
	if len(rows) == 0 {
		return t.b.String()
	}
	const layout = "%3v  %-10s %-10s %13s %14s  %s\n"
	fmt.Fprintf(&t.b, "\n"+layout, "", "from", "to", "published mm", "allowed mm", "for")
	for _, r := range rows {
		fmt.Fprintf(&t.b, layout, r.No, r.From, r.To, r.Nominal, plainSpaces(r.Allowed), r.For)
	}
	return strings.TrimRight(t.b.String(), "\n") + "\n"
}
