package body

import (
	"fmt"
	"slices"
)

// ComesOff is how a part leaves the vehicle, where its joints do not say it.
type ComesOff string

// Words of 'comes_off'. Nothing: its joints say how.
const (
	Never  ComesOff = "no"     // it is what the vehicle is built on
	Freely ComesOff = "freely" // nothing holds it
)

// OpeningLacks is what nobody knows of taking a part off and fitting it, in words. holding are the
// joints that are opened for it; done says of a joint that a treatment brings what it is closed
// with. Minutes of zero are no minutes: nothing comes off, or goes on, in no time.
func OpeningLacks(p Part, holding []Joint, done func(Joint) bool) []string {
	var out []string
	if p.Comes == Never {
		return []string{"it cannot be taken out of the vehicle"}
	}
	if p.Off <= 0 {
		out = append(out, "the minutes it takes to come off")
	}
	if p.On <= 0 {
		out = append(out, "the minutes it takes to go on")
	}
	if len(holding) == 0 && p.Comes != Freely {
		out = append(out, "the joints that hold it")
	}
	for _, j := range holding {
		if lacks := j.ClosingLacks(); lacks != "" && !done(j) {
			out = append(out, lacks)
		}
	}
	return out
}

// ClosingLacks says what a joint is closed with that is in none of its fields; empty where nothing
// is missing. A rivet, a bead and a weld are made anew each time: without the material, or for a
// weld any word on how it is done, nobody can close it. Bolts, clips and plugs may go in again.
func (j Joint) ClosingLacks() string {
	has := func(of ...JoinMethod) bool {
		return slices.ContainsFunc(j.Methods, func(m JoinMethod) bool { return slices.Contains(of, m) })
	}
	switch {
	case len(j.Uses) > 0:
	case has(JoinSelfPiercing, JoinBlindRivet, JoinAdhesive):
		return fmt.Sprintf("what joint %s is closed with", j.ID)
	case has(JoinWeld) && j.Hold == "" && len(j.Readings) == 0:
		return fmt.Sprintf("how joint %s is welded, and with what", j.ID)
	}
	return ""
}

// HeldBy is the joints that a part is in.
func (b *Body) HeldBy(id PartID) []Joint {
	var out []Joint
	for _, j := range b.Joints {
		if slices.Contains(j.Layers, id) {
			out = append(out, j)
		}
	}
	return out
}
