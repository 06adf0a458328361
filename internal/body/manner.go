package body

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/unit"
)

// Manner is how a treatment that a row allows has to be done. Its limits are
// conditions of the row like those under 'when': see Row.Conditions.
type Manner struct {
	Plate     MaterialID `doc:"plate" help:"the backing plate"`
	Thickness unit.MM    `doc:"plate_thickness" help:"thickness of the backing plate"`
	Overlap   unit.MM    `doc:"plate_overlap" help:"how far the plate reaches past the crack on each side"`
	Filler    MaterialID `doc:"filler" help:"the filler metal"`
	Text      string     `doc:"text" help:"anything else, in the words of the document"`

	Cold     YesNo        `doc:"cold" help:"of straightening: yes: the part is not heated" oneof:"yes"`
	HeatedTo unit.Celsius `doc:"heated_to" help:"of straightening: the highest temperature that the part may be heated to"`
	Pulls    int          `doc:"most_pulls" help:"of straightening: how often the part may be pulled or pressed at most"`

	InZone          int     `doc:"most_in_zone" help:"most cracks in the zone, repairs done before included; a condition on count_in_zone"`
	OnCasting       int     `doc:"most_on_casting" help:"most cracks on the casting, repairs done before included; a condition on count_on_casting"`
	LengthInZone    unit.MM `doc:"most_length_in_zone" help:"most length of cracks in the zone together, repairs done before included; a condition on crack_length_in_zone"`
	LengthOnCasting unit.MM `doc:"most_length_on_casting" help:"most length of cracks on the casting together, repairs done before included; a condition on crack_length_on_casting"`
}

// limit is a limit of a manner as the condition it stands for.
type limit struct {
	field, fact, text string
}

// limits are those that were given, in the order of the fields.
func (m Manner) limits() []limit {
	var out []limit
	count := func(field, fact string, n int) {
		if n != 0 {
			out = append(out, limit{field, fact, "<= " + strconv.Itoa(n)})
		}
	}
	length := func(field, fact string, l unit.MM) {
		if l != 0 {
			out = append(out, limit{field, fact, "<= " + l.String()})
		}
	}
	count("most_in_zone", FactInZone, m.InZone)
	count("most_on_casting", FactCount, m.OnCasting)
	length("most_length_in_zone", FactLengthHere, m.LengthInZone)
	length("most_length_on_casting", FactLengthAll, m.LengthOnCasting)
	return out
}

// Conditions is everything that has to be met for the row to apply: 'when',
// and the limits under 'with'.
func (r Row) Conditions() map[string]string {
	limits := r.With.limits()
	if len(limits) == 0 {
		return r.When
	}
	out := maps.Clone(r.When)
	if out == nil {
		out = map[string]string{}
	}
	for _, l := range limits {
		if _, twice := out[l.fact]; !twice { // a fault of the file, told by validate
			out[l.fact] = l.text
		}
	}
	return out
}

// Words is the manner in words, without the limits, which are conditions.
// Materials are named as the body does, or by their identity without one.
func (m Manner) Words(b *Body) []string {
	name := func(id MaterialID) string {
		if b != nil {
			if x, ok := b.Material(id); ok && x.Name != "" {
				return x.Name + " (" + string(id) + ")"
			}
		}
		return string(id)
	}
	var out []string
	if m.Plate != "" || m.Thickness > 0 || m.Overlap > 0 {
		t := []string{"backing plate"}
		if m.Plate != "" {
			t = append(t, name(m.Plate))
		}
		if m.Thickness > 0 {
			t = append(t, m.Thickness.String()+" thick")
		}
		if m.Overlap > 0 {
			t = append(t, "reaching "+m.Overlap.String()+" past the crack on each side")
		}
		out = append(out, strings.Join(t, ", "))
	}
	if m.Filler != "" {
		out = append(out, "filler "+name(m.Filler))
	}
	if m.Cold == Yes {
		out = append(out, "cold")
	}
	if m.HeatedTo > 0 {
		out = append(out, "heated to "+m.HeatedTo.String()+" at most")
	}
	if m.Pulls > 0 {
		out = append(out, "pulled or pressed "+timesText(m.Pulls)+" at most")
	}
	if m.Text != "" {
		out = append(out, m.Text)
	}
	return out
}

func timesText(n int) string {
	if n == 1 {
		return "once"
	}
	return strconv.Itoa(n) + " times"
}

