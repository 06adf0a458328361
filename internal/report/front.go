package report

import "slices"

// frontPart is the first page: what vehicle, what blocks, and the seven
// answers.
type frontPart struct {
	Job, Shop, Author, Opened, Made       string
	Body, VIN, Built, Odometer            string
	Value, Salvage, Impact, Load, Battery string
	Invented                              bool
	Blocks                                []block
	MoreBlocks                            int
	Hazards                               []hazardRow
	Answers                               []answer
	Findings                              frontFindings
	Next                                  []string // what to do next: the first of it
	Later                                 []string // the rest, on the second page
	LaterFrom                             int      // the number of the first of the rest
	Dense                                 bool     // much to say: smaller type, so that the answers stay on one page
}

type block struct{ Where, Text, Hint string }

type hazardRow struct {
	Title, Text, State string
	Word               word
}

// answer is one of the seven.
type answer struct {
	N        int
	Question string
	Word     word
	Text     string
	Lines    []string
}

// most is how much of a list fits on the first page, mostBlocks how many reasons,
// mostNext how many of the things to do next. Where there is much to say, denseRows and denseNext
// are how many findings and things to do next.
const (
	most       = 8
	mostBlocks = 5
	mostNext   = 6
	denseRows  = 8
	denseNext  = 4
)

func buildFront(in Input, p pick) (frontPart, error) {
	v := in.Job.Vehicle
	f := frontPart{Job: in.Job.ID, Shop: in.Shop.Name, Author: in.Job.Author, Opened: day(in.Job.Opened), Made: in.Meta.Made.Format("Mon 2 Jan 2006 15:04 MST"),
		Body: in.Body.Name, VIN: v.VIN, Built: day(v.Built),
		Odometer: odometerText(v.Odometer), Value: money(v.Value.Minor, v.Value.Currency), Salvage: money(v.Salvage.Minor, v.Salvage.Currency),
		Impact: string(in.Job.Impact.From) + ". " + sentence(in.Job.Impact.Text), Load: v.LoadState, Battery: or(string(v.Battery), "not said"),
		Invented: in.Body.Invented || in.Job.Invented || in.Shop.Invented}
	f.Blocks = blocks(in)
	if len(f.Blocks) > mostBlocks {
		f.MoreBlocks = len(f.Blocks) - mostBlocks
		f.Blocks = f.Blocks[:mostBlocks]
	}
	f.Hazards = hazardRows(in)
	f.Answers = answers(in, p)
	f.Next = nextSteps(in, p)
	f.nextMost(mostNext)
	var err error
	if f.Findings, err = buildFrontFindings(in, mostRows); err != nil {
		return f, err
	}
	if f.Dense = frontLines(f) > frontRoom; f.Dense {
		f.nextMost(denseNext)
		if len(f.Findings.Rows) > denseRows {
			if f.Findings, err = buildFrontFindings(in, denseRows); err != nil {
				return f, err
			}
		}
	}
	f.Findings.Cuts = cutsText(in, f)
	frontNamesOf(in).place(&f)
	return f, nil
}

// nextMost leaves so many of the things to do next on the first page.
func (f *frontPart) nextMost(n int) {
	if all := append(slices.Clone(f.Next), f.Later...); len(all) > n {
		f.Next, f.Later, f.LaterFrom = all[:n], all[n:], n+1
	}
}

// hazardRows is the dangers of the vehicle with their state.
func hazardRows(in Input) []hazardRow {
	var out []hazardRow
	for _, h := range in.Job.Hazards {
		title, text := cautionText(h.Kind)
		row := hazardRow{Title: title, Text: sentence(h.Text) + " " + text, Word: word{"not made safe yet", toneBad}}
		if why := unsafe(in, h); why != "" && h.Cleared {
			row.State = why
		} else if why == "" {
			row.State = "by " + or(h.By, "nobody named") + ", " + day(h.On)
			row.Word = word{"made safe", toneGood}
		}
		out = append(out, row)
	}
	return out
}

// frontRoom is how many lines of text the first page of a Letter sheet has
// beside its headings in normal type (tried with print).
const frontRoom = 35

// frontLines is a guess of the lines that reasons and answers take.
func frontLines(f frontPart) int {
	n := 0
	lines := func(s string, width int) int { return (len([]rune(s)) + width - 1) / width }
	if len(f.Blocks) > 0 {
		n = 2
	}
	for _, b := range f.Blocks {
		n += lines(b.Where+b.Text+b.Hint, 105)
	}
	n += len(f.Findings.Rows) + 1
	for _, s := range f.Next {
		n += lines(s, 120)
	}
	for _, a := range f.Answers {
		n += lines(a.Text, 110)
		half := 0
		for _, l := range a.Lines {
			half += lines(l, 52)
		}
		n += (half + 1) / 2
	}
	return n
}

// blocks is what stops the repair: every blocking note, every danger not made
// safe and, should none of them say so, the decision itself.
func blocks(in Input) []block {
	var out []block
	told := map[string]bool{}
	for _, n := range in.Notes {
		if n.Blocks() {
			out = append(out, block{n.Where, sentence(n.Text), sentence(n.Hint)})
			told[n.Where] = true
		}
	}
	for _, h := range in.Job.Hazards {
		if title, _ := cautionText(h.Kind); unsafe(in, h) != "" && !told[string(h.Kind)] {
			out = append(out, block{title, unsafe(in, h) + ": " + sentence(h.Text), ""})
		}
	}
	if !in.Decide.Permits && len(out) == 0 {
		out = append(out, block{"decision", "Not every finding has a treatment that is allowed, or a procedure may not be used any more.", "See section 3."})
	}
	return out
}

// odometerText is what the odometer said, if anybody read it.
func odometerText(km float64) string {
	if km == 0 {
		return "odometer not read"
	}
	return grouped(km) + thin + "km on the clock"
}

func grouped(v float64) string {
	s := fixed(v, 0)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}
