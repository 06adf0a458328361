package measure

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// cell is one line of the campaign: a kind of damage.
type cell struct {
	n        int
	share    float64
	coherent bool
	size     float64
}

// tally is what happened in the runs of one cell.
type tally struct {
	runs, wrong, stable, missed, large int
	shown, best, ambiguous             int
	firmWrong                          int
	statements                         int
	inside                             int // 95 % regions of the shift against the steady block that hold it
	insideTrue                         int // 95 % regions of the place that hold where the point stands
	out, outMet, in, inNotMet          int // points out of and within tolerance, and those judged the other way
	silent                             int // points wrong or missed in a result that is not ambiguous
	fitWrong, elimWrong, robustWrong   int
	robust                             *robustFit // nil without SciPy
}

// robustFit is SciPy's robust least squares, asked case by case.
type robustFit struct {
	in  io.WriteCloser
	out *bufio.Scanner
	cmd *exec.Cmd
}

func startRobust(t *testing.T) *robustFit {
	t.Helper()
	python := os.Getenv("FETTLE_PYTHON")
	if python == "" {
		return nil
	}
	cmd := exec.Command(python, "testdata/robust.py", "soft_l1")
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return &robustFit{in, bufio.NewScanner(out), cmd}
}

// moved is what a fit with SciPy's robust loss calls moved.
func (r *robustFit) moved(t *testing.T, in Input, std float64) geom.Set {
	t.Helper()
	var c struct {
		From []geom.Vec `json:"from"`
		To   []geom.Vec `json:"to"`
		Std  float64    `json:"std"`
	}
	c.Std = std
	for i, rd := range in.Readings {
		c.From, c.To = append(c.From, in.Points[i].At()), append(c.To, geom.Vec{rd.X.Value, rd.Y.Value, rd.Z.Value})
	}
	line, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := fmt.Fprintf(r.in, "%s\n", line); err != nil {
		t.Fatal(err)
	}
	var places []int
	if !r.out.Scan() {
		t.Fatalf("SciPy gave no answer: %v", r.out.Err())
	}
	if err := json.Unmarshal(r.out.Bytes(), &places); err != nil {
		t.Fatal(err)
	}
	return geom.SetOf(places...)
}