// Differs is the first field that is given in want and that the rows do not
// give alike: none of them gives it, or one gives something else. Empty when
// there is none.
func (want Manner) Differs(rows []Manner) string {
	type field struct {
		name string
		of   func(Manner) string
	}
	number := func(n int) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	}
	length := func(l unit.MM) string {
		if l == 0 {
			return ""
		}
		return l.String()
	}
	heat := func(t unit.Celsius) string {
		if t == 0 {
			return ""
		}
		return t.String()
	}
	for _, f := range []field{
		{"plate", func(m Manner) string { return string(m.Plate) }}, {"plate_thickness", func(m Manner) string { return length(m.Thickness) }},
		{"plate_overlap", func(m Manner) string { return length(m.Overlap) }}, {"filler", func(m Manner) string { return string(m.Filler) }},
		{"cold", func(m Manner) string { return string(m.Cold) }}, {"heated_to", func(m Manner) string { return heat(m.HeatedTo) }}, {"most_pulls", func(m Manner) string { return number(m.Pulls) }},
		{"text", func(m Manner) string { return m.Text }},
		{"most_in_zone", func(m Manner) string { return number(m.InZone) }}, {"most_on_casting", func(m Manner) string { return number(m.OnCasting) }},
		{"most_length_in_zone", func(m Manner) string { return length(m.LengthInZone) }}, {"most_length_on_casting", func(m Manner) string { return length(m.LengthOnCasting) }},
	} {
		w, given := f.of(want), false
		if w == "" {
			continue
		}
		for _, r := range rows {
			switch got := f.of(r); got {
			case "":
			case w:
				given = true
			default:
				return f.name + " is " + got
			}
		}
		if !given {
			return f.name + " is not given"
		}
	}
	return ""
}

// After is an inspection that a row asks for after what it allows.
type After struct {
	Method ProofKind `doc:"method,required" help:"penetrant, visual or dimensions" oneof:"penetrant|visual|dimensions"`
	When   string    `doc:"when" help:"at which point of the work, for example 'after dressing'"`
	What   string    `doc:"what" help:"for visual: what has to be seen, in the words of the document; the record repeats it"`
}

// String is the inspection in words.
func (a After) String() string {
	t := string(a.Method)
	switch {
	case a.Method == ShowVisual && a.What != "":
		t = "look: " + a.What
	case a.Method == ShowDimensions:
		t = "control points measured again"
	case a.What != "":
		t += ", " + a.What
	}
	if a.When != "" {
		if a.What != "" {
			t += ","
		}
		t += " " + a.When
	}
	return t
}

// mannerFault is a field of a manner that cannot be so, whatever the body is.
type mannerFault struct{ field, msg, hint string }

func (m Manner) outOfRange() []mannerFault {
	var out []mannerFault
	for _, x := range []struct {
		field string
		long  unit.MM
	}{{"plate_thickness", m.Thickness}, {"plate_overlap", m.Overlap}, {"most_length_in_zone", m.LengthInZone}, {"most_length_on_casting", m.LengthOnCasting}} {
		if x.long < 0 {
			out = append(out, mannerFault{x.field, fmt.Sprintf("%s is negative", x.long), "write it without the sign, or leave it out"})
		}
	}
	for _, x := range []struct {
		field string
		most  int
	}{{"most_in_zone", m.InZone}, {"most_on_casting", m.OnCasting}, {"most_pulls", m.Pulls}} {
		if x.most < 0 || x.most > mostCounted {
			out = append(out, mannerFault{x.field, fmt.Sprintf("%d is out of range", x.most), fmt.Sprintf("write a number from 1 to %d; leave the limit out where there is none", mostCounted)})
		}
	}
	if m.HeatedTo < 0 || m.HeatedTo > maxHeated {
		out = append(out, mannerFault{"heated_to", fmt.Sprintf("%s is out of range", m.HeatedTo), "give the highest temperature the part may be heated to, for example 150 C; write 'cold: yes' where it is not heated"})
	}
	return out
}

