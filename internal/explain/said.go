package explain

import (
	"fettle/internal/diag"
	"fettle/internal/report"
)

// each is sentences that others have made, each a reason with one code.
func each(code, template string, sentences []string) []Reason {
	var out []Reason
	for _, s := range sentences {
		if s != "" {
			out = append(out, because(diag.Say(code, template, s)))
		}
	}
	return out
}

// share is a part of one, as the report prints it.
func share(x float64) diag.Figure { return diag.Figure{Text: report.Percent(x), Value: x} }

// minutes is a time of work.
func minutes(min float64) diag.Figure {
	return diag.Figure{Text: report.Minutes(min), Value: min, Unit: "min"}
}

// far is a length with what it is uncertain by.
func far(mm, std float64) diag.Figure {
	return diag.Figure{Text: report.Far(mm, std), Value: mm, Unit: "mm"}
}

// amount is so much of a material.
func amount(x float64, of string) diag.Figure {
	return diag.Figure{Text: used(x, of), Value: x, Unit: of}
}
