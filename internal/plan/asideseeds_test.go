package plan

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// stander is a vehicle that stands in a bay of its own and wants another one next.
type stander struct {
	wants int  // bay; its own: none other
	left  bool // something is left to be done where it stands, before
	back  bool // and after
	rolls bool
}

// wayCase is 2 to 4 vehicles of a drawn shop, and up to one that stands nowhere.
type wayCase struct {
	sh   *shop.Shop
	all  []stander
	jobs []InShop
}

func drawWays(seed uint64) wayCase {
	rng := rand.New(rand.NewPCG(seed, 1618))
	c := wayCase{sh: weekShop()}
	n := 2 + rng.IntN(3)
	bays := n + rng.IntN(2)
	c.sh.Bays = nil
	for k := range bays {
		c.sh.Bays = append(c.sh.Bays, shop.Bay{ID: fmt.Sprintf("B%d", k+1), Kind: shopKind(k), Name: fmt.Sprintf("Bay %d", k+1), In: unit.Minutes(1 + rng.IntN(20)), Out: unit.Minutes(1 + rng.IntN(20))})
	}
	c.sh.Rates = []shop.Rate{{Skill: "body", Hour: unit.Money{Minor: unit.Minor(5000 + rng.IntN(9000)), Currency: "EUR"}}}
	if rng.IntN(5) > 0 {
		c.sh.Moving = &shop.Moving{Skill: "body"}
		if rng.IntN(3) == 0 {
			c.sh.Moving.Carry = &shop.Carry{More: unit.Minutes(rng.IntN(15))}
		}
	}
	to := rng.Perm(n)
	for k := range n {
		s := stander{wants: to[k], left: rng.IntN(3) == 0, back: rng.IntN(3) == 0, rolls: rng.IntN(2) == 0}
		if rng.IntN(5) == 0 {
			s.wants = rng.IntN(bays)
		}
		steps := []Step{{Name: "Begun", Bay: shopKind(k), Minutes: 60}}
		if s.left {
			steps = append(steps, Step{Name: "Rest", Bay: shopKind(k), Minutes: float64(10 + rng.IntN(50))})
		}
		if s.wants != k {
			steps = append(steps, Step{Name: "Next", Bay: shopKind(s.wants), Minutes: float64(10 + rng.IntN(90))})
			if s.back {
				steps = append(steps, Step{Name: "Back", Bay: shopKind(k), Minutes: 20})
			}
		}
		j := bayJob(fmt.Sprintf("J%d", k+1), steps...)
		j.Job.Actuals = []job.Actual{{Step: "Begun", Minutes: 60, On: monday(0), By: "A"}}
		if !s.rolls {
			j.Plan.Stills = []Still{{Name: "Subframe is off", From: []string{"S-1"}, To: []string{"S-9"}}}
		}
		c.all, c.jobs = append(c.all, s), append(c.jobs, j)
	}
	c.jobs = append(c.jobs, bayJob("JX", Step{Name: "Paint", Minutes: 30}))
	return c
}

func shopKind(k int) body.BayKind { return body.BayKind(fmt.Sprintf("kind %d", k+1)) }

// waysJudge says what the documents make of it: which vehicles have dates, and the least minutes
// of moving. It follows who waits for whose bay.
func (c wayCase) waysJudge() (dated []bool, minutes int, asked bool) {
	n := len(c.all)
	next := func(k int) int { // who stands in the bay it wants; -1: nobody
		if w := c.all[k].wants; w != k && w < n {
			return w
		}
		return -1
	}
	stuck := make([]bool, n)
	seen := make([]bool, n)
	for k := range n {
		path := []int{}
		at := k
		for at >= 0 && !slices.Contains(path, at) {
			path, at = append(path, at), next(at)
		}
		if at < 0 {
			continue
		}
		circle := path[slices.Index(path, at):]
		least := -1
		for _, i := range circle {
			m := c.sh.Moving
			if m == nil || !c.all[i].rolls && m.Carry == nil {
				continue
			}
			took, more := int(c.sh.Bays[i].Out), 0
			if !c.all[i].rolls {
				more = int(m.Carry.More)
			}
			if took += more; c.all[i].left {
				took += int(c.sh.Bays[i].In) + more
			}
			if least < 0 || took < least {
				least = took
			}
		}
		if least < 0 {
			stuck[k] = true
		} else if asked = true; !seen[slices.Min(circle)] {
			seen[slices.Min(circle)] = true
			minutes += least
		}
	}
	for k := range n {
		dated = append(dated, !stuck[k])
	}
	return dated, minutes, asked
}

var moveWords = regexp.MustCompile(`: (\d+) min, ([\d.]+) EUR at the shop's rate`)

