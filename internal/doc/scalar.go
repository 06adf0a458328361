package doc

import (
	"fmt"
	"math"
	"reflect"
	"regexp"
	"strconv"
	"strings"
)

// Patterns of plain numbers: no leading zero (012 is octal to some readers),
// no exponent, no underscore, no bare point.
const (
	intPattern   = `^-?(0|[1-9][0-9]*)$`
	floatPattern = `^-?(0|[1-9][0-9]*)(\.[0-9]+)?$`
)

var (
	intForm   = regexp.MustCompile(intPattern)
	floatForm = regexp.MustCompile(floatPattern)
)

func setBool(v reflect.Value, text string) (msg, hint string) {
	switch text {
	case "yes", "true":
		v.SetBool(true)
	case "no", "false":
		v.SetBool(false)
	default:
		return fmt.Sprintf("%s is neither yes nor no", quote(text)), "write yes, no, true or false"
	}
	return "", ""
}

func setInt(v reflect.Value, text string) (msg, hint string) {
	if !intForm.MatchString(text) {
		return fmt.Sprintf("%s is not a whole number", quote(text)), numberHint(text, "12")
	}
	i, err := strconv.ParseInt(text, 10, 64)
	if err != nil || v.OverflowInt(i) {
		return fmt.Sprintf("%s is too large", quote(text)), "see whether a digit is wrong"
	}
	v.SetInt(i)
	return "", ""
}

func setFloat(v reflect.Value, text string) (msg, hint string) {
	if !floatForm.MatchString(text) {
		return fmt.Sprintf("%s is not a plain decimal number", quote(text)), numberHint(text, "12.5")
	}
	f, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(f, 0) || math.IsNaN(f) {
		return fmt.Sprintf("%s is too large", quote(text)), "see whether a digit is wrong"
	}
	if f == 0 {
		f = 0 // minus zero is zero
	}
	v.SetFloat(f)
	return "", ""
}

var (
	decimalComma = regexp.MustCompile(`^-?[0-9]+,[0-9]+$`)
	leadingZero  = regexp.MustCompile(`^-?0[0-9]+(\.[0-9]*)?$`)
	withUnit     = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)? *[A-Za-z°%]+$`)
	exponent     = regexp.MustCompile(`^[-+]?[0-9.]+[eE][-+]?[0-9]+$`)
)

// numberHint says what would be right, from the form of the slip.
func numberHint(text, example string) string {
	switch {
	case text == "":
		return "write a number"
	case decimalComma.MatchString(text):
		return fmt.Sprintf("use a point: %s", strings.Replace(text, ",", ".", 1))
	case leadingZero.MatchString(text):
		return "write it without the leading zero"
	case exponent.MatchString(text):
		return "write it without an exponent"
	case withUnit.MatchString(text):
		return "write the number alone, without the unit"
	case strings.Contains(text, "_"):
		return "write it without underscores"
	case strings.HasPrefix(text, "+"):
		return "write it without the plus sign"
	}
	return "write for example " + example
}

// quote puts text in quotes, and cuts it when it is long.
func quote(text string) string { return strconv.Quote(clip(text, 60)) }

// clip cuts text to n characters.
func clip(text string, n int) string {
	if r := []rune(text); len(r) > n {
		return string(r[:n-3]) + "..."
	}
	return text
}
