// Package cost prices a plan and weighs repair against total loss, in integer
// minor units. All rounding of money is here: each line is rounded once, half
// away from zero, and the total is the sum of its lines to the minor unit.
package cost

import (
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Bill is a priced plan.
type Bill struct {
	Currency string     `json:"currency"`
	Lines    []Line     `json:"lines"`
	Labour   unit.Minor `json:"labourMinor"`
	Parts    unit.Minor `json:"partsMinor"`
	Material unit.Minor `json:"materialsMinor"`
	Sublet   unit.Minor `json:"subletMinor"`
	Storage  unit.Minor `json:"storageMinor"`
	Net      unit.Minor `json:"netMinor"`
	Tax      unit.Minor `json:"taxMinor"`
	Total    unit.Minor `json:"totalMinor"`
	Loss     []Loss     `json:"totalLoss"`
	IsLoss   bool       `json:"isTotalLoss"` // by the rule that applies in this shop
	Complete bool       `json:"complete"`    // no price is missing
}

// Kinds of line: what a tax can be on, and the tax.
const (
	LineLabour    = shop.OnLabour
	LineParts     = shop.OnParts
	LineMaterials = shop.OnMaterials
	LineSublet    = shop.OnSublet
	LineStorage   = shop.OnStorage
	LineTax       = shop.AmountKind("tax")
)

// Line is one priced line.
type Line struct {
	ID      string          `json:"id"`   // stable: "L-structure", "P-FENDER-L", "M-adhesive", "S-radar", "T-vat"
	Kind    shop.AmountKind `json:"kind"` // labour, parts, materials, sublet, storage, tax
	Text    string          `json:"text"`
	Amount  string          `json:"amount"` // quantity as a person reads it
	Price   unit.Minor      `json:"priceMinor"`
	Sum     unit.Minor      `json:"sumMinor"`
	Steps   []string        `json:"steps,omitempty"`
	Because string          `json:"because"` // the formula with its figures
}

// Loss is what one total-loss rule says.
type Loss struct {
	ID       string            `json:"id"`
	Name     string            `json:"name"`
	Kind     shop.LossKind     `json:"kind"`
	Operator shop.LossOperator `json:"operator"`
	Left     unit.Minor        `json:"leftMinor"`  // repair, or repair plus salvage
	Right    unit.Minor        `json:"rightMinor"` // value times threshold (rounded for display; the comparison is exact)
	IsLoss   bool              `json:"isTotalLoss"`
	Unsure   bool              `json:"unsure,omitempty"` // it is none by what is priced, and a price is missing
	Applies  bool              `json:"applies"`
	Because  string            `json:"because"`
}
