package job

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"

	"fettle/internal/doc"
)

// axesHash is of everything that puts set-ups of the stage before in place: their own data, and all
// readings taken in them.
func (s *State) axesHash() string {
	var of struct {
		Setups   []Setup   `doc:"setups"`
		Readings []Reading `doc:"readings"`
	}
	in := map[string]bool{}
	for _, x := range s.Setups {
		if x.Stage == StageBefore {
			x.By = ""
			of.Setups, in[x.ID] = append(of.Setups, x), true
		}
	}
	for _, r := range s.Readings {
		if in[r.Setup] {
			r.Line = 0
			of.Readings = append(of.Readings, r)
		}
	}
	sum := sha256.Sum256(doc.EncodeYAML(of))
	return hex.EncodeToString(sum[:])
}

// otherAxes says that a trace in the axes of a set-up, or one beside such a trace, or what puts the
// set-up in place, is not as it was told. How far two traces in different axes are apart nobody can
// see without the poses, so that nothing may have changed.
func (t *Told) otherAxes(now *Told) string {
	framed := func(f Finding) bool { return f.Setup != "" }
	if !slices.ContainsFunc(t.Findings, framed) && !slices.ContainsFunc(now.Findings, framed) {
		return ""
	}
	for _, f := range now.Findings {
		was, told := t.finding(f.ID)
		if !told || f.Setup != was.Setup || f.Axes != was.Axes || f.Std != was.Std || !slices.Equal(f.Trace, was.Trace) {
			return fmt.Sprintf("%s is not traced as it was told, where traces are given in the axes of a set-up", f.ID)
		}
	}
	return ""
}

// inAxes checks the set-up that a trace is given in.
func (c *checker) inAxes(at string, f Finding, setups known) {
	i := slices.IndexFunc(c.s.Setups, func(s Setup) bool { return s.ID == f.Setup })
	switch {
	case f.Axes != "":
		c.fault(at+".axes", "it is of findings as they were told", "leave it out")
	case f.Setup == "":
	case i < 0:
		c.ref(at+".setup", "set-up", f.Setup, setups)
	case c.s.Setups[i].Stage != StageBefore:
		c.fault(at+".setup", fmt.Sprintf("set-up %s is of the stage %q", f.Setup, c.s.Setups[i].Stage), "a finding is given in vehicle axes, or in those of a set-up from before the repair")
	case len(f.Trace) == 0:
		c.fault(at+".setup", "there is no trace to be given in its axes", "give 'trace_mm', or leave it out")
	}
}
