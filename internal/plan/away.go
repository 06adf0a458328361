package plan

import (
	"slices"

	"fettle/internal/body"
)

// without is the body as far as it is still together: some parts are off already. They are in
// no way, what joined them is open, and they come off neither again nor as part of an assembly.
func without(b *body.Body, off []body.PartID) *body.Body {
	if len(off) == 0 {
		return b
	}
	away := func(p body.PartID) bool { return slices.Contains(off, p) }
	left := func(ps []body.PartID) []body.PartID { return slices.DeleteFunc(slices.Clone(ps), away) }
	out := *b
	out.Access, out.Joints, out.Assemblies, out.Triggers = nil, nil, nil, nil
	for _, a := range b.Access {
		if away(body.PartID(a.To)) {
			continue
		}
		var needs [][]body.PartID
		for _, alt := range a.Needs {
			needs = append(needs, left(alt)) // one of which nothing is left asks for nothing
		}
		a.Needs = needs
		out.Access = append(out.Access, a)
	}
	open := map[body.PartID]bool{} // what a joint held that is open already
	for _, j := range b.Joints {
		if !slices.ContainsFunc(j.Layers, away) {
			j.Destroys = left(j.Destroys)
			out.Joints = append(out.Joints, j)
			continue
		}
		for _, p := range j.Layers {
			open[p] = true
		}
	}
	out.Parts = slices.Clone(b.Parts)
	for i, p := range out.Parts {
		if open[p.ID] && p.Comes == "" {
			out.Parts[i].Comes = body.Freely
		}
	}
	for _, a := range b.Assemblies {
		if !slices.ContainsFunc(a.Parts, away) {
			out.Assemblies = append(out.Assemblies, a)
		}
	}
	for _, t := range b.Triggers {
		if !away(t.Part) {
			out.Triggers = append(out.Triggers, t)
		}
	}
	return &out
}

// madeSafe is the tasks that make the vehicle safe before these parts come off. They are done, or
// shown to be, before anything else, though the parts are off.
func madeSafe(b *body.Body, off []body.PartID) []body.TaskID {
	var out []body.TaskID
	for _, t := range b.Triggers {
		for _, id := range t.Before {
			if k, ok := b.Task(id); ok && k.MakesSafe() && slices.Contains(off, t.Part) && !slices.Contains(out, id) {
				out = append(out, id)
			}
		}
	}
	return out
}
