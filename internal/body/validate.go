package body

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/unit"
)

// Kinds of identity, as messages call them.
const (
	aPoint     = "point"
	aPart      = "part"
	aJoint     = "joint"
	aCasting   = "casting"
	aZone      = "zone"
	aZoneMap   = "zone map"
	aLine      = "section line"
	aTreatment = "treatment"
	aMaterial  = "material"
	aTask      = "task"
	aSection   = "section"
	anAssembly = "assembly"
)

// farMM bounds coordinates: no vehicle of this kind is longer. A coordinate
// beyond it is a slip of the unit.
const farMM = 20_000

// validate judges what the reader cannot see: whether the files hold together.
func (b *Body) validate(files map[string][]byte) diag.Problems {
	c := &checker{b: b, files: files}
	c.index()
	c.head()
	c.thermal()
	c.points()
	c.parts()
	c.joints()
	c.assemblies()
	c.comesOff()
	c.access()
	c.castings()
	c.lines()
	c.areas()
	c.materials()
	c.rivetBounds()
	c.apart()
	c.treatments()
	c.tasks()
	c.paint()
	c.triggers()
	c.procedures()
	return c.problems
}

// checker collects the faults of one body.
type checker struct {
	b        *Body
	files    map[string][]byte
	problems diag.Problems
	known    map[string][]string // kind of identity to the identities there are
	there    map[[2]string]bool  // kind and identity
}

func (c *checker) fault(path, msg, hint string) {
	c.problems = append(c.problems, c.b.Problem(path, msg, hint))
}

