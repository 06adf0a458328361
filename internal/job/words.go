package job

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// plainWords is what people call a record of a sort, where that is not the word of their names.
var plainWords = map[string]string{
	"hazard": "danger", "setup": "set-up", readingsWord: "readings of set-up", "area": "inspection area",
	"access": "access found", "earlier-repair": "earlier repair", "workplace": "climate of the workplace", "procedure-check": "look-up of a procedure",
	"hand-back": "hand-back of the vehicle", "told": "what the manufacturer was told with", "acceptance": "treatment of finding", "choice": "choice of a route",
	"review": "review of the decisions", "sending": "sending to review", "erasure-agreement": "agreement to an erasure", "start": "start of the work", "owner": "the shop it belongs to", "figure": "figure read", "fault-reading": "reading of the fault memories",
}

// Words says in plain English what each event of a chain says, without who wrote it and when.
func Words(events []Event) []string {
	out, names := make([]string, len(events)), map[RecordName]string{}
	for i, e := range events {
		of := e.About()
		if h, ok := e.Data.(Hazard); ok {
			names[of] = fmt.Sprintf("danger (%s, %q)", spaced(string(h.Kind)), h.Text)
		}
		name, ok := names[of]
		if !ok {
			name = of.plain()
		}
		out[i] = capital(e.words(name))
	}
	return out
}

// plain is what people call the record of a name.
func (s RecordName) plain() string {
	word, name, _ := strings.Cut(string(s), "/")
	if plain, ok := plainWords[word]; ok {
		word = plain
	}
	return strings.TrimSpace(word + " " + strings.Trim(name, "#+"))
}

// words is one event about a record of that name.
func (e Event) words(name string) string {
	switch d := e.Data.(type) {
	case Opening:
		return "job " + d.ID + " opened" + signed(d)
	case Withdrawal:
		return name + " withdrawn: " + d.Reason + signed(d)
	case Withdrawn:
		return name + " withdrawn: " + d.Reason + signed(d)
	case HandedOver:
		return "handed over to shop " + d.To + ": " + d.Reason + signed(d)
	case Erasure:
		return "names and remarks erased from " + name + ": " + d.Reason
	case Taken:
		return unit.Count(len(d.Readings), "reading") + " recorded"
	}
	verb := "recorded"
	if e.Seen > 0 {
		verb = "changed"
	}
	detail := found(e.Data)
	if detail == "" {
		detail = done(e.Data)
	}
	if detail != "" {
		detail = ": " + detail
	}
	return name + " " + verb + detail + signed(e.Data)
}

// seedText tells where the sampling starts, if anybody chose it.
func seedText(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("sampling starts at %d", n)
}

// sentWords is what was sent to review.
var sentWords = map[Part]string{Measurements: "what was measured was", Whole: "the whole was"}

// found says what was found and measured on the vehicle, and what is known of it.
func found(data any) string {
	switch d := data.(type) {
	case Named:
		return "its files have the hash " + d.SHA256[:min(12, len(d.SHA256))] + "..."
	case Beginning:
		return joined("from "+d.Start.String(), seedText(d.Seed))
	case Vehicle:
		return "VIN " + d.VIN + ", worth " + d.Value.String() + " before the damage"
	case Impact:
		return joined("from "+spaced(string(d.From)), d.Text)
	case Hazard:
		return map[bool]string{true: "made safe", false: "not made safe yet"}[d.Cleared]
	case Setup:
		return joined(d.Device, string(d.Stage)+" the repair")
	case Readings:
		return unit.Count(len(d.Readings), "reading")
	case Evidence:
		return joined(d.Text, "file "+d.File)
	case Inspection:
		return joined(string(d.Method), d.Medium, d.Text)
	case Finding:
		return joined(string(d.Kind)+" on "+string(d.Part)+at(d.Trace)+inSetup(d), "seen "+map[bool]string{true: "by eye", false: "with " + string(d.Seen)}[d.Seen == body.Visual], d.Text)
	case AreaSeen:
		return joined(spaced(string(d.State)), d.Text)
	case Accessible:
		return joined(strings.Join(d.To, ", ")+" can be reached", listOf("once off: ", d.Off), d.Text)
	case Earlier:
		return joined(d.Length.String()+" in zone "+string(d.Zone)+at(d.Trace), d.Text)
	case Cast:
		return joined(dated("cast on ", d.CastOn), dated("fitted on ", d.FittedOn), map[bool]string{true: "looked over for earlier repairs"}[d.Looked])
	case Climate:
		return d.Temp.String()
	}
	return ""
}

