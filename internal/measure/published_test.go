package measure

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// example is a file of testdata: a car in one set-up, and what is expected.
type example struct {
	in   Input
	want map[string][]string
	// shifts are the lines "shift ID x y z t2".
	shifts [][]string
}

func readExample(t *testing.T, name string) example {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	head, tail, ok := strings.Cut(string(raw), "\n----\n")
	if !ok || !strings.HasPrefix(head, "tolerance:") {
		t.Fatalf("%s: want a first line with the tolerance and a line of dashes", name)
	}
	e := example{want: map[string][]string{}, in: Input{Impact: "unknown"}}
	std := 0.0
	for _, line := range strings.Split(head, "\n")[1:] {
		f := strings.Fields(line)
		switch {
		case len(f) == 0 || f[0] == "#" || strings.HasPrefix(f[0], "#"):
		case f[0] == "std":
			std = numbers(t, f[1:])[0]
		case f[0] == "section":
			v := numbers(t, f[2:])
			e.in.Sections = append(e.in.Sections, body.Section{ID: body.SectionID(f[1]), About: geom.Vec{v[0], v[1], v[2]}})
		default:
			v := numbers(t, f[1:7])
			pt := body.Point{ID: body.PointID(f[0]), X: v[0], Y: v[1], Z: v[2], Std: unit.Some(0.0), Tol: unit.Some(3.0)}
			if len(f) > 7 {
				pt.Section = body.SectionID(f[7])
			}
			e.in.Points = append(e.in.Points, pt)
			e.in.Readings = append(e.in.Readings, job.Reading{Setup: "S1", Kind: "xyz", From: pt.ID,
				X: unit.Some(v[3]), Y: unit.Some(v[4]), Z: unit.Some(v[5]), Std: unit.Some(std)})
		}
	}
	for _, line := range strings.Split(strings.TrimSpace(tail), "\n") {
		f := strings.Fields(line)
		if f[0] == "#" {
			continue
		}
		if f[0] == "shift" {
			e.shifts = append(e.shifts, f[1:])
		} else {
			e.want[f[0]] = f[1:]
		}
	}
	return e
}

func numbers(t *testing.T, f []string) []float64 {
	t.Helper()
	v := make([]float64, len(f))
	for i, s := range f {
		var err error
		if v[i], err = strconv.ParseFloat(s, 64); err != nil {
			t.Fatal(err)
		}
	}
	return v
}

func words(ids []body.PointID) []string {
	out := []string{}
	for _, id := range ids {
		out = append(out, string(id))
	}
	return out
}

// The tolerances are half a unit of the last digit the expected values are
// written with, as the first line of each file says.
func TestExamples(t *testing.T) {
	for _, name := range []string{"two-single-points.txt", "rear-section.txt"} {
		t.Run(name, func(t *testing.T) {
			e := readExample(t, name)
			r, _ := Run(e.in)
			h, ok := r.Best()
			if !ok {
				t.Fatalf("no hypothesis: %+v", r.Notes)
			}
			checkIDs(t, "steady", words(h.Steady), e.want["steady"])
			checkIDs(t, "moved", words(h.Moved), e.want["moved"])
			pose := h.Setups["S1"]
			checkVec(t, "rotation", pose.RotationDeg, numbers(t, e.want["rotation"]), 0.000051)
			checkVec(t, "translation", pose.TranslationMM, numbers(t, e.want["translation"]), 0.00051)
			chi := numbers(t, e.want["chi2"])
			near(t, "chi2", h.Chi2, chi[0], 0.0051)
			near(t, "dof", float64(h.DOF), chi[1], 0)
			near(t, "hypotheses", float64(len(r.Hypotheses)), numbers(t, e.want["hypotheses"])[0], 0)
			if s := e.want["score"]; s != nil {
				near(t, "score", h.Score, numbers(t, s)[0], 0.051)
			}
			checkShifts(t, e, h)
			if s := e.want["second-steady"]; s != nil {
				checkSecond(t, e, r, s)
			}
		})
	}
}

func checkSecond(t *testing.T, e example, r Result, steady []string) {
	t.Helper()
	if len(r.Hypotheses) < 2 || !r.Ambiguous || len(r.Why) == 0 {
		t.Fatalf("want a second hypothesis and a reason: %v", r.Why)
	}
	h := r.Hypotheses[1]
	checkIDs(t, "second steady", words(h.Steady), steady)
	chi := numbers(t, e.want["second-chi2"])
	near(t, "second chi2", h.Chi2, chi[0], 0.0051)
	near(t, "second dof", float64(h.DOF), chi[1], 0)
	near(t, "second score", h.Score, numbers(t, e.want["second-score"])[0], 0.051)
}

