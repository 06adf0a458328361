package app

import (
	"context"
	"encoding/json"

	"fettle/internal/diag"
)

// Names of the files of a result.
const (
	AssessmentFile = "assessment.json"
	ReportFile     = "report.html"
	SheetsFile     = "sheets.html"
	OwnerFile      = "owner.html"
	OrderCSV       = "order.csv"
	OrderXLSX      = "order.xlsx"
)

// ResultNames are all of them, in the order in which they are written.
var ResultNames = []string{AssessmentFile, OrderCSV, OrderXLSX, SheetsFile, OwnerFile, ReportFile}

// ResultFiles makes the files of a result, the report in full if asked, the order list and the day sheets of
// the picked route only where there is one with steps.
func (a *App) ResultFiles(ctx context.Context, c *Opened, r Assessment, full bool) (map[string][]byte, error) {
	page, err := a.Report(ctx, c, r, full)
	if err != nil {
		return nil, err
	}
	owner, err := a.OwnerPage(ctx, c, r)
	if err != nil {
		return nil, err
	}
	data, err := json.MarshalIndent(r, "", "  ")
	if err != nil {
		return nil, err
	}
	out := map[string][]byte{ReportFile: page, OwnerFile: owner, AssessmentFile: append(data, '\n')}
	route, err := a.Picked(c, r, "")
	if diag.KindOf(err) == diag.NotFound {
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	sheet := a.OrderSheet(c, r, route)
	if out[OrderCSV], err = sheet.CSV(); err != nil {
		return nil, err
	}
	if out[OrderXLSX], err = sheet.XLSX(); err != nil {
		return nil, err
	}
	if len(route.Plan.Steps) > 0 {
		out[SheetsFile], err = a.Sheets(ctx, c, r, route)
	}
	return out, err
}
