package decide

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// extreme is a plate with one crack F1 that may be welded by a row on one fact, and a
// second element of that fact: one whose mean is better than that of the first, and
// which is known well or not.
type extreme struct {
	fact, limit string
	first       func(*plate)            // the first element, well known
	second      func(p *plate, ok bool) // the second, well known or not
}

// fromEdge is a line from edge to edge of the plate at x.
func fromEdge(x float64) []geom.Vec { return []geom.Vec{{x, 0, 0}, {x, 100, 0}} }

// tip finds the last tip of F1 by penetrant or by eye.
func tip(p *plate, ok bool) {
	if f := &p.in.Job.Findings[0]; !ok {
		f.Tips[1] = body.TipVisual
	}
}

func stdOf(ok bool, rough float64) float64 {
	if ok {
		return 0.05
	}
	return rough
}

// extremes is every fact that is the least, the most, or the sum of several elements, or
// what holds for all of them. F1 is from x 20 to 30 mm at y 30; a tip seen by eye runs 0
// to 6 mm on, which is 3 with a standard uncertainty of 1.73 mm. A limit is 2.5 mm off the
// mean of the rougher element: between 92 and 95 % keep it, of the first surely all.
func extremes() map[string]extreme {
	crack := func(p *plate, id string, std float64, trace ...geom.Vec) *job.Finding {
		return p.crack(id, std, trace...)
	}
	bore := func(p *plate, id string, x float64) {
		p.in.Body.Castings[0].Bores = append(p.in.Body.Castings[0].Bores, body.Bore{ID: id, At: geom.Vec{x, 30, 0}, Axis: geom.Vec{0, 0, 1}, Radius: 2})
	}
	return map[string]extreme{
		"spacing": {"spacing", ">= 10 mm", func(p *plate) { crack(p, "F2", 0.05, geom.Vec{20, 42, 0}, geom.Vec{30, 42, 0}) },
			func(p *plate, ok bool) { crack(p, "F3", stdOf(ok, 2), geom.Vec{20, 17.5, 0}, geom.Vec{30, 17.5, 0}) }},
		"bore": {"bore_clearance", ">= 8.5 mm", func(p *plate) { bore(p, "N", 8) }, func(p *plate, ok bool) { bore(p, "M", 46); tip(p, ok) }},
		"edge": {"edge_clearance", ">= 8.5 mm", func(p *plate) {
			p.in.Body.Castings[0].Edges = []body.Edge{{ID: "E1", Along: fromEdge(10)}}
		}, func(p *plate, ok bool) {
			p.in.Body.Castings[0].Edges = append(p.in.Body.Castings[0].Edges, body.Edge{ID: "E2", Along: fromEdge(44)})
			tip(p, ok)
		}},
		"joint": {"joint_clearance", ">= 8.5 mm", func(p *plate) {
			p.in.Body.Joints = []body.Joint{{ID: "J1", Layers: []body.PartID{"P-FRONT", "P-2"}, Along: [][]geom.Vec{fromEdge(10)}}}
		}, func(p *plate, ok bool) {
			p.in.Body.Joints = append(p.in.Body.Joints, body.Joint{ID: "J2", Layers: []body.PartID{"P-FRONT", "P-2"}, Along: [][]geom.Vec{fromEdge(44)}})
			tip(p, ok)
		}},
		"earlier repair": {"earlier_clearance", ">= 8.5 mm", func(p *plate) {
			p.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-2", Length: 5, Trace: []geom.Vec{{20, 40, 0}, {25, 40, 0}}, Std: 0.05}}
		}, func(p *plate, ok bool) {
			p.in.Job.Earlier = append(p.in.Job.Earlier, job.Earlier{Zone: "OPEN-1", Length: 5, Trace: []geom.Vec{{20, 19, 0}, {25, 19, 0}}, Std: unit.MM(stdOf(ok, 2))})
		}},
		"border": {"border_clearance", ">= 5.5 mm", func(p *plate) { p.in.Job.Findings[0].Trace = []geom.Vec{{25, 26, 0}, {25, 29, 0}} }, tip},
		"side of a section line": {"section_margin", ">= 4.5 mm", func(p *plate) {
			p.in.Body.Lines = []body.Line{{ID: "LINE-1", Name: "cut", Casting: "FRONT", Normal: geom.Vec{1, 0, 0}, Offset: 100, Margin: 1}}
			p.in.Job.Findings[0].Trace = []geom.Vec{{94, 30, 0}, {80, 33, 0}, {90, 36, 0}}
		}, tip},
		"grouped length": {"length", "<= 24 mm", func(*plate) {}, func(p *plate, ok bool) {
			crack(p, "F2", stdOf(ok, 3), geom.Vec{30 + 6.5, 30, 0}, geom.Vec{30 + 20, 30, 0})
		}},
		"lengths together": {"crack_length_on_casting", "<= 40 mm", func(*plate) {}, func(p *plate, ok bool) {
			f := crack(p, "F2", 0.05, geom.Vec{100, 70, 0}, geom.Vec{126, 70, 0})
			if !ok {
				f.Tips = []body.TipMethod{body.TipVisual, body.TipVisual}
			}
		}},
		"number": {"count_on_casting", "<= 1", func(*plate) {}, func(p *plate, ok bool) {
			if !ok {
				crack(p, "F2", 0.05, geom.Vec{100, 70, 0}, geom.Vec{120, 70, 0})
			}
		}},
		"tips of all": {"tips", "penetrant or stop-hole", func(*plate) {}, func(p *plate, ok bool) {
			f := crack(p, "F2", 0.05, geom.Vec{33, 30, 0}, geom.Vec{40, 30, 0})
			if !ok {
				f.Tips[1] = body.TipVisual
			}
		}},
		"depth of all": {"depth", "<= 1 mm", func(p *plate) { p.in.Job.Findings[0].Depth = unit.Some(unit.MM(0.6)) }, func(p *plate, ok bool) {
			f := crack(p, "F2", 0.05, geom.Vec{33, 30, 0}, geom.Vec{40, 30, 0})
			f.Depth, f.DepthStd = unit.Some(unit.MM(0.5)), unit.MM(stdOf(ok, 0.4))
		}},
		"through at all": {"through", "no", func(*plate) {}, func(p *plate, ok bool) {
			f := crack(p, "F2", 0.05, geom.Vec{33, 30, 0}, geom.Vec{40, 30, 0})
			if !ok {
				f.Through = "unknown"
			}
		}},
		"zones of all": {"zones", "only OPEN-2", func(*plate) {}, func(p *plate, ok bool) {
			p.in.Job.Findings[0].Trace = []geom.Vec{{25, 28, 0}, {25, 35, 0}}
			tip(p, ok)
		}},
	}
}

