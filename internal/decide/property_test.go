package decide

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide/fixture"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/rule"
)

var zonesOfCheck = fixture.Zones

// randomFacts is a finding with every fact known.
func randomFacts(rng *rand.Rand) rule.Facts {
	var zs []string
	for len(zs) == 0 {
		for _, z := range zonesOfCheck {
			if rng.IntN(4) == 0 {
				zs = append(zs, z)
			}
		}
	}
	num := func(most float64) rule.Value { return rule.NumberValue(rng.Float64()*most, rng.Float64()*2, "mm") }
	lines := [][]string{{}, {"LINE-1"}, {"LINE-1", "LINE-2"}}[rng.IntN(3)]
	onCasting := rng.IntN(8) > 0
	f := rule.Facts{
		body.FactKind: rule.TextValue([]string{"crack", "crack", "crack", "break", "dent", "torn"}[rng.IntN(6)]), body.FactLength: num(70),
		body.FactZones: rule.SetValue(zs...), body.FactOnCasting: rule.BoolValue(onCasting), body.FactBoltOn: rule.BoolValue(rng.IntN(2) == 0),
		body.FactOutboard: rule.SetValue(lines...), body.FactBore: num(40), body.FactBorder: num(40), body.FactSpacing: num(80), body.FactDepth: num(4),
		body.FactThrough: rule.BoolValue(rng.IntN(2) == 0), body.FactTips: rule.TextValue(string([]body.TipMethod{body.TipVisual, body.TipPenetrant}[rng.IntN(2)])),
		body.FactInZone: rule.NumberValue(float64(1+rng.IntN(4)), 0, ""), body.FactCount: rule.NumberValue(float64(1+rng.IntN(6)), 0, ""),
	}
	return f
}

func randomTable(rng *rand.Rand) body.Procedure { return fixture.RandomTable(rng) }

func allowedBy(rs *Ruleset, f rule.Facts) map[string]bool {
	return allowedKinds(rs.Options(rs.Look(f)))
}

// extra names a kind that is allowed by b and not by a.
func extra(a, b map[string]bool) string {
	for k := range b {
		if !a[k] {
			return k
		}
	}
	return ""
}

func moreUncertain(rng *rand.Rand, f rule.Facts, name string) rule.Facts {
	v := f[name]
	return f.With(name, rule.NumberValue(v.Number, v.Std*(1+rng.Float64()*30), "mm"))
}

// In the check procedure, whose rows get stricter with length, with every zone
// and toward a bore, a worse finding never has a treatment that the better one
// has not: seed 11.
func TestWorseNeverGetsMilderSeed11(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 11))
	rs := Compile(checkProcedure(), 0.95)
	sometimes := 0
	n := draws(250, 4000)
	for range n {
		f := randomFacts(rng)
		l, b := f[body.FactLength], f[body.FactBore]
		worse := map[string]rule.Facts{
			"longer":    f.With(body.FactLength, rule.NumberValue(l.Number+rng.Float64()*20, l.Std, "mm")),
			"nearer":    f.With(body.FactBore, rule.NumberValue(b.Number*rng.Float64(), b.Std, "mm")),
			"new zone":  f.With(body.FactZones, rule.SetValue(append(slices.Clone(f[body.FactZones].Words), zonesOfCheck[rng.IntN(5)])...)),
			"length u":  moreUncertain(rng, f, body.FactLength),
			"bore u":    moreUncertain(rng, f, body.FactBore),
			"less line": f.With(body.FactOutboard, rule.SetValue()),
		}
		have := allowedBy(rs, f)
		for name, w := range worse {
			got := allowedBy(rs, w)
			if k := extra(have, got); k != "" {
				t.Fatalf("%s allows %s: %v then %v", name, k, f, w)
			}
			if len(got) < len(have) {
				sometimes++
			}
		}
	}
	if sometimes < n/8 {
		t.Errorf("the property was hardly tried: only %d cases lost a treatment", sometimes)
	}
}

// For any table at all: a fact that is missing, or a larger uncertainty, never
// allows more: seed 12.
func TestIgnoranceNeverAllowsMoreSeed12(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 12))
	lost := 0
	n := draws(100, 1500)
	for range n {
		rs := Compile(randomTable(rng), 0.95)
		f := randomFacts(rng)
		have := allowedBy(rs, f)
		for _, d := range body.FactDefs() {
			without := f.With(d.Name, rule.Unknown(rule.Kind(d.Kind)))
			got := allowedBy(rs, without)
			if d.Name == body.FactOutboard {
				delete(got, "section") // no line is left to name
			}
			if k := extra(have, got); k != "" {
				t.Fatalf("without %s: %s is allowed\n%+v\n%v", d.Name, k, rs.Proc.Rows, f)
			}
			lost += len(have) - len(got)
			if d.Kind == body.FactNumber && d.Unit != "" {
				if k := extra(have, allowedBy(rs, moreUncertain(rng, f, d.Name))); k != "" {
					t.Fatalf("%s more uncertain: %s is allowed\n%+v\n%v", d.Name, k, rs.Proc.Rows, f)
				}
			}
		}
	}
	if lost < n/3 {
		t.Errorf("the property was hardly tried: %d", lost)
	}
}

