//go:build outside

package compare

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/unit"
)

// program is an integer program in CPLEX LP form, written from the words of the
// question alone: it shares no code with the search.
type program struct {
	cost    map[string]int64
	rows    []string
	names   []string
	general []string // whole numbers that are not only 0 or 1
}

func (p *program) add(name string, cost int64) string {
	if _, ok := p.cost[name]; !ok {
		p.names = append(p.names, name)
	}
	p.cost[name] += cost
	return name
}

func (p *program) row(format string, args ...any) {
	p.rows = append(p.rows, fmt.Sprintf(" r%d: "+format, append([]any{len(p.rows)}, args...)...))
}

func (p *program) String() string {
	var obj []string
	for _, n := range p.names {
		obj = append(obj, fmt.Sprintf("%d %s", p.cost[n], n))
	}
	return "Minimize\n obj: " + strings.Join(obj, "\n + ") + "\nSubject To\n" + strings.Join(p.rows, "\n") + p.kinds() + "\nEnd\n"
}

func (p *program) kinds() string {
	var yesNo []string
	for _, n := range p.names {
		if !slices.Contains(p.general, n) {
			yesNo = append(yesNo, n)
		}
	}
	out := "\nBinary\n " + strings.Join(yesNo, "\n ")
	if len(p.general) > 0 {
		out += "\nGeneral\n " + strings.Join(p.general, "\n ")
	}
	return out
}

// costParts is how many of its units are one minor unit: thousandths of minutes times minor units an
// hour are whole.
const costParts = 60000

// integerProgram: x a treatment of a finding, y a line that is cut, p a part
// that is off, a an alternative that is off, z a joint that is open, l a part
// that is lost, t a task, n packs of a material.
func integerProgram(in Input) *program {
	p := &program{cost: map[string]int64{}}
	b := in.Body
	rate := map[body.SkillID]int64{}
	for _, r := range in.Shop.Rates {
		rate[r.Skill] = int64(r.Hour.Minor)
	}
	work := func(skill body.SkillID, minutes float64) int64 { return int64(math.Round(minutes*1000)) * rate[skill] }
	money := func(m unit.Money) int64 { return int64(m.Minor) * costParts }
	treatment := map[body.TreatmentKind]body.Treatment{}
	for _, t := range b.Treatments {
		treatment[t.Kind] = t
	}
	used := map[body.MaterialID][]string{}
	// steps is what the steps of a treatment cost along a length; what they use is put to who does them.
	steps := func(t body.Treatment, mm float64, who string) int64 {
		sum, takes := int64(0), map[body.MaterialID]float64{}
		for _, st := range t.Steps {
			sum += work(st.Skill, float64(st.Fixed)+float64(st.PerMetre)*mm/1000)
			for _, u := range st.Uses {
				takes[u.Material] += u.Each.Value + u.PerMetre.Value*mm/1000
			}
		}
		for _, m := range b.Materials {
			if v := takes[m.ID]; v > 0 {
				used[m.ID] = append(used[m.ID], fmt.Sprintf("- %.9f %s", v*(1+float64(m.Waste))/m.Pack.Value, who))
			}
		}
		return sum
	}
	needs := func(who string, t body.Treatment) {
		for _, id := range t.Requires {
			p.row("t_%s - %s >= 0", id, who)
		}
	}
	for _, t := range b.Tasks {
		p.add("t_"+string(t.ID), work(t.Step.Skill, float64(t.Step.Fixed)))
	}
	for _, l := range b.Lines {
		t := treatment[body.SectionOff]
		piece, _ := b.Part(l.Piece)
		needs(p.add("y_"+string(l.ID), steps(t, 0, "y_"+string(l.ID))+money(piece.Price)), t)
	}
	entry := func(who, to string) {
		for k, a := range b.Access {
			if a.To != to {
				continue
			}
			var alts []string
			for i, alt := range a.Needs {
				n := p.add(fmt.Sprintf("a_%d_%d", k, i), 0)
				alts = append(alts, n)
				for _, part := range alt {
					p.row("p_%s - %s >= 0", part, n)
				}
			}
			p.row("%s - %s >= 0", strings.Join(alts, " + "), who)
		}
	}
	for i, f := range in.Decide.Findings {
		var ways []string
		for _, o := range f.Options {
			if o.Kind == body.SectionOff {
				ways = append(ways, "y_"+string(o.Line))
				continue
			}
			t := treatment[o.Kind]
			x := fmt.Sprintf("x_%s_%s", f.ID, t.ID)
			p.add(x, steps(t, in.Inspect.Findings[i].Length.MM, x))
			ways = append(ways, x)
			needs(x, t)
			entry(x, string(in.Inspect.Findings[i].Zones[0].Zone))
		}
		p.row("%s >= 1", strings.Join(ways, " + "))
	}
	for _, part := range b.Parts[4:] {
		n := p.add("p_"+string(part.ID), work(part.Skill, float64(part.Off+part.On)))
		p.add("l_"+string(part.ID), money(part.Price))
		entry(n, string(part.ID))
	}
	for _, j := range b.Joints {
		z := p.add("z_"+string(j.ID), work(j.Skill, float64(j.Open+j.Refit)))
		for _, l := range j.Layers {
			p.row("%s - p_%s >= 0", z, l)
		}
		for _, d := range j.Destroys {
			p.row("p_%s - %s >= 0", d, z)
			p.row("l_%s - %s >= 0", d, z)
		}
	}
	for _, m := range b.Materials {
		if len(used[m.ID]) > 0 {
			n := p.add("n_"+string(m.ID), money(m.Price))
			p.general = append(p.general, n)
			p.row("%s %s >= 0", n, strings.Join(used[m.ID], "\n "))
		}
	}
	return p
}

