package report

import (
	"math"
	"sort"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/plan"
)

// cautionText is the usual warning for a hazard, in plain words. Every one
// hands over to the maker's current procedure, to local rules and to people
// who are qualified: this document is never the authority on safety.
func cautionText(c body.Caution) (title, text string) {
	switch c {
	case body.HighVoltage:
		return "High voltage", "Contact can kill. Only a person qualified and authorised for high-voltage vehicles isolates the system, locks it off and proves it dead with an approved tester before anyone goes near. Follow the maker's current isolation procedure and local rules."
	case body.Airbag:
		return "Airbags and belt pretensioners", "They can fire without warning. Isolate and discharge the system by the maker's current procedure before unplugging, welding, hammering or heating nearby. Only trained people handle the units; store them as local rules demand."
	case body.Dust:
		return "Aluminium dust", "Fine aluminium dust can burn and explode, and must never mix with steel dust. Use tools kept for aluminium and extraction rated for it, clear dust away often, keep sparks out. Local fire and explosion rules and a person responsible for them decide."
	case body.BatteryHeat:
		return "Heat near the high-voltage battery", "Heat, sparks or weld current can damage cells, which may then burn hours later. Remove, shield or keep the distance that the maker's current procedure demands, watch the temperature, and have the fire plan ready. A qualified person decides whether work may start."
	case body.Welding:
		return "Welding", "Arc light, fumes and fire. Only a welder qualified for this alloy and process welds, after the maker's current procedure and with its test piece passed. Unplug what the maker names, screen the bay, extract the fume, keep a fire watch as local rules demand."
	case body.Chemical:
		return "Chemicals", "Skin, eyes and lungs are at risk. Read the safety data sheet of the very product in hand, wear the gloves and mask it names, ventilate, and dispose of the rest by local rules. The maker's current procedure decides which product may be used."
	case body.Lifting:
		return "Lifting", "A heavy part can crush. Weigh or look up the part, use rated lifting gear at the maker's lifting points, keep people from under it. Only people trained on the gear use it, under local rules."
	case body.Eyes:
		return "Eyes", "Chips, swarf and rivet ends fly. Everyone in the bay wears eye protection rated for the tool in use, as its maker and local rules demand."
	}
	return "Caution: " + string(c), "No usual warning is known for this hazard. Stop, and ask a qualified person before going on; the maker's current procedure and local rules decide."
}

// cautionShort is the caution for a card that is read at an arm's length; the
// warning in full is on the first card.
func cautionShort(c body.Caution) string {
	switch c {
	case body.HighVoltage:
		return "Do not touch until a qualified person has locked it off and proven it dead."
	case body.Airbag:
		return "Isolated and discharged as the maker says? If not, stop."
	case body.Dust:
		return "Aluminium tools only, rated extraction on, no sparks, no steel dust."
	case body.BatteryHeat:
		return "Battery out, shielded or far enough as the maker says. Watch its temperature."
	case body.Welding:
		return "Only a welder qualified for this alloy. Screens, fume extraction, fire watch."
	case body.Chemical:
		return "Read its safety data sheet. Gloves and mask it names. Ventilate."
	case body.Lifting:
		return "Rated gear at the maker's lifting points. Nobody under the part."
	case body.Eyes:
		return "Eye protection on, everyone in the bay."
	}
	return "Stop, and ask a qualified person before going on."
}

// tone is how a word of verdict is drawn: by its frame, not only its colour.
type tone string

// Tones. The zero value is the most cautious.
const (
	toneOpen tone = ""     // dashed frame: not known, undecided, to be asked
	toneBad  tone = "bad"  // black: not met, forbidden, blocks
	toneGood tone = "good" // plain frame: met, allowed
	toneFlat tone = "flat" // no verdict
)

// word is a verdict in a word, with how it is drawn.
type word struct {
	Text string
	Tone tone
}

// Class is the CSS class of the word.
func (w word) Class() string {
	if w.Tone == toneOpen {
		return "word open"
	}
	return "word " + string(w.Tone)
}

func verdictWord(v decide.Verdict) word {
	switch v {
	case decide.Allowed:
		return word{"allowed", toneGood}
	case decide.Forbidden:
		return word{"forbidden", toneBad}
	case decide.Undecided:
		return word{"undecided", toneOpen}
	}
	return word{"ask the manufacturer", toneOpen}
}