func extremePlate(t *testing.T, x extreme) *plate {
	p := newPlate(t)
	p.in.Body.Castings[0].Bores = []body.Bore{}
	rules := &p.in.Body.Procedures[0]
	rules.TipVisual, rules.GroupGap = 3, 5
	rules.Rows = []body.Row{{ID: "w", Cite: "constructed", When: map[string]string{"kind": "crack", x.fact: x.limit}, Allow: []body.TreatmentKind{body.Weld}}}
	p.in.Job.Castings[0].Looked = true
	p.crack("F1", 0.05, geom.Vec{20, 30, 0}, geom.Vec{30, 30, 0})
	return p
}

// anew decides on the plate with its body looked at anew.
func (p *plate) anew(t *testing.T) decided {
	p.vehicle = vehicle.New(p.in.Body, map[body.CastingID]*mesh.Surface{"FRONT": plateSurface(t)})
	return p.decide()
}

// Every extreme counts all its elements: a second one that is farther, shorter or later
// by its mean than the first, but known less well, takes the permission away; known as
// well as the first it does not.
func TestEveryExtremeCountsAllItsElements(t *testing.T) {
	for name, x := range extremes() {
		for _, c := range []struct {
			what string
			do   func(*plate)
			ok   bool
		}{{"one", func(*plate) {}, true}, {"two, well known", func(p *plate) { x.second(p, true) }, true}, {"two, one of them roughly", func(p *plate) { x.second(p, false) }, false}} {
			p := extremePlate(t, x)
			x.first(p)
			c.do(p)
			d := p.anew(t)
			got := option(d.out.Findings[0], body.Weld)
			if (got == Allowed) != c.ok {
				t.Errorf("%s, %s: a weld is %v; %+v", name, c.what, got, d.out.Findings[0].Options)
			}
		}
	}
}