// least is what a solver finds for the cheapest choice, in minor units.
func (p *program) least(t *testing.T, solver string) unit.Minor {
	t.Helper()
	return unit.Minor(math.Round(float64(p.solve(t, solver)) / costParts))
}

// solve has a solver minimise the program.
func (p *program) solve(t *testing.T, solver string) int64 {
	t.Helper()
	dir := t.TempDir()
	file, out := filepath.Join(dir, "p.lp"), filepath.Join(dir, "p.out")
	if err := os.WriteFile(file, []byte(p.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	args, form := []string{"--lp", file, "-o", out}, regexp.MustCompile(`Objective:\s+obj = ([0-9.e+]+)`)
	if solver == "cbc" {
		args, form = []string{file, "ratio", "0", "solve", "solution", out, "quit"}, regexp.MustCompile(`objective value\s+([0-9.e+]+)`)
	}
	if msg, err := exec.Command(solver, args...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, msg)
	}
	text, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	m := form.FindSubmatch(text)
	if m == nil {
		t.Fatalf("%s says nothing:\n%s", solver, text)
	}
	v, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		t.Fatal(err)
	}
	return int64(v + 0.5)
}

// TestOutsideRoutesAgainstIntegerProgramSeeds: the cheapest route costs what GLPK
// and CBC find for the same question put as an integer program.
func TestOutsideRoutesAgainstIntegerProgramSeeds(t *testing.T) {
	for seed := range uint64(40) {
		in := randomShared(seed, 4+int(seed%4))
		r, _ := Routes(in)
		got := cheapest(r)
		p := integerProgram(in)
		for _, solver := range []string{"glpsol", "cbc"} {
			if want := p.least(t, solver); want != got {
				t.Errorf("seed %d: cheapest route %d, %s finds %d", seed, got, solver, want)
			}
		}
		if slices.ContainsFunc(r.Routes, func(x Route) bool { return x.Feasible && x.ID != lossID && !x.Plan.OpeningProven }) {
			t.Errorf("seed %d: an opening is not proven", seed)
		}
	}
}

// spent is the processor time of this process, or of its children.
func spent(t *testing.T, who int) time.Duration {
	t.Helper()
	var r syscall.Rusage
	if err := syscall.Getrusage(who, &r); err != nil {
		t.Fatal(err)
	}
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}

