package app

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"fettle/internal/format"
)

// TestTheSameBodyFromAWorkbook: a table as CSV, as XLSX and pasted gives the same folder.
func TestTheSameBodyFromAWorkbook(t *testing.T) {
	book, err := format.Sheet{Name: "Points", Columns: []format.Column{{Name: "ID"}, {Name: "X [mm]", Number: true}, {Name: "y [cm]", Number: true}, {Name: "Z (in)", Number: true}, {Name: "Tol mm", Number: true}, {Name: "Reference"}},
		Rows: [][]string{{"A", "0.3", "-45", "10", "2", "yes"}, {"B", "0.3", "45", "10", "2", "yes"}, {"C", "1500.25", "0", "11.5", "2.5", "yes"}}}.XLSX()
	if err != nil {
		t.Fatal(err)
	}
	text := "id;x [mm];y [cm];z [in];tol [mm];reference\nA;0,3;-45;10;2;yes\nB;0,3;45;10;2;yes\nC;1500,25;0;11,5;2,5;yes\n"
	files := memory{"p.xlsx": book, "p.csv": []byte(text), "broken.xlsx": book[:len(book)/2], "other.xlsx": nil}
	if files["other.xlsx"], err = (format.Sheet{Name: "A", Columns: []format.Column{{Name: "Place"}}, Rows: [][]string{{"B1"}}}).XLSX(); err != nil {
		t.Fatal(err)
	}
	a := New(files, "test")
	d := BodyDraft{ID: "v", Name: "V", Revision: "1", Source: "S", Currency: "EUR", LoadState: "loaded"}
	want, err := a.NewBody(t.Context(), with(d, func(d *BodyDraft) { d.Points = "p.csv" }))
	if err != nil || !strings.Contains(string(want.Files["points.csv"]), "C,1500.25,0,292.1,2.5,,yes") { // 11.5 in are 292.1 mm
		t.Fatalf("%s %v", want.Files["points.csv"], err)
	}
	for name, x := range map[string]BodyDraft{"workbook": with(d, func(d *BodyDraft) { d.Points = "p.xlsx" }), "pasted": with(d, func(d *BodyDraft) { d.Pasted = []byte(text) })} {
		if got, err := a.NewBody(t.Context(), x); err != nil || !reflect.DeepEqual(got.Files, want.Files) {
			t.Errorf("%s: %s %v", name, got.Files["points.csv"], err)
		}
	}
	for file, told := range map[string]string{"broken.xlsx": "broken.xlsx: is no workbook that can be read", "other.xlsx": "other.xlsx:1: the first row does not name the columns; name them in it; it has at least id, x, y, z", "none.csv": "none.csv"} {
		if _, err := a.NewBody(t.Context(), with(d, func(d *BodyDraft) { d.Points = file })); err == nil || !strings.Contains(err.Error(), told) {
			t.Errorf("%s: %v", file, err)
		}
	}
}

func with(d BodyDraft, change func(*BodyDraft)) BodyDraft {
	change(&d)
	return d
}

// TestAnyWorkbookMakesTheSameBody: tables drawn by chance give the same folder as a workbook and as
// text with a decimal comma, whether or not their numbers show which mark they have.
func TestAnyWorkbookMakesTheSameBody(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 72))
	for range 25 {
		units := []string{"mm", "cm", "m", "in"}
		unit := units[rng.IntN(4)]
		columns := []format.Column{{Name: "ID"}}
		for _, c := range []string{"x", "y", "z", "tol"} {
			columns = append(columns, format.Column{Name: c + " [" + unit + "]", Number: true})
		}
		var rows [][]string
		for i := range 3 + rng.IntN(8) {
			row := []string{fmt.Sprintf("P%d", i)}
			for range 3 {
				row = append(row, fmt.Sprintf("%d.%03d", rng.IntN(20)-10, rng.IntN(1000)))
			}
			rows = append(rows, append(row, "0.1"))
		}
		book, err := format.Sheet{Name: "Points", Columns: columns, Rows: rows}.XLSX()
		if err != nil {
			t.Fatal(err)
		}
		var text strings.Builder
		for i, c := range columns {
			text.WriteString(strings.Repeat(";", min(i, 1)) + c.Name)
		}
		for _, r := range rows {
			text.WriteString("\n" + strings.ReplaceAll(strings.Join(r, ";"), ".", ","))
		}
		a := New(memory{"p.xlsx": book}, "test")
		d := BodyDraft{ID: "v", Name: "V", Revision: "1", Source: "S", Currency: "EUR", LoadState: "loaded", References: []string{"P0", "P1", "P2"}}
		got, err := a.NewBody(t.Context(), with(d, func(d *BodyDraft) { d.Points = "p.xlsx" }))
		want, other := a.NewBody(t.Context(), with(d, func(d *BodyDraft) { d.Pasted = []byte(text.String()) }))
		if (err == nil) != (other == nil) || !reflect.DeepEqual(got.Files, want.Files) {
			t.Fatalf("%s\n%s %v\n%s %v", text.String(), got.Files["points.csv"], err, want.Files["points.csv"], other)
		}
	}
}