func checkShifts(t *testing.T, e example, h Hypothesis) {
	t.Helper()
	named := map[string]bool{}
	for _, f := range e.shifts {
		p, ok := h.Point(body.PointID(f[0]))
		if !ok {
			t.Fatalf("point %s has no result", f[0])
		}
		v := numbers(t, f[1:])
		checkVec(t, "shift "+f[0], p.ShiftMM, v[:3], 0.0051)
		near(t, "t2 "+f[0], p.T2, v[3], 0.051)
		named[f[0]] = true
	}
	if o := e.want["others"]; o != nil {
		for _, p := range h.Points {
			if !named[string(p.ID)] && p.T2 >= numbers(t, o[1:])[0] {
				t.Errorf("point %s: t2 %.2f, want below %s", p.ID, p.T2, o[1])
			}
		}
	}
}

func checkIDs(t *testing.T, what string, got, want []string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("%s = %v, want %v", what, got, want)
	}
}

func checkVec(t *testing.T, what string, got geom.Vec, want []float64, tol float64) {
	t.Helper()
	for k := range got {
		near(t, fmt.Sprintf("%s %s", what, axisName[k]), got[k], want[k], tol)
	}
}

// The section of the second example; see the file. The standard deviations are
// those of the section's own readings. Those with the steady block's uncertainty
// in it must be larger.
func TestRearSectionMotion(t *testing.T) {
	e := readExample(t, "rear-section.txt")
	want := func(key string) []float64 { return numbers(t, e.want[key]) }
	r, _ := Run(e.in)
	h, _ := r.Best()
	if len(h.Sections) != 1 {
		t.Fatalf("sections: %+v", h.Sections)
	}
	s := h.Sections[0]
	checkIDs(t, "points", words(s.Points), []string{"11", "12", "13", "14", "15", "16"})
	checkVec(t, "translation", s.TranslationMM, want("section-translation"), 5.1e-5)
	checkVec(t, "rotation", s.RotationDeg, want("section-rotation"), 5.1e-6)
	checkVec(t, "translation std", s.OwnTranslation, want("section-own-std")[:3], 0.0051)
	checkVec(t, "rotation std", s.OwnRotation, want("section-own-std")[3:], 0.00051)
	near(t, "chi2", s.Chi2, want("section-chi2")[0], 5.1e-4)
	near(t, "dof", float64(s.DOF), want("section-chi2")[1], 0)
	for k := range s.TranslationStd {
		if s.TranslationStd[k] <= s.OwnTranslation[k] || s.RotationStd[k] <= s.OwnRotation[k] {
			t.Errorf("axis %d: the uncertainty of the steady block is missing", k)
		}
	}
	far, w := s.Stations[len(s.Stations)-1], want("section-far")
	near(t, "far station", far.XMM, w[0], 0)
	checkVec(t, "motion at the far end", geom.Vec{far.Mash.Value, far.Sidesway.Value, far.Sag.Value}, w[1:], 5.1e-5)
}

// Source: plane geometry. A section 1500 long and 1000 wide whose right rail is
// set back by 10 mm without any swing: diamond is 10/1000 as an angle and 10 mm
// as set-back. A section that only turned about z shows none.
func TestDiamondIsNotYaw(t *testing.T) {
	diamond := func(shift func(at geom.Vec) geom.Vec) *Station {
		c := newCar(24, 90)
		for i, x := range []float64{3200, 3200, 3950, 3950, 4700, 4700} {
			c.at[18+i] = geom.Vec{x, 500 * float64(2*(i%2)-1), 300 + 40*float64(i)}
			c.shift[18+i] = shift(c.at[18+i]).Add(geom.Vec{0, 0, 40})
		}
		in := c.measure(0.05)
		in.Impact, in.Sections = "rear", []body.Section{{ID: "tail", About: geom.Vec{3200, 0, 300}}}
		for i := 18; i < 24; i++ {
			in.Points[i].Section = "tail"
		}
		r, _ := Run(in)
		h, _ := r.Best()
		for _, s := range h.Sections {
			if s.ID == "tail" && len(s.Points) == 6 {
				return &s.Stations[1]
			}
		}
		t.Fatalf("no section: %+v", h.Sections)
		return nil
	}
	st := diamond(func(at geom.Vec) geom.Vec {
		if at[1] > 0 {
			return geom.Vec{10, 0, 0}
		}
		return geom.Vec{}
	})
	near(t, "diamond", st.Diamond.Value, 10./1000*degree, 4*st.Diamond.Std)
	near(t, "its std", st.Diamond.Std, 0.003, 0.002)
	near(t, "set-back", st.DiamondMM.Value, 10, 0.2)
	st = diamond(func(at geom.Vec) geom.Vec {
		return geom.FromRotationVector(geom.Vec{0, 0, 0.01}).MulVec(at.Sub(geom.Vec{3200, 0, 0})).Sub(at.Sub(geom.Vec{3200, 0, 0}))
	})
	near(t, "set-back of a swing", st.DiamondMM.Value, 0, 0.3)
	near(t, "sidesway at the far end", st.Sidesway.Value, 15, 0.5)
}