// With nothing known nothing is allowed, whatever the table: seed 13.
func TestUnknownNeverPermitsSeed13(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 13))
	for range 500 {
		rs := Compile(randomTable(rng), 0.95)
		for _, f := range []rule.Facts{nil, {body.FactOnCasting: rule.BoolValue(true)}} {
			if got := allowedBy(rs, f); len(got) > 0 {
				t.Fatalf("nothing is known and %v is allowed: %+v", got, rs.Proc.Rows)
			}
		}
	}
	if got := Best(nil); got != Ask {
		t.Errorf("no option at all is %v", got)
	}
}

// A kind is never allowed for several zones unless it is for each alone: seed
// 14.
func TestStrictestZoneSeed14(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 14))
	for range draws(250, 1500) {
		rs := Compile(randomTable(rng), 0.95)
		f := randomFacts(rng)
		have := allowedBy(rs, f)
		for _, z := range f[body.FactZones].Words {
			if k := extra(allowedBy(rs, f.With(body.FactZones, rule.SetValue(z))), have); k != "" {
				t.Fatalf("%s is allowed for %v and not for %s alone", k, f[body.FactZones], z)
			}
		}
	}
}

// The order of the rows changes no verdict, and the order of the findings
// changes no decision: seed 15.
func TestOrderChangesNothingSeed15(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 15))
	for range 300 {
		p := randomTable(rng)
		f := randomFacts(rng)
		want := verdicts(Compile(p, 0.95), f)
		rng.Shuffle(len(p.Rows), func(i, j int) { p.Rows[i], p.Rows[j] = p.Rows[j], p.Rows[i] })
		if got := verdicts(Compile(p, 0.95), f); !reflect.DeepEqual(got, want) {
			t.Fatalf("%v, in another order %v", want, got)
		}
	}
	w := newWorld()
	for i := range 8 {
		w.crack(job.FindingID(fmt.Sprint("F", i)), 5+float64(8*i), 1, body.ZoneID(zonesOfCheck[i%5]))
	}
	w.in.Inspect.Findings[2].Group, w.in.Inspect.Findings[5].Group = "G", "G"
	w.in.Job.Findings[7].SameAs = "F1"
	want := byID(Run(w.in))
	for range 20 {
		rng.Shuffle(8, func(i, j int) {
			fs := w.in.Job.Findings
			fs[i], fs[j] = fs[j], fs[i]
		})
		rng.Shuffle(8, reflect.Swapper(w.in.Inspect.Findings))
		if got := byID(Run(w.in)); !reflect.DeepEqual(got, want) {
			t.Fatal("another order of findings, another decision")
		}
	}
}

func verdicts(rs *Ruleset, f rule.Facts) map[string]Verdict {
	out := map[string]Verdict{}
	for _, o := range rs.Options(rs.Look(f)) {
		out[KindText(o)] = o.Verdict
	}
	return out
}

func byID(r Result, _ any) map[job.FindingID]Finding {
	out := map[job.FindingID]Finding{}
	for _, f := range r.Findings {
		out[f.ID] = f
	}
	return out
}

// Every suggestion of what would change a decision comes true for a length:
// seed 16.
func TestSuggestedLengthHoldsSeed16(t *testing.T) {
	rng := rand.New(rand.NewPCG(16, 16))
	rs := Compile(checkProcedure(), 0.95)
	tried := 0
	for range 800 {
		f := randomFacts(rng)
		d := decider{rs: rs, view: rs.Look(f)}
		for _, kr := range rs.kinds {
			_, flip, ok := d.nearest(kr, f, body.FactLength)
			if !ok || rs.allows(kr, f) {
				continue
			}
			tried++
			ceil := f[body.FactLength].Number + flip.By - 0.1 // what the sentence rounds to at most
			if ceil < 0 {
				continue
			}
			if !rs.allows(kr, f.With(body.FactLength, rule.NumberValue(ceil, f[body.FactLength].Std, "mm"))) {
				t.Fatalf("%s: %+v does not come true for %v", kr.kind, flip, f)
			}
		}
	}
	if tried < 50 {
		t.Errorf("only %d suggestions", tried)
	}
}

// big is a job of n findings against a procedure of m rows.
func big(n, m int) *world {
	w := newWorld()
	p := &w.in.Body.Procedures[0]
	p.Rows = nil
	for i := range m {
		z := zonesOfCheck[i%5]
		p.Rows = append(p.Rows, body.Row{ID: fmt.Sprint("R", i), Cite: "CP", Allow: []body.TreatmentKind{body.Weld},
			When: map[string]string{"kind": "crack", "zones": "only " + z, "length": fmt.Sprintf("<= %d mm", 1+i%60)}})
	}
	for i := range n {
		w.crack(job.FindingID(fmt.Sprint("F", i)), float64(i%70), 1, body.ZoneID(zonesOfCheck[i%5]))
	}
	w.in.Inspect.Coverage = []inspect.Coverage{{Area: "A-OPEN-1", Covered: true}}
	return w
}

func BenchmarkRun200Findings500Rows(b *testing.B) {
	w := big(200, 500)
	for b.Loop() {
		Run(w.in)
	}
}