// A branch has one tip only where the mesh bears it out that it is one: what is said to
// fork off a crack 60 mm away has an end that nobody looked at. Constructed.
func TestABranchThatIsNoneHasAnUnseenEnd(t *testing.T) {
	for _, c := range []struct {
		from geom.Vec
		ok   bool
	}{{geom.Vec{25, 30, 0}, true}, {geom.Vec{90, 60, 0}, false}} {
		x := extremes()["tips of all"]
		p := extremePlate(t, x)
		f := p.crack("F2", 0.05, c.from, c.from.Add(geom.Vec{0, 6, 0}))
		f.BranchOf, f.Tips = "F1", []body.TipMethod{"penetrant"}
		d := p.anew(t)
		if got := option(d.out.Findings[1], body.Weld); (got == Allowed) != c.ok {
			t.Errorf("from %v: a weld is %v, %+v", c.from, got, d.out.Findings[1].Options)
		}
	}
}

// moreRows is a procedure of rows on facts that more elements make worse, each with a
// limit somewhere, and none that permits for being near, long or many.
func moreRows(rng *rand.Rand) []body.Row {
	kinds := []body.TreatmentKind{body.Dress, body.Weld, body.WeldBacking, body.Leave}
	limit := map[string]func() string{
		"length": func() string { return fmt.Sprintf("<= %d mm", 8+rng.IntN(60)) }, "crack_length_on_casting": func() string { return fmt.Sprintf("<= %d mm", 30+rng.IntN(150)) },
		"crack_length_in_zone": func() string { return fmt.Sprintf("< %d mm", 15+rng.IntN(100)) }, "count_on_casting": func() string { return fmt.Sprintf("<= %d", 1+rng.IntN(6)) },
		"count_in_zone": func() string { return fmt.Sprintf("< %d", 2+rng.IntN(4)) }, "through": func() string { return "no" }, "tips": func() string { return "penetrant or stop-hole" },
		"depth": func() string { return "<= 1 mm" }, "zones": func() string { return "only OPEN-1, OPEN-2, GUARDED-1" }, "section_margin": func() string { return fmt.Sprintf(">= %d mm", rng.IntN(20)) },
	}
	for _, f := range []string{"spacing", "bore_clearance", "border_clearance", "edge_clearance", "joint_clearance", "earlier_clearance"} {
		limit[f] = func() string { return fmt.Sprintf(">= %d mm", 2+rng.IntN(25)) }
	}
	names := slices.Sorted(maps.Keys(limit))
	var out []body.Row
	for i := range 8 {
		when := map[string]string{}
		for range 1 + rng.IntN(2) {
			n := names[rng.IntN(len(names))]
			when[n] = limit[n]()
		}
		out = append(out, body.Row{ID: fmt.Sprint("r", i), Cite: "constructed", When: when, Allow: []body.TreatmentKind{kinds[rng.IntN(len(kinds))]}})
	}
	return out
}

// morePlate is a plate with one of everything, and a few cracks.
func morePlate(t *testing.T, rng *rand.Rand) *plate {
	p := newPlate(t)
	b, rules := p.in.Body, &p.in.Body.Procedures[0]
	rules.TipVisual, rules.GroupGap, rules.Rows = unit.MM(4*rng.Float64()), unit.MM(1+8*rng.Float64()), moreRows(rng)
	b.Castings[0].Edges = []body.Edge{{ID: "E", Along: fromEdge(0)}}
	b.Joints = []body.Joint{{ID: "J", Layers: []body.PartID{"P-FRONT", "P-2"}, Along: [][]geom.Vec{fromEdge(198)}}}
	b.Lines = []body.Line{{ID: "LINE-1", Name: "cut", Casting: "FRONT", Normal: geom.Vec{1, 0, 0}, Offset: unit.MM(120 + 60*rng.Float64()), Margin: 1}}
	p.in.Job.Earlier = []job.Earlier{{Zone: "CRITICAL-1", Length: 5, Trace: []geom.Vec{{150, 92, 0}, {155, 92, 0}}, Std: 0.5}}
	for i := range 1 + rng.IntN(3) {
		moreCrack(p, rng, fmt.Sprint("F", i+1))
	}
	return p
}

