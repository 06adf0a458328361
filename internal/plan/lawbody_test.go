package plan

import (
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// lawVehicle is a body and a shop that laws are tried on.
type lawVehicle struct {
	name string
	body *body.Body
	shop *shop.Shop
}

// lawVehicles are the demonstration's body, that of the page "your own vehicle", and the
// one of the page on body folders.
func lawVehicles(t testing.TB) []lawVehicle {
	t.Helper()
	read := func(name string) []byte {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	folder := func(dir string) map[string][]byte {
		files := map[string][]byte{}
		err := fs.WalkDir(os.DirFS(dir), ".", func(p string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() {
				files[strings.TrimSuffix(p, ".gz")] = read(dir + "/" + p)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return files
	}
	decode := func(name string, files map[string][]byte, sh []byte) lawVehicle {
		b, err := body.Decode(files)
		if err != nil {
			t.Fatal(err)
		}
		s, err := shop.Decode("shop.yaml", sh)
		if err != nil {
			t.Fatal(err)
		}
		return lawVehicle{name, b, s}
	}
	guide := map[string][]byte{"channel.ply": nil}
	var guideShop []byte
	for _, m := range regexp.MustCompile("(?s)```(?:yaml|csv) (van/|)(\\S+)\n(.*?)```").FindAllStringSubmatch(string(read("../../docs/first-vehicle.md")), -1) {
		switch {
		case m[1] != "":
			guide[m[2]] = []byte(m[3])
		case m[2] == "shop.yaml":
			guideShop = []byte(m[3])
		}
	}
	demoShop := read("../demo/files/shop.yaml")
	page := decode("page", folder("../body/testdata/good"), demoShop)
	page.shop.Currency = page.body.Currency
	page.shop.Equipment = append(page.shop.Equipment, "cold saw")
	return []lawVehicle{decode("demo", folder("../demo/files/body"), demoShop), decode("guide", guide, guideShop), page}
}

// lawJob is a random job on a vehicle: findings, a treatment for each, and sometimes
// another shop.
func lawJob(v lawVehicle, seed uint64) Input {
	rng := rand.New(rand.NewPCG(seed, 2515))
	in := Input{Body: v.body, Shop: lawShop(v.shop, rng), Job: &job.State{Start: unit.Date{Year: 2026, Month: time.March, Day: 2 + rng.IntN(5)}}, Seams: map[body.LineID]float64{}}
	for _, l := range v.body.Lines {
		in.Seams[l.ID] = 300 + 400*rng.Float64()
	}
	finding := func(part body.PartID, kind body.FindingKind, zones ...inspect.ZoneShare) job.FindingID {
		id := job.FindingID(fmt.Sprintf("F%d", len(in.Job.Findings)+1))
		f := inspect.Finding{ID: id, Kind: kind, Part: part, Zones: zones, Length: &inspect.Length{MM: 5 + float64(rng.IntN(35))}}
		if len(zones) > 0 {
			f.Casting = v.body.Castings[0].ID
		}
		in.Job.Findings = append(in.Job.Findings, job.Finding{ID: id, Kind: kind, Part: part})
		in.Inspect.Findings = append(in.Inspect.Findings, f)
		return id
	}
	var local, whole []body.Treatment
	for _, t := range v.body.Treatments {
		switch t.Kind {
		case body.Dress, body.Weld, body.WeldBacking:
			local = append(local, t)
		case body.ReplaceCasting:
			whole = append(whole, t)
		}
	}
	cast, all := v.body.Castings[0], Item{}
	switch k := rng.IntN(3); {
	case k == 0 && len(v.body.Lines) > 0:
		l := v.body.Lines[rng.IntN(len(v.body.Lines))]
		all = Item{Treatment: l.Treatment, Kind: body.SectionOff, Line: l.ID, Part: l.Piece}
	case k == 1 && len(whole) > 0:
		all = Item{Treatment: whole[0].ID, Kind: body.ReplaceCasting, Part: cast.Part}
	}
	for range 1 + rng.IntN(4) {
		z := cast.Zones[rng.IntN(len(cast.Zones))]
		id := finding(cast.Part, "crack", inspect.ZoneShare{Zone: z.ID, LengthMM: 20})
		if len(local) == 0 || all.Kind == body.ReplaceCasting || all.Kind != "" && rng.IntN(2) == 0 {
			all.Findings = append(all.Findings, id)
			continue
		}
		t := local[rng.IntN(len(local))]
		it := Item{Treatment: t.ID, Kind: t.Kind, Findings: []job.FindingID{id}}
		it.Ask = rng.IntN(6) == 0
		it.Open = it.Ask
		in.Choice.Items = append(in.Choice.Items, it)
	}
	if all.Kind != "" && len(all.Findings) > 0 {
		in.Choice.Items = append(in.Choice.Items, all)
	}
	var bolted []body.PartID
	for _, p := range v.body.Parts {
		if p.BoltOn && p.Delivery.Known {
			bolted = append(bolted, p.ID)
		}
	}
	k := slices.IndexFunc(v.body.Treatments, func(t body.Treatment) bool { return t.Kind == body.Exchange })
	for range rng.IntN(3) {
		if k < 0 || len(bolted) == 0 {
			break
		}
		p := bolted[rng.IntN(len(bolted))]
		in.Choice.Items = append(in.Choice.Items, Item{Treatment: v.body.Treatments[k].ID, Kind: body.Exchange, Part: p, Findings: []job.FindingID{finding(p, "torn")}})
	}
	return in
}

// lawShop is the shop, or one with more people and bays, or with one person who does all.
func lawShop(s *shop.Shop, rng *rand.Rand) *shop.Shop {
	out := *s
	switch rng.IntN(3) {
	case 0:
		for _, p := range s.People {
			p.ID += "-2"
			out.People = append(slices.Clone(out.People), p)
		}
		for _, b := range s.Bays {
			b.ID += "-2"
			out.Bays = append(slices.Clone(out.Bays), b)
		}
	case 1:
		one := shop.Person{ID: "ALL", May: []shop.Authority{shop.MayInspect}}
		for _, r := range s.Rates {
			one.Skills = append(one.Skills, r.Skill)
		}
		out.People = []shop.Person{one}
	}
	return &out
}