// TestOutsideChoiceOf200FindingsSeeds: 200 findings with more than 600 treatments:
// the cheapest route costs what CBC finds, and is proven. The processor times of both
// are told and not judged; that of fettle includes planning and dating every route.
func TestOutsideChoiceOf200FindingsSeeds(t *testing.T) {
	for seed := range uint64(2) {
		in := randomShared(seed, 200)
		treatments := 0
		for _, f := range in.Decide.Findings {
			treatments += len(f.Options)
		}
		before := spent(t, syscall.RUSAGE_SELF)
		r, notes := Routes(in)
		own := spent(t, syscall.RUSAGE_SELF) - before
		before = spent(t, syscall.RUSAGE_CHILDREN)
		want := integerProgram(in).least(t, "cbc")
		cbc := spent(t, syscall.RUSAGE_CHILDREN) - before
		if got := cheapest(r); got != want {
			t.Errorf("seed %d: cheapest route %d, cbc finds %d", seed, got, want)
		}
		for _, n := range notes {
			if n.Code == "compare.mix-not-proven" {
				t.Errorf("seed %d: %s", seed, n.Text)
			}
		}
		t.Logf("seed %d: %d treatments, %d routes in %v, cbc %v for the cheapest alone", seed, treatments, len(r.Routes), own, cbc)
	}
}

// TestOutsideChosenTogether: where the search by findings stops early, what the
// treatments chosen together cost is what GLPK and CBC find.
func TestOutsideChosenTogether(t *testing.T) {
	in := randomShared(24, 12)
	for i := range in.Decide.Findings { // no lines: one candidate
		in.Decide.Findings[i].Options = slices.DeleteFunc(in.Decide.Findings[i].Options, func(o decide.Option) bool { return o.Kind == body.SectionOff })
	}
	r, _ := Routes(in)
	for _, solver := range []string{"glpsol", "cbc"} {
		if want := integerProgram(in).least(t, solver); cheapest(r) != want || want != 102000 {
			t.Errorf("cheapest route %d, %s finds %d", cheapest(r), solver, want)
		}
	}
}

// TestOutsideLargeJobs: the constants of the large jobs are what CBC finds, and over random jobs with
// packs what is chosen together costs what CBC and GLPK find, storage left out.
func TestOutsideLargeJobs(t *testing.T) {
	for _, x := range largeJobs {
		if want := integerProgram(randomPacked(x.seed, x.findings)).least(t, "cbc"); want != x.least {
			t.Errorf("%d findings, seed %d: CBC finds %d, not %d", x.findings, x.seed, want, x.least)
		}
		judgeLarge(t, x.findings, x.seed, x.least)
	}
	for seed := range uint64(draws(10, 60)) {
		in := randomPacked(seed, 8+int(seed%3)*6)
		in.Shop.Storage, in.Shop.Taxes = unit.Money{}, nil
		r, _ := Routes(in)
		p := integerProgram(in)
		for _, solver := range []string{"cbc", "glpsol"} {
			if want, got := p.least(t, solver), cheapest(r); got < want-3 || got > want+3 {
				t.Errorf("seed %d: cheapest route %d, %s finds %d", seed, got, solver, want)
			}
		}
	}
}

// TestOutsideTimeOfLargeJobs tells the processor time of large jobs, and the part of their subsets
// whose money is proven, storage left out; the limit is that of a job of 120 findings in the field.
func TestOutsideTimeOfLargeJobs(t *testing.T) {
	for _, findings := range []int{20, 120} {
		var all []time.Duration
		for seed := range uint64(draws(2, 10)) {
			in := randomPacked(100+seed, findings)
			before := spent(t, syscall.RUSAGE_SELF)
			_, notes := Routes(in)
			all = append(all, spent(t, syscall.RUSAGE_SELF)-before)
			open := 0
			for _, n := range notes {
				if n.Code == "compare.mix-not-proven" {
					open++
				}
			}
			t.Logf("%d findings, seed %d: %.2f s, %d of 4 subsets proven", findings, 100+seed, all[seed].Seconds(), 4-open)
		}
		slices.Sort(all)
		if m := all[len(all)-1]; m > 10*time.Second {
			t.Errorf("%d findings: %v", findings, m)
		}
		t.Logf("%d findings: least %.2f s, median %.2f s, most %.2f s", findings, all[0].Seconds(), all[len(all)/2].Seconds(), all[len(all)-1].Seconds())
	}
}