func moreCrack(p *plate, rng *rand.Rand, id string) *job.Finding {
	x, y, l := 15+100*rng.Float64(), 4+90*rng.Float64(), 4+25*rng.Float64()
	f := p.crack(id, 0.1+rng.Float64()*float64(rng.IntN(3)), geom.Vec{x, y, 0}, geom.Vec{x + l, min(98, y+6*rng.Float64()), 0})
	f.Through, f.Depth, f.DepthStd = []body.YesNo{"no", "unknown"}[rng.IntN(2)], unit.Some(unit.MM(0.3+rng.Float64())), unit.MM(0.2*rng.Float64())
	for k := range f.Tips {
		f.Tips[k] = []body.TipMethod{"penetrant", body.TipVisual, "stop-hole"}[rng.IntN(3)]
	}
	return f
}

// more is everything that adds an element, or more crack, or makes one less certain.
func more(rng *rand.Rand) map[string]func(*plate) {
	at := func() geom.Vec { return geom.Vec{5 + 190*rng.Float64(), 5 + 90*rng.Float64(), 0} }
	kinds := []body.FindingKind{"crack", "break", "torn", "dent", "bend"}
	k, end, by := rng.IntN(3), rng.IntN(2), 1+15*rng.Float64()
	one := func(p *plate) *job.Finding { return &p.in.Job.Findings[k%len(p.in.Job.Findings)] }
	return map[string]func(*plate){
		"another finding": func(p *plate) { moreCrack(p, rng, "N").Kind = kinds[rng.IntN(len(kinds))] },
		"another crack beside one": func(p *plate) {
			f := one(p)
			y := f.Trace[0][1] + []float64{-1, 1}[rng.IntN(2)]*(2+10*rng.Float64())
			p.crack("N", 0.1+2*rng.Float64(), geom.Vec{f.Trace[0][0], max(1, min(99, y)), 0}, geom.Vec{f.Trace[0][0] + 5, max(1, min(99, y)), 0})
		},
		"another bore": func(p *plate) {
			c := &p.in.Body.Castings[0]
			c.Bores = append(slices.Clone(c.Bores), body.Bore{ID: "N", At: at(), Axis: geom.Vec{0, 0, 1}, Radius: 2})
		},
		"another edge": func(p *plate) {
			c := &p.in.Body.Castings[0]
			c.Edges = append(slices.Clone(c.Edges), body.Edge{ID: "N", Along: fromEdge(at()[0])})
		},
		"another joint": func(p *plate) {
			p.in.Body.Joints = append(slices.Clone(p.in.Body.Joints), body.Joint{ID: "N", Layers: []body.PartID{"P-FRONT", "P-2"}, Along: [][]geom.Vec{fromEdge(at()[0])}})
		},
		"another earlier repair": func(p *plate) {
			x := at()
			p.in.Job.Earlier = append(slices.Clone(p.in.Job.Earlier), job.Earlier{Zone: body.ZoneID(zonesOfCheck[min(4, int(x[1]/bandMM))]), Length: 4, Trace: []geom.Vec{x, x.Add(geom.Vec{4, 0, 0})}, Std: unit.MM(0.1 + 3*rng.Float64())})
		},
		"more crack": func(p *plate) {
			if f := one(p); f.Tips[end] != body.TipVisual {
				goOn(f, end, by)
			}
		},
		"more crack seen by eye": func(p *plate) {
			if f := one(p); f.Tips[end] == body.TipVisual {
				goOn(f, end, by)
			}
		},
		"on to a surer end": func(p *plate) {
			f := one(p)
			goOn(f, end, 2*float64(p.in.Body.Procedures[0].TipVisual)+by)
			f.Tips[end] = "stop-hole"
		},
		"less certain": func(p *plate) { one(p).Std += unit.MM(3 * rng.Float64()) },
		"by eye":       func(p *plate) { one(p).Tips[end] = body.TipVisual },
		"a relation":   func(p *plate) { relate(p, rng) },
	}
}