// weekFaults holds a week against it.
func (c wayCase) weekFaults(w Week, notes []diag.Note) []string {
	var bad []string
	fault := func(format string, args ...any) { bad = append(bad, fmt.Sprintf(format, args...)) }
	dated, minutes, _ := c.waysJudge()
	told := 0
	for _, n := range notes {
		if n.Code != "week.move-aside" {
			continue
		}
		m := moveWords.FindStringSubmatch(n.Text)
		if m == nil {
			fault("no minutes and price: %s", n.Text)
			continue
		}
		took, _ := strconv.Atoi(m[1])
		told += took
		rate := int64(c.sh.Rates[0].Hour.Minor)
		cents := (rate*int64(took)*2 + 60) / 120
		if want := fmt.Sprintf("%d.%02d", cents/100, cents%100); m[2] != want {
			fault("%d min cost %s, want %s", took, m[2], want)
		}
		if took == 0 {
			fault("moved in no time: %s", n.Text)
		}
	}
	if told != minutes {
		fault("%d min of moving, want %d", told, minutes)
	}
	moved := 0
	for _, s := range w.Steps {
		if s.Move != nil {
			moved += int(s.To.Sub(s.From).Minutes())
		}
	}
	if moved != minutes {
		fault("%d min of moves are planned, want %d", moved, minutes)
	}
	for k, ok := range dated {
		id := c.jobs[k].Job.ID
		if ok == w.Jobs[k].Finish.IsZero() && w.Jobs[k].Left > 0 {
			fault("%s has a date: %v, want %v: %s", id, !ok, ok, w.Jobs[k].Because)
		}
		if named := strings.Contains(noted(notes, "week.in-the-way"), id); named == ok {
			fault("%s stands in the way: told %v, want %v", id, named, !ok)
		}
		c.placeFaults(k, ok, w, fault)
	}
	if startOfStep(w, "JX", "Paint").IsZero() {
		fault("JX needs no bay and has no date")
	}
	return bad
}

func startOfStep(w Week, id, name string) time.Time {
	for _, s := range w.Steps {
		if s.Job == id && s.Name == name {
			return s.From
		}
	}
	return time.Time{}
}

// placeFaults: every step once and in order, and no two vehicles in one bay.
func (c wayCase) placeFaults(k int, dated bool, w Week, fault func(string, ...any)) {
	type stay struct {
		bay      string
		from, to time.Time
	}
	far := time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)
	of := func(k int) []stay {
		id := c.jobs[k].Job.ID
		out := []stay{{c.sh.Bays[k].ID, time.Time{}, far}}
		for _, s := range w.Steps {
			if s.Job != id {
				continue
			}
			last := &out[len(out)-1]
			switch {
			case s.Step == "OUT":
				last.to = s.From
			case s.Bay != "" && (s.Bay != last.bay || last.to != far):
				if last.to == far {
					last.to = s.From
				}
				out = append(out, stay{s.Bay, s.From, far})
			}
		}
		last := &out[len(out)-1]
		if dated { // when all is done there it is parked
			last.to = time.Time{}
			for _, s := range w.Steps {
				if s.Job == id && s.Bay == last.bay {
					last.to = s.To
				}
			}
		}
		return out
	}
	var names []string
	for _, s := range w.Steps {
		if s.Job == c.jobs[k].Job.ID && s.Move == nil {
			names = append(names, s.Name)
		}
	}
	var want []string
	for _, s := range c.jobs[k].Plan.Steps[1:] {
		want = append(want, s.Name)
	}
	if !dated {
		want = nil
	}
	if !slices.Equal(names, want) {
		fault("%s: planned are %v, want %v", c.jobs[k].Job.ID, names, want)
	}
	for o := range k {
		for _, a := range of(k) {
			for _, b := range of(o) {
				if a.bay == b.bay && a.from.Before(b.to) && b.from.Before(a.to) {
					fault("%s and %s stand in %s at once: from %s to %s, from %s to %s", c.jobs[k].Job.ID, c.jobs[o].Job.ID, a.bay, a.from, a.to, b.from, b.to)
				}
			}
		}
	}
}

// Vehicles that stand in one another's bays, in circles of two to four and in queues before them:
// one of each circle is moved, the cheapest that can be, and only those have no dates that wait for
// a circle of which none can be moved.
func TestVehiclesInOneAnothersWaySeeds(t *testing.T) {
	told, circles, none := 0, 0, 0
	for seed := range uint64(draws(40, 500)) {
		c := drawWays(seed)
		dated, minutes, _ := c.waysJudge()
		if minutes > 0 {
			circles++
		}
		if slices.Contains(dated, false) {
			none++
		}
		w, notes := WeekOf(c.sh, c.jobs, monday(1))
		for _, why := range c.weekFaults(w, notes) {
			if told++; told < 12 {
				t.Errorf("seed %d (%+v, moving %+v): %s", seed, c.all, c.sh.Moving, why)
			}
		}
	}
	if circles < 3 || none < 3 {
		t.Errorf("only %d weeks with moves, %d with vehicles that cannot be moved", circles, none)
	}
}
