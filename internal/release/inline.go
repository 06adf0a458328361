package release

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// markLine is indications that stand in one line.
type markLine struct {
	members []int // of those that count, ascending
	length  unit.MM
	std     unit.MM
}

// mostMarks is how many indications of one record are looked through for lines: the
// work grows with their cube. Our choice.
const mostMarks = 200

// inLine judges the indications of a record that stand in one line, where the level
// says what that is. Each line is held against the longest that is accepted; only what
// surely stands in line, with its expanded uncertainties, is refused for it, and what
// may stand in line is undecided. Indications too small to count are in no line.
func inLine(l body.Level, r job.Record, confidence float64) (Outcome, string) {
	if l.InLine == nil {
		return OutcomeAccepted, ""
	}
	var marks []job.Indication
	for _, x := range r.Indications {
		if !tooSmall(l, x) {
			marks = append(marks, x)
		}
	}
	if len(marks) < l.InLine.Least {
		return OutcomeAccepted, ""
	}
	if len(marks) > mostMarks {
		return OutcomeOpen, fmt.Sprintf("more than %d indications are not looked through for lines", mostMarks)
	}
	for _, x := range marks {
		if len(x.Ends) != 2 {
			return OutcomeOpen, "it is not known where the indications end, so it is open which of them stand in line"
		}
	}
	may := worstLine(l, markLines(l, marks, 1), confidence)
	if may.outcome == OutcomeRefused && worstLine(l, markLines(l, marks, -1), confidence).outcome != OutcomeRefused {
		return OutcomeOpen, may.text + "; but it is not sure that they stand in line: measure where they end better"
	}
	return may.outcome, may.text
}

// judgedLine is a line with what is said of it.
type judgedLine struct {
	outcome Outcome
	text    string
}

// worstLine is the line that fares worst, of equals the longest.
func worstLine(l body.Level, lines []markLine, confidence float64) judgedLine {
	var longest unit.MM
	worst := judgedLine{outcome: OutcomeAccepted}
	better := []Outcome{OutcomeAccepted, OutcomeOpen, OutcomeRefused}
	for _, x := range lines {
		o := within(float64(l.InLine.Longest), float64(x.length), float64(x.std), confidence)
		if by := slices.Index(better, o) - slices.Index(better, worst.outcome); by < 0 || by == 0 && x.length <= longest {
			continue
		}
		longest = x.length
		worst = judgedLine{o, fmt.Sprintf("%d indications stand in line over %s; level %s accepts lines up to %s", len(x.members), x.length, l.ID, l.InLine.Longest)}
	}
	return worst
}

// markLines is the indications that stand in line: through an end of one and an end of
// another goes a straight line that passes the rest no farther off than the level says;
// each hangs together with the others by gaps no longer than it says; and there are as
// many as it says. With sign 1 the expanded uncertainties are taken as if they stood
// nearer, with -1 farther. Lines that lie within another are left out.
//
// A gap is that of two rectangles (between); the line is as long as its farthest ends
// are apart, rounded up to a tenth of a millimetre.
func markLines(l body.Level, marks []job.Indication, sign float64) []markLine {
	var sets [][]int
	for i := range marks {
		for k := i + 1; k < len(marks); k++ {
			for _, p := range marks[i].Ends {
				for _, q := range marks[k].Ends {
					if set := lineThrough(l, marks, i, k, p, q, sign); set != nil {
						sets = append(sets, set)
					}
				}
			}
		}
	}
	slices.SortFunc(sets, slices.Compare)
	sets = slices.CompactFunc(sets, slices.Equal)
	var out []markLine
	for i, s := range sets {
		if !slices.ContainsFunc(sets, func(o []int) bool { return len(o) > len(sets[i]) && holds(o, s) }) {
			out = append(out, newMarkLine(marks, s))
		}
	}
	return out
}

// holds says that an ascending list has all of another.
func holds(all, some []int) bool {
	for _, x := range some {
		if _, ok := slices.BinarySearch(all, x); !ok {
			return false
		}
	}
	return true
}

// lineThrough is the indications that hang together with i and k along the line from p
// to q, ends of the two; none where i and k do not hang together, or where they are too
// few. Others that the line passes by are in no line for that: it is not one of theirs.
// Where the two touch in p and q there is no line, and that through other ends has it all.
func lineThrough(l body.Level, marks []job.Indication, i, k int, p, q geom.Vec, sign float64) []int {
	along := q.Sub(p).Unit()
	var in []int // along the line and not in the set
	for m, x := range marks {
		slack := float64(2 * sign * float64(x.Std+marks[i].Std+marks[k].Std))
		if m == k || m != i && besideLine(x, p, along) <= float64(l.InLine.Beside)+slack+roundingMM {
			in = append(in, m)
		}
	}
	set := []int{i}
	for n := 0; n < len(set); n++ {
		in = slices.DeleteFunc(in, func(m int) bool {
			near := chained(l.InLine, marks[set[n]], marks[m], sign)
			if near {
				set = append(set, m)
			}
			return near
		})
	}
	slices.Sort(set)
	if len(set) < l.InLine.Least || !holds(set, []int{k}) {
		return nil
	}
	return set
}

// besideLine is how far an indication lies beside a line, at its nearest.
func besideLine(x job.Indication, at, along geom.Vec) float64 {
	across := func(p geom.Vec) geom.Vec { d := p.Sub(at); return d.Sub(along.Scale(d.Dot(along))) }
	return geom.NearestOnSegment(geom.Vec{}, across(x.Ends[0]), across(x.Ends[1])).Norm()
}

// newMarkLine measures a line.
func newMarkLine(marks []job.Indication, members []int) markLine {
	out := markLine{members: members}
	var first, second unit.MM // the largest uncertainties: it hangs on two ends
	far := 0.0
	for _, i := range members {
		out.length = max(out.length, marks[i].Length)
		if s := marks[i].Std; s > first {
			first, second = s, first
		} else {
			second = max(second, s)
		}
		for _, k := range members {
			for _, p := range marks[i].Ends {
				for _, q := range marks[k].Ends {
					far = max(far, p.Dist(q))
				}
			}
		}
	}
	out.length, out.std = max(out.length, unit.MM(math.Ceil(float64(far*10)-roundingMM)/10)), first+second
	return out
}

// chained says that two indications are near enough to each other to be next in line.
func chained(l *body.InLine, x, y job.Indication, sign float64) bool {
	longer := x
	if y.Length > x.Length {
		longer = y
	}
	limit := max(float64(l.Gap), float64(l.GapTimes*(float64(longer.Length)+float64(2*sign*float64(longer.Std)))))
	return between(x, y)-float64(2*sign*float64(x.Std+y.Std)) <= limit+roundingMM
}
