//go:build outside

package measure

import (
	"bytes"
	"encoding/json"
	"os/exec"
	"testing"

	"fettle/internal/geom"
)

// TestOutsideSciPyFreeNetworks has SciPy adjust lengths alone as free networks: sparse and
// full ones, of a still and a moved body, with gauges of unequal uncertainty.
func TestOutsideSciPyFreeNetworks(t *testing.T) {
	type net struct {
		Nominal []geom.Vec   `json:"nominal"`
		Lengths [][4]float64 `json:"lengths"`
		At      []geom.Vec   `json:"at"`
		Cov     []geom.Mat3  `json:"cov"`
		Rank    int          `json:"rank"`
		Least   float64      `json:"least"`
	}
	var nets []net
	for seed := uint64(1); seed <= 60; seed++ {
		c := newCar(6+int(seed%9), seed)
		if seed%2 == 0 {
			c.moveRear(0.4, 12)
		}
		n := len(c.at)
		in := taped(c, 3*n-4+int(seed%5)*n/2)
		for k := range in.Readings {
			in.Readings[k].Std.Value = []float64{0.2, 0.5, 1.5}[c.rng.IntN(3)]
		}
		p := prepare(in)
		e := p.locate()
		if len(e.points) < minBlock {
			continue
		}
		x := net{At: e.at, Cov: e.cov, Rank: p.form.Rank, Least: p.form.Least}
		for _, pt := range e.points {
			x.Nominal = append(x.Nominal, in.Points[pt].At())
		}
		for k := range p.spans {
			if s := &p.spans[k]; p.spanUsable(e, s) {
				x.Lengths = append(x.Lengths, [4]float64{float64(e.slot[s.from]), float64(e.slot[s.to]), s.value, s.std})
			}
		}
		nets = append(nets, x)
	}
	if len(nets) < 30 {
		t.Fatalf("only %d networks are held", len(nets))
	}
	text, err := json.Marshal(nets)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "testdata/freenet.py")
	cmd.Stdin = bytes.NewReader(text)
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Error(err)
	}
}
