package doc

import (
	"math/big"
	"regexp"
	"strconv"
	"strings"
)

// Mark is what stands before the decimals of a number.
type Mark byte

// The marks that are in use. NoMark: no number of a table has decimals, or it is not known.
const (
	NoMark Mark = 0
	Point  Mark = '.'
	Comma  Mark = ','
)

// Numeral is a number as it stands in a cell, alone or before its unit.
type Numeral struct {
	Minus        bool
	Whole, Parts string // digits before and after the mark
	Mark         Mark   // NoMark: it has no decimals
	Rest         string // what follows
}

var numeralForm = regexp.MustCompile(`^([-+−]?)([0-9]{1,20})(?:([.,])([0-9]{1,20}))?(.*)$`)

// raisedUnit is a unit that ends in its power: m2, cm3.
var raisedUnit = regexp.MustCompile(`^\pL+[23]$`)

// ReadNumeral reads a number of at most 20 digits on either side of its mark.
func ReadNumeral(cell string) (Numeral, bool) {
	m := numeralForm.FindStringSubmatch(strings.TrimSpace(cell))
	if m == nil {
		return Numeral{}, false
	}
	n := Numeral{Minus: m[1] == "-" || m[1] == "−", Whole: m[2], Parts: m[4], Rest: strings.TrimSpace(m[5])}
	if m[3] != "" {
		n.Mark = Mark(m[3][0])
	}
	// A second mark, digits after a blank: a number with its thousands apart, and no unit of an area or a volume.
	return n, raisedUnit.MatchString(n.Rest) || !strings.ContainsAny(m[5], ",.'0123456789")
}

// Sure says that its mark stands before decimals: thousands could not be set apart by it.
func (n Numeral) Sure() bool {
	return n.Mark != NoMark && (len(n.Parts) != 3 || len(n.Whole) > 3 || strings.HasPrefix(n.Whole, "0"))
}

// Text is the number with a decimal point.
func (n Numeral) Text() string { return n.Times(1, 1) }

// Times is the number times a fraction, as a decimal number: the nearest one that the program reckons with.
func (n Numeral) Times(num, den int64) string {
	r, ok := new(big.Rat).SetString(n.Whole + "." + n.Parts + "0")
	if !ok { // cannot be: digits only
		return n.Whole
	}
	f, _ := r.Mul(r, big.NewRat(num, den)).Float64()
	if n.Minus && f != 0 {
		f = -f
	}
	return strconv.FormatFloat(f, 'f', -1, 64)
}