// goOn draws a crack on, straight, as far as the plate goes.
func goOn(f *job.Finding, end int, by float64) {
	f.Trace[end] = f.Trace[end].Add(f.Trace[end].Sub(f.Trace[1-end]).Unit().Scale(by))
	f.Trace[end][0], f.Trace[end][1] = max(1, min(199, f.Trace[end][0])), max(1, min(99, f.Trace[end][1]))
}

// elsewhere is what shows that a crack did not run on where its end, seen by eye, left
// it open: beyond that end, off the way to a bore, an edge or a zone. A surer end is also
// what a row about tips asks for. Longer the crack is in any case.
var elsewhere = []string{"on to a surer end", "more crack seen by eye"}

// byLength is the rows about length, number and depth.
func byLength(rows []body.Row) []body.Row {
	return slices.DeleteFunc(slices.Clone(rows), func(r body.Row) bool {
		for f := range r.When {
			if !slices.Contains([]string{"length", "crack_length_on_casting", "count_on_casting", "through", "depth"}, f) {
				return true
			}
		}
		return false
	})
}

// relate says of a finding that it is another face, or a branch, of one that is not near
// it.
func relate(p *plate, rng *rand.Rand) {
	fs := p.in.Job.Findings
	i, j := rng.IntN(len(fs)), rng.IntN(len(fs))
	if i == j || fs[i].Trace[0].Dist(fs[j].Trace[0]) < 60 {
		return
	}
	if rng.IntN(2) == 0 {
		fs[i].SameAs = fs[j].ID
	} else {
		fs[i].BranchOf, fs[i].Tips = fs[j].ID, fs[i].Tips[1:]
	}
}

// Whatever is added to a plate, or goes on, or is known less well, or is said of two
// findings that lie elsewhere: no finding may be treated as it might not before. Where two
// come to be one their number is less, which is what a group is. Seed 62.
func TestMoreNeverPermitsMoreSeed62(t *testing.T) {
	rng := rand.New(rand.NewPCG(62, 62))
	took := map[string]int{}
	for range draws(10, 1200) {
		p := morePlate(t, rng)
		before := p.anew(t)
		was := before.allowed()
		all := more(rng)
		for _, name := range slices.Sorted(maps.Keys(all)) {
			do := all[name]
			p, before, was := p, before, was
			if slices.Contains(elsewhere, name) {
				p = p.with(func(_ *job.State, b *body.Body) { b.Procedures[0].Rows = byLength(b.Procedures[0].Rows) })
				before = p.decide()
				was = before.allowed()
			}
			inBody := slices.Contains([]string{"another bore", "another edge", "another joint"}, name)
			q := p.with(func(j *job.State, b *body.Body) {
				if inBody {
					b.Castings = slices.Clone(b.Castings)
				}
			})
			do(q)
			decide := q.decide
			if inBody {
				decide = func() decided { return q.anew(t) }
			}
			after := decide()
			if crackCount(after) < crackCount(before) {
				continue
			}
			is := after.allowed()
			if w := won(was, is); w != "" {
				t.Fatalf("%s allows %s\n%+v\nthen\n%+v\n%+v", name, w, p.in.Job.Findings, q.in.Job.Findings, p.in.Body.Procedures[0].Rows)
			}
			if lost(was, is) > 0 {
				took[name]++
			}
		}
	}
	for name := range more(rng) {
		if n := draws(0, 1); took[name] < n {
			t.Errorf("%s took nothing away: %v", name, took)
		}
	}
	if len(took) < 6 {
		t.Errorf("the law was hardly tried: %v", took)
	}
}
