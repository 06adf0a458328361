package inspect

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
)

// placeEarlier says in which zones each repair done before this job counts. What a
// person wrote down as its zone counts; so does every zone that its trace crosses or
// may reach, for a count is of what lies there. A trace that lies on no casting may
// belong anywhere on the one it was entered for.
func (r *run) placeEarlier() {
	for _, e := range r.in.Job.Earlier {
		var out EarlierPlace
		located := false
		for i := range r.places {
			p := &r.places[i]
			named := slices.ContainsFunc(p.Of.Zones, func(z body.Zone) bool { return z.ID == e.Zone })
			zones := r.tracedIn(p, e)
			located = located || len(zones) > 0
			if named {
				zones = append(zones, e.Zone)
			}
			if len(zones) > 0 {
				out.Castings = append(out.Castings, p.Of.ID)
			}
			for _, z := range zones {
				if !slices.Contains(out.Zones, z) {
					out.Zones = append(out.Zones, z)
				}
			}
		}
		if len(e.Trace) > 0 && !located {
			for _, id := range out.Castings {
				for _, z := range r.placeNamed(id).Of.Zones {
					if !slices.Contains(out.Zones, z.ID) {
						out.Zones = append(out.Zones, z.ID)
					}
				}
			}
		}
		r.res.Earlier = append(r.res.Earlier, out)
	}
}

// tracedIn is the zones of a casting that the trace of an earlier repair crosses or
// may reach; none when it does not lie on it.
func (r *run) tracedIn(p *place, e job.Earlier) []body.ZoneID {
	if len(e.Trace) == 0 || r.placeOf(p.Of.Part) == nil {
		return nil
	}
	quiet := &run{in: r.in, confidence: r.confidence, places: r.places}
	f, t := quiet.locate(&job.Finding{Kind: body.Dent, Part: p.Of.Part, Trace: e.Trace, Std: e.Std})
	if t == nil {
		return nil
	}
	if len(t.sites) > 1 {
		quiet.length(&f, t)
	} else {
		t.join()
	}
	quiet.zones(&f, t)
	var out []body.ZoneID
	for _, z := range f.Zones {
		out = append(out, z.Zone)
	}
	return out
}
