package inspect

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Access is an entry of the job on what can be reached, as far as it counts.
type Access struct {
	To    []string      `json:"to"`
	Off   []body.PartID `json:"off,omitempty"` // parts that have to be off before
	By    string        `json:"by"`
	On    unit.Date     `json:"on"`
	Fails string        `json:"fails,omitempty"` // why it does not count
}

// noAccess is of an entry that does not count.
const noAccess = "inspect.access-not-counted"

// reachable takes what somebody found can be reached at this vehicle. It does not count when nobody
// of the shop signed for it, when it was found before the impact or after today, or when it needs
// nothing off and a place of it is on record, of the same day or later, as one that could not be reached.
func (r *run) reachable() {
	for _, a := range r.in.Job.Access {
		x := Access{To: a.To, Off: a.Off, By: a.By, On: a.On}
		x.Fails = r.in.Job.Falls(job.Act{By: a.By, On: a.On}, r.in.Shop, r.in.acts())
		for _, c := range r.res.Coverage {
			if x.Fails == "" && len(a.Off) == 0 && c.Shut() && slices.Contains(a.To, string(c.Zone)) && !c.On.Before(a.On) {
				x.Fails = fmt.Sprintf("%s could not be reached on %s (%s)", c.Zone, c.On, c.By)
			}
		}
		if x.Fails != "" {
			r.note(diag.Say(noAccess, "that it can be reached does not count: {why}", x.Fails).Note(diag.Note{Severity: diag.Caution, Where: strings.Join(a.To, ", "), Hint: "look again, and record who found it and when under 'access' of the job"}))
		}
		r.res.Access = append(r.res.Access, x)
	}
}

// Shut says that it is on record of the whole of a zone that it could not be reached.
func (c Coverage) Shut() bool {
	return (c.Area == body.AreaOfZone(c.Zone) || c.Of == WrittenArea) && c.State == job.StateNotReachable
}
