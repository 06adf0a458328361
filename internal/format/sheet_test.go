package format

import (
	"bytes"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

func sample() Sheet {
	return Sheet{Name: "Order", Columns: []Column{{Name: "name", Width: 20}, {Name: "price [EUR]", Number: true, Money: true}},
		Rows: [][]string{{"Adhesive, grey", "35.20"}, {"=1+1", "0.10"}, {"“Skin”", ""}}}
}

// Constructed: commas are quoted (RFC 4180) and nothing is taken for a formula.
func TestSheetCSV(t *testing.T) {
	b, err := sample().CSV()
	want := "name,price [EUR]\n\"Adhesive, grey\",35.20\n'=1+1,0.10\n“Skin”,\n"
	if err != nil || string(b) != want {
		t.Errorf("%v\n%s", err, b)
	}
	bad := sample()
	bad.Rows[0] = bad.Rows[0][:1]
	if _, err := bad.CSV(); err == nil || !strings.Contains(err.Error(), "row 1 of Order") {
		t.Errorf("a short row: %v", err)
	}
}

// Constructed: what is written is read back, numbers as numbers, and twice the
// same table gives the same bytes.
func TestSheetXLSX(t *testing.T) {
	a, err := sample().XLSX()
	if err != nil {
		t.Fatal(err)
	}
	b, err := sample().XLSX()
	if err != nil || !bytes.Equal(a, b) {
		t.Errorf("other bytes the second time: %v", err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(a))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := f.GetRows("Order")
	if err != nil || len(rows) != 4 || rows[1][0] != "Adhesive, grey" || rows[1][1] != "35.20" || rows[2][0] != "=1+1" {
		t.Errorf("%v %q", err, rows)
	}
	if k, err := f.GetCellType("Order", "B2"); err != nil || k != excelize.CellTypeUnset && k != excelize.CellTypeNumber {
		t.Errorf("the price is no number: %v %v", k, err)
	}
}