// toleranceWord is the verdict on a tolerance in a word.
func toleranceWord(s string) word {
	switch s {
	case "met":
		return word{"in tolerance", toneGood}
	case "not met":
		return word{"out of tolerance", toneBad}
	case "none":
		return word{"no tolerance given", toneFlat}
	}
	return word{"undecided", toneOpen}
}

// stateWord is the state of a condition or row in a word.
func stateWord(s string) word {
	switch s {
	case "met", "applies":
		return word{s, toneGood}
	case "not met", "does not apply":
		return word{s, toneFlat}
	}
	return word{s, toneOpen}
}

// areaWord is the state of an inspection area in a word.
func areaWord(state job.AreaState, covered bool) word {
	text := "not yet inspected"
	switch state {
	case job.StateSeen:
		text = "seen by eye"
	case job.StatePenetrant:
		text = "penetrant done"
	case job.StateNotReachable:
		text = "cannot be reached yet"
	}
	if covered {
		return word{text, toneGood}
	}
	return word{text, toneOpen}
}

// tipWord is how the end of a crack was found.
func tipWord(s body.TipMethod) string {
	switch s {
	case body.TipVisual:
		return "by eye only"
	case body.TipPenetrant:
		return "by penetrant"
	case body.TipStopHole:
		return "in a stop hole"
	case "":
		return "not said"
	}
	return string(s)
}

// phaseName is a phase of the work as a heading.
func phaseName(p plan.Phase) string {
	switch p {
	case plan.PhasePrepare:
		return "Prepare"
	case plan.PhaseOpen:
		return "Open up"
	case plan.PhaseRepair:
		return "Repair"
	case plan.PhaseCheck:
		return "Check"
	case plan.PhaseClose:
		return "Close up"
	case plan.PhaseFinish:
		return "Finish"
	}
	return string(p)
}

// axisWords are the directions of the vehicle axes; a word that is not known
// leaves the letters.
type axisWords struct{ plus, minus [3]string }

func wordsOf(a body.Axes) axisWords {
	opposite := map[body.Direction]body.Direction{"rearward": "forward", "forward": "rearward",
		"right": "left", "left": "right", "up": "down", "down": "up"}
	w := axisWords{[3]string{"rearward", "to the right", "up"}, [3]string{"forward", "to the left", "down"}}
	for i, s := range []body.Direction{a.X, a.Y, a.Z} {
		if o, known := opposite[s]; known {
			w.plus[i], w.minus[i] = sideways(string(s)), sideways(string(o))
		}
	}
	return w
}

func sideways(s string) string {
	if s == "left" || s == "right" {
		return "to the " + s
	}
	return s
}

// direction tells a shift in words: the components that matter (at least a
// fifth of the largest and visible in print), largest first.
func (w axisWords) direction(d geom.Vec) string {
	var parts []string
	order := largestFirst(d)
	for _, k := range order {
		if math.Abs(d[k]) < 0.05 || math.Abs(d[k]) < 0.2*math.Abs(d[order[0]]) {
			continue
		}
		name := w.plus[k]
		if d[k] < 0 {
			name = w.minus[k]
		}
		parts = append(parts, mm(math.Abs(d[k]))+" "+name)
	}
	return list(parts, 3)
}

// mainly is the directions of a shift, largest first, without the lengths.
func (w axisWords) mainly(d geom.Vec) string {
	var parts []string
	for _, k := range largestFirst(d) {
		if math.Abs(d[k]) < 0.05 || math.Abs(d[k]) < 0.35*d.Norm() {
			continue
		}
		name := w.plus[k]
		if d[k] < 0 {
			name = w.minus[k]
		}
		parts = append(parts, name)
	}
	return list(parts, 3)
}

// largestFirst is the axes in order of a vector's components.
func largestFirst(d geom.Vec) [3]int {
	order := [3]int{0, 1, 2}
	sort.SliceStable(order[:], func(i, j int) bool { return math.Abs(d[order[i]]) > math.Abs(d[order[j]]) })
	return order
}

// frame is the vehicle's directions in body coordinates.
type frame struct{ rear, right, up geom.Vec }

func frameOf(a body.Axes) frame {
	f := frame{geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, 0, 1}}
	if a.X == body.Forward {
		f.rear = geom.Vec{-1, 0, 0}
	}
	if a.Y == body.Left {
		f.right = geom.Vec{0, -1, 0}
	}
	if a.Z == body.Down {
		f.up = geom.Vec{0, 0, -1}
	}
	return f
}