// done says what was asked, decided, done and delivered.
func done(data any) string {
	switch d := data.(type) {
	case Check:
		return string(d.Procedure) + ", revision " + d.Revision + " is the current one"
	case Asked:
		return "sent" + aboutWhat(d.Finding, d.Point)
	case Answer:
		return joined(strings.TrimSpace(aboutWhat(d.Finding, d.Point)), listOf("allows ", d.Allow), listOf("forbids ", d.Forbid), "until the day before "+d.Expires.String())
	case Told:
		return unit.Count(len(d.Findings), "finding") + " as they were"
	case Risk:
		return joined(d.Text, d.Chance.String(), map[Outcome]string{SettledWell: "it turned out well", SettledBadly: "it turned out badly"}[d.Settled])
	case Choice:
		return joined("route "+d.Route, d.Reason)
	case Accepted:
		return joined(string(d.Kind), string(d.Line), d.Reason)
	case Review:
		return joined(map[bool]string{true: "done", false: "what was sent is approved"}[d.Under == ""], d.Text)
	case HandBack:
		if d.Reopened() {
			return joined("job opened again by "+d.ReopenedBy+" on "+d.ReopenedOn.String(), d.Because)
		}
		return joined("to "+string(d.To), d.Text)
	case Proposal:
		verb := map[Settlement]string{"": "proposed, and not taken over", TakenOver: "taken over by " + d.SettledBy, Declined: "declined by " + d.SettledBy}[d.Settled]
		return joined(d.Of.plain()+" is "+verb, d.Reason)
	case Sending:
		if d.Back() {
			return joined(sentWords[d.Part]+" sent back by "+d.BackBy+" on "+d.BackOn.String(), d.Because)
		}
		return joined(sentWords[d.Part]+" sent", d.Text)
	case ErasureAgreed:
		var from []string
		for _, of := range d.Of {
			from = append(from, of.plain())
		}
		return joined("of names and remarks from "+strings.Join(from, " and "), d.Reason)
	case Agreed:
		return joined("route "+d.Route, d.Total.String()+" with tax", d.Reason)
	case Actual:
		return joined(d.Step+ofWhich(d.Finding), d.Minutes.String(), map[bool]string{true: "under way"}[d.Going], d.Text)
	case Figure:
		read := d.Text
		if read == "" {
			read = d.Value.String()
		}
		return joined(d.Reading+" "+read, "step "+d.Step+ofWhich(d.Finding))
	case FaultReading:
		return fmt.Sprintf("%s the repair, %s in %s", d.Stage, unit.Count(len(d.Codes), "code"), unit.Count(len(d.Systems), "system"))
	case Arrival:
		return joined(fmt.Sprintf("%d of %s came", d.Count, d.Item), d.Text)
	case Promised:
		return joined(d.Item+" is promised for "+d.Expected.String(), d.Text)
	case Record:
		return joined(spaced(string(d.Show))+ofWhich(d.Finding), string(d.Joint), d.Step, d.What, d.Text)
	}
	return ""
}

// signed is who signed a record, and for which day.
func signed(data any) string {
	v := reflect.ValueOf(data)
	out := ""
	for _, name := range []string{"RecordedBy", "By", "Author"} {
		if f := v.FieldByName(name); f.IsValid() && f.String() != "" {
			out = "; signed " + f.String()
			break
		}
	}
	if f := v.FieldByName("On"); f.IsValid() && out != "" {
		if on := f.Interface().(unit.Date); !on.IsZero() {
			out += " for " + on.String()
		}
	}
	return out
}

func inSetup(f Finding) string {
	if f.Setup == "" {
		return ""
	}
	return " in the axes of set-up " + f.Setup
}

func at(trace []geom.Vec) string {
	if len(trace) == 0 {
		return ""
	}
	p := trace[0]
	return fmt.Sprintf(" at %.0f, %.0f, %.0f mm", p[0], p[1], p[2])
}

func aboutWhat(f FindingID, p body.PointID) string {
	if p != "" {
		return " about control point " + string(p)
	}
	return " about finding " + string(f)
}

func ofWhich(f FindingID) string {
	if f == "" {
		return ""
	}
	return " for finding " + string(f)
}

func dated(word string, d unit.Date) string {
	if d.IsZero() {
		return ""
	}
	return word + d.String()
}

func listOf[T ~string](word string, items []T) string {
	var out []string
	for _, x := range items {
		out = append(out, string(x))
	}
	if len(out) == 0 {
		return ""
	}
	return word + strings.Join(out, " and ")
}

// joined is the parts that say something, with commas.
func joined(parts ...string) string {
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ", ")
}

func spaced(word string) string { return strings.ReplaceAll(word, "-", " ") }

// capital is a sentence with its first letter large.
func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
