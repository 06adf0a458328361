package demo

import (
	"fmt"
	"strings"
)

// LookedJob is the folder of the job as it stands after somebody has looked first, as
// the report of Job advises; Longer is the line of its job file that makes a crack
// longer, and with it the route another.
const (
	LookedJob = "looked-job"
	Longer    = "# trace_mm: [[829, -515, 380], [838, -515, 384], [846, -515.5, 389], [859, -516, 395]]"
)

// change is a text of the job file and what stands there after looking; each stands
// there once.
type change struct{ before, after string }

// looking is what looking first changes in the job: a crack and two areas, and the risks
// that hung on them.
var looking = []change{
	{"# An invented job on an invented vehicle: hit at the front left by a steel post.\n",
		"# The invented vehicle of the job beside this one after somebody has looked first: both\n" +
			"# tips of D9 and two more areas. Make D3 longer below, and the route is another one.\n#\n" +
			"# An invented job on an invented vehicle: hit at the front left by a steel post.\n"},
	{"id: DEMO-0317\n", "id: DEMO-0317-LOOKED\n"},
	{"    trace_mm: [[829, -515, 380], [838, -515, 384], [846, -515.5, 389]]\n",
		"    trace_mm: [[829, -515, 380], [838, -515, 384], [846, -515.5, 389]]\n" +
			"    # 14 mm longer, with one point more; put it in place of the line above:\n    " + Longer + "\n"},
	{`    tips: [visual, visual]
    inspection: VT1
    through: no
    seen: visual
    by: technician T1
    on: 2026-11-23
    text: Crack on the front face of the rear wall; seen with lamp and mirror only.
`, `    tips: [penetrant, penetrant]
    inspection: PT1
    through: no
    seen: penetrant
    by: technician T2
    on: 2026-11-24
    text: Crack on the front face of the rear wall; both tips shown with penetrant, from behind.
`},
	{"{area: A-KNEE-R, state: not-reachable, by: technician T1, on: 2026-11-23, text: Hidden behind the cooler pipes.}",
		"{area: A-KNEE-R, state: penetrant, inspection: PT1, by: technician T2, on: 2026-11-24, text: Cooler pipes aside.}"},
	{"{area: A-BRACE-R, state: not-yet}", "{area: A-BRACE-R, state: seen, inspection: VT1, by: technician T1, on: 2026-11-23}"},
}

// ordered is what had come and what was promised by then: adhesive with its last day of use,
// and rivets in two packs, of which one is late. All of it is there before it is needed.
const ordered = `deliveries:
  - {id: D-1, item: M-ADHESIVE, count: 1, on: 2026-11-25, at: "09:40", by: technician T1, batch: Invented 7714, use_before: 2027-01-31}
  - {id: D-2, item: M-RIVET-STRUCT, count: 1, on: 2026-11-25, at: "09:40", by: technician T1}
promises:
  - {id: PR-1, item: M-RIVET-STRUCT, count: 1, expected: 2026-12-02, on: 2026-11-25, by: planner P1, text: Parts desk of the supplier (invented); one pack was missing}
`

// settled is the risks that looking has settled.
var settled = []string{"RK-D9", "RK-KNEE", "RK-BRACE"}

// looked adds the job after looking to the files of the scenario.
func looked(files map[string][]byte) {
	for name, data := range files {
		if rest, ok := strings.CutPrefix(name, Job+"/"); ok {
			files[LookedJob+"/"+rest] = data
		}
	}
	text := string(files[Job+"/job.yaml"])
	for _, c := range looking {
		if strings.Count(text, c.before) != 1 {
			panic(fmt.Sprintf("the job of the scenario does not have once: %q", c.before)) // a fault of the build, not of data
		}
		text = strings.ReplaceAll(text, c.before, c.after)
	}
	for _, id := range settled {
		text = without(text, "  - id: "+id+"\n")
	}
	files[LookedJob+"/job.yaml"] = []byte(strings.TrimRight(text, "\n") + "\n" + ordered)
}

// without leaves out the entry of a list that begins with a line.
func without(text, first string) string {
	before, rest, found := strings.Cut(text, first)
	if !found {
		panic(fmt.Sprintf("the job of the scenario does not have: %q", first)) // a fault of the build, not of data
	}
	lines := strings.SplitAfter(rest, "\n")
	for len(lines) > 0 && strings.HasPrefix(lines[0], "    ") {
		lines = lines[1:]
	}
	return before + strings.Join(lines, "")
}
