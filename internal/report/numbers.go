package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// Every figure of the document is formatted here and nowhere else, so that the
// same figure reads the same on every page.

// thin separates a number from its unit: a space that does not break.
const thin = "\u00a0"

// fixed prints v with n decimals and never as minus zero.
func fixed(v float64, n int) string {
	return strings.Replace(unit.Fixed(v, n), "-", "\u2212", 1)
}

// mm is a length to a tenth of a millimetre.
func mm(v float64) string { return fixed(v, 1) + thin + "mm" }

// signed is a shift component to a tenth, with its sign.
func signed(v float64) string {
	return strings.Replace(unit.Signed(v), "-", "\u2212", 1)
}

// expanded is the expanded uncertainty (k = 2) of a standard uncertainty.
func expanded(std float64) float64 { return 2 * std }

// plusMinus is a value with its expanded uncertainty, k = 2.
func plusMinus(v, std float64) string {
	return strings.Replace(unit.Spread(v, expanded(std)), "-", "\u2212", 1) + thin + "mm"
}

// besideMM is a length beside a limit in full: as many digits as tell the two apart.
func besideMM(v, limit float64) string {
	return strings.Replace(unit.FixedBeside(v, 1, limit), "-", "\u2212", 1) + thin + "mm"
}

// plusMinusBeside is plusMinus beside a limit in full.
func plusMinusBeside(v, std, limit float64) string {
	return strings.Replace(unit.SpreadBeside(v, expanded(std), limit), "-", "\u2212", 1) + thin + "mm"
}

// percentBeside is percent beside the probability that a verdict asks for.
func percentBeside(p, confidence float64) string {
	return strings.Replace(unit.PercentBeside(p, confidence), " %", thin+"%", 1)
}

// signedBeside is signed beside limits in full.
func signedBeside(v float64, limits ...float64) string {
	s := unit.FixedBeside(v, 1, limits...)
	if v > 0 && strings.Trim(s, "0.") != "" {
		s = "+" + s
	}
	return strings.Replace(s, "-", "\u2212", 1)
}

// percent is a probability; certainty is never claimed by rounding.
func percent(p float64) string {
	return strings.Replace(unit.Percent(p), " %", thin+"%", 1)
}

// money is an amount with grouped digits and its currency.
func money(m unit.Minor, currency string) string { return m.Grouped() + thin + currency }

// minutes is a duration as people say it.
func minutes(v float64) string {
	if !(math.Abs(v) <= 1<<53) { // no whole number that is the same on every machine
		return fmt.Sprintf("%g%smin", v, thin)
	}
	n := int64(math.Round(v))
	switch {
	case n < 60:
		return fmt.Sprintf("%d%smin", n, thin)
	case n%60 == 0:
		return fmt.Sprintf("%d%sh", n/60, thin)
	}
	return fmt.Sprintf("%d%sh %d%smin", n/60, thin, n%60, thin)
}

// elapsed is a time that passes day and night; from two days on in days.
func elapsed(v float64) string {
	if v < 2880 || !(v <= 1<<53) {
		return minutes(v)
	}
	days := math.Floor(v / 1440)
	s := fmt.Sprintf("%d%sdays", int64(days), thin)
	if rest := v - float64(1440*days); math.Round(rest) > 0 {
		s += " " + minutes(rest)
	}
	return s
}

// amount is a quantity of material, with up to two decimals.
func amount(v float64, u string) string {
	s := strconv.FormatFloat(math.Round(v*100)/100, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if u == "piece" {
		if v != math.Trunc(v) {
			return s + " pieces"
		}
		return unit.Pieces(s, v, u)
	}
	if u == "C" {
		u = "°C"
	}
	return strings.TrimSpace(s + thin + u)
}

// unitSigns is how the units of figures that documents write in letters are printed.
var unitSigns = map[string]string{"C": "°C", "um": "µm", "mohm": "mΩ", "ohm": "Ω", "ohm/V": "Ω/V"}

// unitSign is a unit as it is printed.
func unitSign(u string) string { return or(unitSigns[u], u) }

// shownAmount is an amount as somebody wrote it, with all its figures.
func shownAmount(a unit.Amount) string {
	return strings.TrimSuffix(a.String(), " "+a.Unit) + thin + unitSign(a.Unit)
}

// limitsOf is the limits of a reading in words, with the signs of their units.
func limitsOf(r body.Reading) string {
	low, high := r.Low != (unit.Amount{}), r.High != (unit.Amount{})
	switch {
	case low && r.Low == r.High:
		return shownAmount(r.Low)
	case low && high:
		return shownAmount(r.Low) + " to " + shownAmount(r.High)
	case low:
		return "at least " + shownAmount(r.Low)
	case high:
		return "at most " + shownAmount(r.High)
	}
	return ""
}

// day is a date nobody can read the wrong way round.
func day(d unit.Date) string {
	if d.IsZero() {
		return "not given"
	}
	return d.Time().Format("Mon 2 Jan 2006")
}

// moment is a day with the time of day.
func moment(t time.Time) string { return t.Format("Mon 2 Jan 15:04") }

// list joins words as a sentence does: "A, B and C"; more than most are
// counted, not named.
func list(words []string, most int) string {
	if len(words) > most {
		rest := len(words) - most
		return strings.Join(words[:most], ", ") + fmt.Sprintf(" and %d more", rest)
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// sentence ends a text with a full stop, once, and starts it with a capital.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	first, size := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(first)) + s[size:]
	if strings.HasSuffix(s, ".") || strings.HasSuffix(s, "?") || strings.HasSuffix(s, "!") {
		return s
	}
	return s + "."
}