// The campaign is run by hand: FETTLE_CAMPAIGN=runs per cell, with FETTLE_PYTHON
// set to a Python that has SciPy for the last column. Seeds follow from cell and
// run, so a line can be made again.
func TestCampaign(t *testing.T) {
	runs, err := strconv.Atoi(os.Getenv("FETTLE_CAMPAIGN"))
	if err != nil || runs <= 0 {
		t.Skip("FETTLE_CAMPAIGN is not set to a number of runs per cell")
	}
	var out strings.Builder
	out.WriteString("| points | moved | how | by mm | wrong % | missed % | truth shown % | truth first % | ambiguous % | wrong or missed, not ambiguous | firm and wrong | inside 95 %, block | inside 95 %, nominal | out, called met % | within, called not met % | best fit wrong % | elimination wrong % | SciPy soft_l1 wrong % |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n")
	robust := startRobust(t)
	firm, total := 0, 0
	for _, n := range []int{15, 20, 30, 60} {
		for _, c := range cells(n) {
			s := tally{robust: robust}
			for k := 0; k < runs; k++ {
				s.add(t, c, uint64(k))
			}
			out.WriteString(s.line(c))
			firm += s.firmWrong
			total += s.runs
		}
	}
	if robust != nil {
		if err := robust.in.Close(); err != nil {
			t.Fatal(err)
		}
		if err := robust.cmd.Wait(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("\n%s\n%d runs, %d points firm and wrong", out.String(), total, firm)
	if firm > 0 {
		t.Errorf("%d points were called firm and are wrong", firm)
	}
}

func cells(n int) []cell {
	out := []cell{{n, 0, false, 0}}
	for _, share := range []float64{0.10, 0.33, 0.45} {
		for _, size := range []float64{2, 6, 12, 30} {
			out = append(out, cell{n, share, true, size}, cell{n, share, false, size})
		}
	}
	return out
}

func (s *tally) add(t *testing.T, c cell, seed uint64) {
	t.Helper()
	car := newCar(c.n, seed*1000003+uint64(c.n)*101+uint64(c.share*100)*7+uint64(c.size))
	k := int(math.Round(c.share * float64(c.n)))
	if c.coherent {
		car.moveRear(c.share, c.size)
	} else {
		car.moveAlone(k, c.size)
	}
	in := car.measure(1.0)
	r, _ := Run(in)
	s.runs++
	if r.Ambiguous {
		s.ambiguous++
	}
	for rank, h := range r.Hypotheses {
		if car.holds(h) {
			s.shown++
			if rank == 0 {
				s.best++
			}
			break
		}
	}
	h, ok := r.Best()
	if !ok {
		return
	}
	before := s.wrong + s.missed
	s.judge(car, h)
	if !r.Ambiguous {
		s.silent += s.wrong + s.missed - before
	}
	f, e := plainMethods(in)
	s.fitWrong += car.countWrong(f)
	s.elimWrong += car.countWrong(e)
	if s.robust != nil {
		s.robustWrong += car.countWrong(s.robust.moved(t, in, 1.0))
	}
}

// holds says that the hypothesis is the truth: no point that kept its place is
// called moved by more than the false-alarm rate explains, and every point
// that moved by more than 1.5 times what is detectable is called moved.
func (c *car) holds(h Hypothesis) bool {
	alarms := 0
	for i, p := range h.Points {
		still := c.shift[i] == (geom.Vec{})
		if still && p.Moved {
			alarms++
		}
		if !still && !p.Moved && c.shift[i].Norm() > p.Detectable {
			return false
		}
	}
	return alarms <= 1
}

func (s *tally) judge(c *car, h Hypothesis) {
	for i, p := range h.Points {
		d := c.shift[i]
		still := d == (geom.Vec{})
		if still {
			s.stable++
			if p.Moved {
				s.wrong++
			}
		} else if d.Norm() > p.Detectable {
			s.large++
			if !p.Moved {
				s.missed++
			}
		}
		if p.Firm && ((still && p.Moved) || (!p.Moved && d.Norm() > 1.2*p.Detectable)) {
			s.firmWrong++
		}
	}
	if !c.holds(h) {
		return // the coverage is that of a right datum; a wrong one is counted as such
	}
	limit := geom.ChiSquareQuantile(0.05, 3)
	block := c.truthAgainst(h)
	for i, p := range h.Points {
		t, ok := geom.Mahalanobis(p.ShiftMM.Sub(block[i]), p.CovMM2)
		u, ok2 := geom.Mahalanobis(p.FromNominal.Sub(c.shift[i]), p.FromNominalCov)
		if !ok || !ok2 {
			continue
		}
		s.statements++
		if t <= limit {
			s.inside++
		}
		if u <= limit {
			s.insideTrue++
		}
		if c.shift[i].Norm() > 3 { // the limit of newCar's points
			s.out++
			if p.Tolerance == Met {
				s.outMet++
			}
		} else {
			s.in++
			if p.Tolerance == NotMet {
				s.inNotMet++
			}
		}
	}
}

// truthAgainst is the true shift of every point against the true places of the
// steady points of a hypothesis: what a measurement without error would show.
func (c *car) truthAgainst(h Hypothesis) []geom.Vec {
	var from, to []geom.Vec
	for i, p := range h.Points {
		if p.Steady {
			from, to = append(from, c.at[i]), append(to, c.at[i].Add(c.shift[i]))
		}
	}
	out := make([]geom.Vec, len(c.at))
	f, err := geom.FitRigid(from, to, nil)
	for i := range out {
		if out[i] = c.shift[i]; err == nil {
			out[i] = f.Motion.ApplyInverse(c.at[i].Add(c.shift[i])).Sub(c.at[i])
		}
	}
	return out
}

func (s *tally) line(c cell) string {
	how := "scattered"
	if c.coherent {
		how = "coherent"
	}
	if c.share == 0 {
		how = "-"
	}
	return fmt.Sprintf("| %d | %.0f %% | %s | %.0f | %.2f | %s | %.1f | %.1f | %.0f | %d | %d | %s | %s | %s | %s | %.1f | %.1f | %s |\n",
		c.n, 100*c.share, how, c.size, pc(s.wrong, s.stable), pct(s.missed, s.large), pc(s.shown, s.runs), pc(s.best, s.runs), pc(s.ambiguous, s.runs),
		s.silent, s.firmWrong, pct(s.inside, s.statements), pct(s.insideTrue, s.statements), pct(s.outMet, s.out), pct(s.inNotMet, s.in), pc(s.fitWrong, s.stable), pc(s.elimWrong, s.stable), s.robustText())
}

func (s *tally) robustText() string {
	if s.robust == nil {
		return "-"
	}
	return fmt.Sprintf("%.1f", pc(s.robustWrong, s.stable))
}

func pc(a, b int) float64 { return 100 * float64(a) / math.Max(1, float64(b)) }

func pct(a, b int) string {
	if b == 0 {
		return "-"
	}
	return fmt.Sprintf("%.1f", pc(a, b))
}

func (c *car) countWrong(moved geom.Set) int {
	n := 0
	for i := range c.shift {
		if c.shift[i] == (geom.Vec{}) && moved.Has(i) {
			n++
		}
	}
	return n
}

// plainMethods are the two customary ways: one fit over everything, and fit
// over everything with the worst point put out until the rest is congruent.
// They return what they call moved.
func plainMethods(in Input) (fit, elimination geom.Set) {
	p := prepare(in)
	e := p.locate()
	x, err := geom.NewMatcher(p.matches(e))
	if err != nil {
		return fit, elimination
	}
	var all geom.Set
	for i := range e.points {
		all.Put(i)
	}
	for round := 0; ; round++ {
		b, err := x.Evaluate(all)
		if err != nil {
			return fit, elimination
		}
		worst := -1
		for i, t := range b.T {
			if round == 0 && t > criticalPoint {
				fit.Put(i)
			}
			if all.Has(i) && (worst < 0 || t > b.T[worst]) {
				worst = i
			}
		}
		if b.T[worst] <= criticalPoint || all.Len() <= 4 {
			for i, t := range b.T {
				if t > criticalPoint {
					elimination.Put(i)
				}
			}
			return fit, elimination
		}
		all.Drop(worst)
	}
}