var (
	idForm       = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]*$`)
	currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)
)

// index notes every identity and finds malformed and repeated ones.
func (c *checker) index() {
	c.known, c.there = map[string][]string{}, map[[2]string]bool{}
	b := c.b
	note(c, aSection, "sections", b.Sections, func(s Section) string { return string(s.ID) })
	note(c, aPoint, "points", b.Points, func(p Point) string { return string(p.ID) })
	note(c, aPart, "parts", b.Parts, func(p Part) string { return string(p.ID) })
	note(c, aJoint, "joints", b.Joints, func(j Joint) string { return string(j.ID) })
	note(c, aCasting, "castings", b.Castings, func(k Casting) string { return string(k.ID) })
	note(c, aLine, "section_lines", b.Lines, func(l Line) string { return string(l.ID) })
	note(c, aTreatment, "treatments", b.Treatments, func(t Treatment) string { return string(t.ID) })
	note(c, aTask, "tasks", b.Tasks, func(t Task) string { return string(t.ID) })
	note(c, aMaterial, "materials", b.Materials, func(m Material) string { return string(m.ID) })
	note(c, anAssembly, "assemblies", b.Assemblies, func(a Assembly) string { return string(a.ID) })
	note(c, "rivet bounds", "rivet_bounds", b.Bounds, func(r RivetBounds) string { return r.ID })
	note(c, "inspection area", "inspection", b.Inspect, func(a Area) string { return a.ID })
	for i, k := range b.Castings {
		note(c, aZone, at("castings", i, "zones"), k.Zones, func(z Zone) string { return string(z.ID) })
		note(c, aZoneMap, at("castings", i, "zone_maps"), k.Maps, func(m ZoneMap) string { return string(m.ID) })
	}
}

// note adds the identities of a list to the known ones of their kind.
func note[T any](c *checker, what, list string, items []T, id func(T) string) {
	for i, item := range items {
		v, path := id(item), fmt.Sprintf("%s[%d].id", list, i)
		switch {
		case !idForm.MatchString(v):
			c.fault(path, fmt.Sprintf("%q is not an identity", v), "use letters, digits, '-', '_' and '.', beginning with a letter or digit")
		case c.there[[2]string{what, v}]:
			c.fault(path, fmt.Sprintf("the %s %q is there twice", what, v), "give each its own identity")
			continue
		}
		c.known[what], c.there[[2]string{what, v}] = append(c.known[what], v), true
	}
}

// ref checks that what is referred to exists; an empty reference is none.
func (c *checker) ref(path, what, id string) bool {
	if id == "" {
		return false
	}
	if c.there[[2]string{what, id}] {
		return true
	}
	c.fault(path, fmt.Sprintf("%s %q does not exist", what, id), doc.DidYouMean(id, c.known[what]))
	return false
}

// refs checks a list of references, each named once.
func refs[ID ~string](c *checker, path, what string, ids []ID) {
	for i, id := range ids {
		at := fmt.Sprintf("%s[%d]", path, i)
		if c.ref(at, what, string(id)) && slices.Contains(ids[:i], id) {
			c.fault(at, fmt.Sprintf("%s %q is named twice", what, id), "name it once")
		}
	}
}

// once checks a list of words for repeats.
func once[W ~string](c *checker, path string, words []W) {
	for i, w := range words {
		if slices.Contains(words[:i], w) {
			c.fault(fmt.Sprintf("%s[%d]", path, i), fmt.Sprintf("%q is named twice", w), "name it once")
		}
	}
}

// same finds entries of a list that say word for word what one before says.
func same[T any](c *checker, path string, items []T) {
	seen := map[string]int{}
	for i, x := range items {
		key := fmt.Sprintf("%#v", x)
		if first, twice := seen[key]; twice {
			c.fault(fmt.Sprintf("%s[%d]", path, i), fmt.Sprintf("entry %d says the same", first+1), "take one of them out")
			continue
		}
		seen[key] = i
	}
}

// quantity is any unit type.
type quantity interface {
	~float64
	fmt.Stringer
}

// moreThanZero is what would be right where nothing, or less, was given.
const moreThanZero = "write what it is, or leave it out where it may be"

// positive demands more than zero.
func positive[Q quantity](c *checker, path string, q Q) {
	if q <= 0 {
		c.fault(path, fmt.Sprintf("%s is given; more than zero is needed", q), moreThanZero)
	}
}

// notNegative demands zero or more.
func notNegative[Q quantity](c *checker, path string, q Q) {
	if q < 0 {
		c.fault(path, fmt.Sprintf("%s is negative", q), "write it without the sign, or leave it out")
	}
}

// price checks an amount of money: not negative, in the body's currency.
func (c *checker) price(path string, m unit.Money) {
	if m.Minor < 0 {
		c.fault(path, fmt.Sprintf("the price %s is negative", m), "write it without the sign")
	}
	if m.Currency != c.b.Currency {
		c.fault(path, fmt.Sprintf("the price is in %s, the body in %s", m.Currency, c.b.Currency), "all prices of a body are in one currency")
	}
}

// near checks the coordinates of a point.
func (c *checker) near(path string, v [3]float64) {
	for _, x := range v {
		if x > farMM || x < -farMM {
			c.fault(path, fmt.Sprintf("%s lies outside any vehicle", unit.MM(x)), "coordinates are in millimetres")
			return
		}
	}
}

// head checks what stands at the top of body.yaml.
func (c *checker) head() {
	b := c.b
	if !idForm.MatchString(b.ID) {
		c.fault("id", fmt.Sprintf("%q is not an identity", b.ID), "use letters, digits, '-', '_' and '.'")
	}
	if !currencyForm.MatchString(b.Currency) {
		c.fault("currency", fmt.Sprintf("%q is not a currency", b.Currency), "write three capital letters")
	}
	if b.Confidence < LeastConfidence || b.Confidence >= 1 {
		c.fault("confidence", fmt.Sprintf("%s is not at least %s and less than 100 %%", b.Confidence, LeastConfidence), "write for example 95 %")
	}
	if v := b.VIN.StartsWith; len(v) > 17 || strings.ContainsFunc(v, notVIN) {
		c.fault("vin.starts_with", fmt.Sprintf("no vehicle identification number begins with %q", v), "it has 17 capital letters and digits without I, O and Q")
	}
	for i, s := range b.Sections {
		c.near(at("sections", i, "about_mm"), s.About)
	}
	for _, file := range []string{PointsFile, PartsFile} {
		if _, ok := c.files[file]; !ok {
			c.problems = append(c.problems, diag.Problem{File: file, Msg: "the file is missing"})
		}
	}
	for name := range c.files {
		if strings.HasPrefix(name, procedureDir) && !strings.HasSuffix(name, ".yaml") {
			c.problems = append(c.problems, diag.Problem{File: name, Msg: "this file would not be read", Hint: "the folder procedures holds files that end in .yaml, and nothing else"})
		}
	}
}

// notVIN says that a letter cannot be in a vehicle identification number (ISO
// 3779: capital letters without I, O, Q, and digits; from memory).
func notVIN(r rune) bool {
	return !(r >= '0' && r <= '9' || r >= 'A' && r <= 'Z') || r == 'I' || r == 'O' || r == 'Q'
}
