package measure

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// Vehicles of the rare families in which something was firm and wrong before what
// finds them was there. Each must say what makes it doubtful.
func TestRareFaultsAreFoundSeeds1(t *testing.T) {
	for _, c := range []struct {
		family string
		seeds  []uint64
		sign   string // in a reason or a suspicion; empty where silence is enough
	}{
		{"both ends moved alike", []uint64{7, 13, 43, 187}, "the readings fit as well if"},
		{"a set-up knocked, its common points misread", []uint64{9, 12}, "read again in set-up S2"},
		{"a device that drifts", []uint64{26, 46, 138, 200194}, "read again in set-up S1"},
		{"a device that drifts", []uint64{428, 652}, ""},
		{"one axis of a set-up stretched", []uint64{164}, "stretched or sheared as a whole"},
		{"one axis of a set-up stretched", []uint64{108}, "no more than half of the points"},
		{"one axis mirrored", []uint64{6, 10, 30}, "its frame or its unit was another"},
		{"one axis mirrored", []uint64{26}, "no section of a vehicle does"},
		{"one end, impact falsely at the other", []uint64{119, 200012}, ""},
		{"few behind a moved majority, no impact", []uint64{100484, 200192}, "the readings fit as well if"},
		{"few behind a moved majority, impact there", []uint64{200192}, "the readings fit as well if"},
	} {
		all := families()
		f := &all[slices.IndexFunc(all, func(f family) bool { return f.name == c.family })]
		for _, seed := range c.seeds {
			var o outcome
			o.add(f, seed)
			if o.wrong > 0 {
				t.Errorf("%s%s", c.family, o.example)
			}
			_, in := f.made(seed)
			r, _ := Run(in)
			text := strings.Join(r.Why, "; ")
			for _, s := range r.Suspects {
				text += "; " + s.Text
			}
			if !strings.Contains(text, c.sign) {
				t.Errorf("%s, seed %d: %q is not said: %s", c.family, seed, c.sign, text)
			}
		}
	}
}

// A repeat that agrees is no reason for doubt, nor is one misread among three; all of
// them off by the same is. Constructed.
func TestRepeatsOfASetup(t *testing.T) {
	c := newCar(16, 61)
	c.moveRear(0.4, 15)
	for name, off := range map[string][]float64{"agree": {0, 0, 0}, "one misread": {12, 0, 0}, "knocked": {5, 5, 5}} {
		in := c.measure(0.5)
		in.Impact = "rear"
		for k, d := range off {
			rd := in.Readings[k]
			g := c.gauss().Scale(0.5).Add(geom.Vec{d, 0, 0})
			rd.X.Value, rd.Y.Value, rd.Z.Value = rd.X.Value+g[0], rd.Y.Value+g[1], rd.Z.Value+g[2]
			in.Readings = append(in.Readings, rd)
		}
		r, _ := Run(in)
		if told := noted(r, "measure.repeats-disagree", "S1"); told != (name == "knocked") {
			t.Errorf("%s: told %v, why %v", name, told, r.Why)
		}
		if firm := firmPoints(r); name == "agree" && firm == 0 || name == "knocked" && firm > 0 {
			t.Errorf("%s: %d points firm", name, firm)
		}
	}
}

// A point of a block that clearly moved is firm although its own reading alone would
// leave chance: the other points of the block say it too. By itself it is not.
func TestMovedWithItsBlockIsFirmSeeds1(t *testing.T) {
	with, alone := 0, 0
	for seed := uint64(1); seed <= 40; seed++ {
		c, in := oneEnd(seed, "rear")
		r, _ := Run(in)
		h, _ := r.Best()
		for i, p := range h.Points {
			if !p.Moved || p.T2 >= firmMoved || r.Ambiguous {
				continue
			}
			if p.Firm && c.block[i] == 0 {
				t.Errorf("seed %d: %s stood", seed, p.ID)
			}
			if p.Firm {
				with++
			}
		}
	}
	for seed := uint64(1); seed <= 40; seed++ {
		_, in := scattered(seed, 0.1)
		r, _ := Run(in)
		h, _ := r.Best()
		for _, p := range h.Points {
			if p.Firm && p.Moved && p.T2 < firmMoved {
				alone++
			}
		}
	}
	if with < 5 || alone > 0 {
		t.Errorf("%d points of blocks and %d by themselves are firm below %.1f", with, alone, firmMoved)
	}
}
