package app

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// A fault that many rows have is told once, with the rows it holds for.
func TestFaultOfManyRowsIsToldOnce(t *testing.T) {
	ps := []body.Point{{ID: "P1"}}
	var rs []job.Reading
	for _, line := range []int{2, 3, 4, 7, 8, 11} {
		r := job.Reading{Line: line, Setup: "S", Kind: "xyz", From: "P1"}
		r.X.Known, r.Y.Known, r.Z.Known = true, true, true
		rs = append(rs, r)
	}
	rs = append(rs, job.Reading{Line: 12, Setup: "S", Kind: "xyz", From: "P9", X: rs[0].X, Y: rs[0].Y, Z: rs[0].Z})
	got := checkRows(ps, rs, 0)
	if len(got) != 2 || got[0].Line != 2 || !strings.Contains(got[0].Msg, "(7 rows: 2 to 4, 7, 8, 11, 12)") || got[1].Line != 12 || strings.Contains(got[1].Msg, "rows") {
		t.Errorf("%+v", got)
	}
	if one := checkRows(ps, rs[:1], 0); len(one) != 1 || strings.Contains(one[0].Msg, "rows") {
		t.Errorf("%+v", one)
	}
}