// manner checks what a row says about how its treatments are done.
func (c *checker) manner(path string, r Row) {
	m := r.With
	for _, x := range []struct {
		field string
		id    MaterialID
		kind  MaterialKind
	}{{"plate", m.Plate, Plate}, {"filler", m.Filler, Filler}} {
		c.ref(path+".with."+x.field, aMaterial, string(x.id))
		if k, ok := c.b.Material(x.id); ok && x.id != "" && k.Kind != x.kind {
			c.fault(path+".with."+x.field, fmt.Sprintf("material %q is of the kind %s", x.id, k.Kind), "name a material of the kind "+string(x.kind))
		}
	}
	for _, f := range m.outOfRange() {
		c.fault(path+".with."+f.field, f.msg, f.hint)
	}
	for _, l := range m.limits() {
		if _, twice := r.When[l.fact]; twice {
			c.fault(path+".with."+l.field, fmt.Sprintf("the fact %q has a condition under 'when' already", l.fact), "write the limit in one place")
		}
	}
	if (m != Manner{}) && len(r.Allow) == 0 {
		c.fault(path+".with", "the row allows nothing that could be done this way", "write what it allows under 'allow', or take 'with' out")
	}
	if (m.Plate != "" || m.Thickness > 0 || m.Overlap > 0) && !slices.Contains(r.Allow, WeldBacking) {
		c.fault(path+".with", "a backing plate without 'weld with backing plate' under 'allow'", "write that under 'allow', or take the plate out")
	}
	c.overlap(path, r)
	c.straightening(path, r)
	for i, a := range r.After {
		if a.Method == ShowDimensions && a.What != "" {
			c.fault(fmt.Sprintf("%s.after[%d].what", path, i), "the control points are measured as a whole", "leave it out")
		}
	}
}

// overlap: the plate that a row asks for and the plate that the body's
// treatment lays out have to be the same, or the steps would be another repair.
func (c *checker) overlap(path string, r Row) {
	for _, t := range c.b.Treatments {
		if t.Kind != WeldBacking {
			continue
		}
		for _, s := range t.Steps {
			l := s.Layout
			if l == nil {
				continue
			}
			if r.With.Overlap > 0 && l.PlateOver < r.With.Overlap {
				c.fault(path+".with.plate_overlap", fmt.Sprintf("treatment %q lays out an overlap of %s", t.ID, l.PlateOver), "the plate has to reach as far as the procedure asks")
			}
			if r.With.Plate != "" && l.Plate != "" && l.Plate != r.With.Plate {
				c.fault(path+".with.plate", fmt.Sprintf("treatment %q uses plate %q", t.ID, l.Plate), "name the plate that the body lays out, or mend the treatment")
			}
		}
	}
}

// straightening: a row that allows it says whether it speaks of a casting, which nothing else
// takes for granted; and no treatment of the body that straightens heats the part more, or pulls
// it more often, than the row lets it.
func (c *checker) straightening(path string, r Row) {
	m := r.With
	limits := m.Cold != "" || m.HeatedTo != 0 || m.Pulls != 0
	if !slices.Contains(r.Allow, Straighten) {
		if limits {
			c.fault(path+".with", "limits of straightening without 'straighten' under 'allow'", "write that under 'allow', or take the limits out")
		}
		return
	}
	if _, says := r.When[FactOnCasting]; !says {
		c.fault(path+".when", "the row allows straightening and does not say whether it speaks of a casting", "write 'on_casting: no', or 'on_casting: yes' where the document allows it for the casting")
	}
	if m.HeatedTo > 0 && m.Cold == Yes {
		c.fault(path+".with.heated_to", "the part is not heated where it is straightened cold", "write one of the two")
	}
	for _, t := range c.b.Treatments {
		if t.Kind == Straighten {
			c.straightened(path+".with", m, t)
		}
	}
}

// straightened holds a treatment against what a row lets it.
func (c *checker) straightened(path string, m Manner, t Treatment) {
	heat, pulls := t.Heats()
	switch {
	case m.Cold == Yes && heat > 0:
		c.fault(path+".cold", fmt.Sprintf("treatment %q heats the part to %s", t.ID, heat), "the body's treatment has to be done as the procedure asks")
	case m.HeatedTo > 0 && heat > m.HeatedTo:
		c.fault(path+".heated_to", fmt.Sprintf("treatment %q heats the part to %s", t.ID, heat), "the body's treatment may heat it no more than the procedure lets it")
	}
	switch {
	case m.Pulls <= 0:
	case pulls == 0:
		c.fault(path+".most_pulls", fmt.Sprintf("treatment %q does not say how often the part is pulled", t.ID), "write 'pulls' at its steps")
	case pulls > m.Pulls:
		c.fault(path+".most_pulls", fmt.Sprintf("treatment %q pulls the part %s", t.ID, timesText(pulls)), "the body's treatment may pull it no more often than the procedure lets it")
	}
}
