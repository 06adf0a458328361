package report

import (
	"encoding/base64"
	"html/template"
	"strings"

	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/inspect"
)

// Photo is evidence that goes with a question. One that is no picture is named
// with its hash and not shown.
type Photo struct {
	ID, File, Text, SHA256 string
	Media                  string // "image/jpeg", "image/png"; empty: not shown
	Note                   string // what is to be known of it as it is shown
	Data                   []byte
	Why                    string   // why it is not shown
	For                    []string // findings and inspections it is evidence of
}

type questionPage struct {
	CSS      template.CSS
	Defs     template.HTML
	Head     head
	ID       string
	Finding  string
	State    string
	Lines    []string // before the list
	Facts    []string
	Rows     []string // what the table says
	Heading  string   // over the rows
	Ask      []string // after them
	Casting  castingView
	Evidence []photoView
}

type photoView struct {
	ID, File, Text, SHA256 string
	Image                  template.URL
	Note, Why, For         string
}

// shown is a photo as a page has it: the picture is in the page.
func shown(f Photo) photoView {
	v := photoView{f.ID, f.File, f.Text, f.SHA256, "", f.Note, f.Why, list(f.For, 6)}
	if f.Media != "" {
		v.Image = template.URL("data:" + f.Media + ";base64," + base64.StdEncoding.EncodeToString(f.Data))
	}
	return v
}

// QuestionHTML is a question to the manufacturer as one self-contained page:
// its text, the drawing of the finding and the photos.
func QuestionHTML(in Input, q decide.Question, photos []Photo) ([]byte, error) {
	if err := complete(in); err != nil {
		return nil, err
	}
	in.Vehicle = in.Vehicle.While(in.Work)
	css, err := styleOf("report.css")
	if err != nil {
		return nil, err
	}
	p := questionPage{CSS: css, Defs: template.HTML(hatchDefs + mapDefs(in)), Head: buildHead(in), ID: q.ID, Finding: string(q.Finding), State: questionState(q, missingOf(in, q))}
	p.Head.Title = "Question " + q.ID
	p.split(q.Text)
	if q.Point != "" {
		p.Finding = string(q.Point)
	}
	one := in
	one.Inspect.Findings = []inspect.Finding{findingByID(in.Inspect, q.Finding)}
	for _, c := range in.Body.Castings {
		if c.ID != one.Inspect.Findings[0].Casting {
			continue
		}
		if p.Casting, err = castingViewOf(one, c, nil, closeAlone); err != nil {
			return nil, err
		}
	}
	for _, f := range photos {
		p.Evidence = append(p.Evidence, shown(f))
	}
	html, err := made("question.html", p)
	if err != nil {
		return nil, &diag.Error{Kind: diag.Internal, Op: "question", Subject: q.ID, Msg: "the page could not be made", Err: err}
	}
	return html, nil
}

// split takes the text of a question apart: what is known, and under a heading
// of its own what the table says.
func (p *questionPage) split(text string) {
	for _, l := range strings.Split(text, "\n") {
		point, ok := strings.CutPrefix(l, "- ")
		switch {
		case ok && p.Heading == "":
			p.Facts = append(p.Facts, point)
		case ok:
			p.Rows = append(p.Rows, point)
		case strings.HasSuffix(l, ":"):
			p.Heading = l
		case len(p.Facts) == 0:
			p.Lines = append(p.Lines, l)
		default:
			p.Ask = append(p.Ask, l)
		}
	}
}

func questionState(q decide.Question, missing []string) string {
	s := string(q.State)
	if !q.Asked.IsZero() {
		s += "; sent on " + day(q.Asked)
	}
	if !q.Answer.IsZero() {
		s += "; answered on " + day(q.Answer) + " by " + or(q.By, "nobody named")
	}
	if len(missing) > 0 {
		s += "; data are missing still: " + strings.Join(missing, " ")
	}
	return s
}
