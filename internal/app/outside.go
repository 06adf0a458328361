package app

import (
	"fmt"
	"path"
	"reflect"
	"slices"
	"strings"

	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// A reader from outside is shown a job that was cut down before anything is computed or drawn from it: what is not in it no page can tell.
// Of a text that somebody has entered only what is listed here stays; a field that nobody has thought of is not shown.

// NotShown stands in the place of a remark for a reader from outside.
const NotShown = "(not shown outside the shop)"

// readable is the texts of a job and its shop that a reader from outside sees as they are: identities, hashes, times, words of a fixed list,
// and what a bill consists of. They go by type and field.
var readable = fieldSet(`
State.Format State.ID State.Body State.Shop Money.Currency Vehicle.VIN Vehicle.LoadState
Setup.ID Setup.At Finding.Setup Finding.Axes Finding.Look Finding.Photos HandReading.Gauge
Inspection.ID Inspection.Medium Inspection.Photos AreaSeen.Area AreaSeen.Look Accessible.To
Evidence.ID Evidence.SHA256 Answer.ID Answer.VIN Answer.Question Answer.Document Choice.Route Check.Revision
Risk.ID Risk.About Risk.SettledBy Agreed.Route AgreedLine.ID AgreedLine.Amount AgreedStep.Step LossRule.ID LossRule.Name
Actual.ID Actual.Step Actual.Began Actual.Ended Arrival.ID Arrival.Item Arrival.At Promised.ID Promised.Item
Asked.ID Asked.Document Told.Question Told.Answer FaultReading.ID FaultReading.At FaultReading.Photos Figure.Step Figure.Reading Amount.Unit
Record.ID Record.At Record.Look Record.Step Record.Mixed Record.Closed Record.Evidence HandBack.Under Reading.Setup
Shop.Format Shop.Name Shop.Currency Shop.Zone Qualification.For Bay.ID Calendar.Days Calendar.Start Calendar.End Calendar.Break
Absence.Bay Tax.ID Tax.Name Sublet.ID Gauge.ID
`)

func fieldSet(text string) map[string]bool {
	out := map[string]bool{}
	for _, name := range strings.Fields(text) {
		out[name] = true
	}
	return out
}

// outside cuts a job down for a reader from outside.
type outside struct {
	shop   *shop.Shop
	people map[string]string // who somebody is called, by identity and by what was signed with
	values map[string]string // what stands in the place of a text, by the text: alike stays alike
	words  map[string]bool   // texts of the body, which are the manufacturer's and no secret
}

// cutDown makes an opened job, before it is held against its body and shop, what a reader from outside sees. What several jobs share
// stays as it is.
func (c *Opened) cutDown() error {
	o := outside{shop: c.Shop, people: map[string]string{}, values: map[string]string{}, words: map[string]bool{}}
	texts(reflect.ValueOf(c.Body), o.words)
	for i, p := range c.Shop.People {
		what := "signer"
		if len(p.Skills) > 0 {
			what = strings.Join(strings.Fields(string(p.Skills[0])), "-")
		}
		o.people[p.ID] = fmt.Sprintf("%s-%d", what, i+1)
	}
	was, err := c.Job.Under()
	if err != nil {
		return err
	}
	state := *c.Job
	o.cut(reflect.ValueOf(&state).Elem(), "")
	o.steps(&state)
	o.costs(&state)
	for i, e := range state.Evidence {
		state.Evidence[i].File = "evidence/" + e.ID + ending(c.Job.Evidence[i].File)
	}
	state.Proposals, state.ErasuresAgreed = nil, nil // which nobody outside need know of
	if err := state.ReviewedAs(c.Job); err != nil {
		return err
	}
	now, err := state.Under()
	if err != nil {
		return err
	}
	for i, h := range state.HandBacks {
		if h.Under == was { // all that it rests on is as it was, and goes on being so
			state.HandBacks[i].Under = now
		}
	}
	own := *c.Shop
	o.cut(reflect.ValueOf(&own).Elem(), "")
	o.names(&own)
	c.Job, c.Shop = &state, &own
	c.jobFiles, c.fileHash = nil, "outside "+c.fileHash // nothing that is kept of the whole job is taken for it
	return nil
}

// costs takes away what the shop reckons for itself: what a risk may cost, and what work has used up beside what was agreed.
func (o outside) costs(s *job.State) {
	var known []job.Risk
	for _, r := range s.Risks {
		if r.Open() {
			continue
		}
		none := unit.Money{Currency: r.Low.Currency}
		r.Chance, r.Low, r.Likely, r.High, r.Look, r.Factor, r.Together = 0, none, none, none, nil, "", 0
		known = append(known, r)
	}
	s.Risks = known
	for i := range s.Actuals {
		s.Actuals[i].Parts = nil
	}
}

// steps gives steps that no plan has, which somebody has named, other names.
func (o outside) steps(s *job.State) {
	named := map[string]string{}
	for _, x := range s.Actuals {
		if x.Unplanned != "" {
			named[strings.ToLower(x.Step)] = o.instead(x.Step)
		}
	}
	other := func(step *string) {
		if name := named[strings.ToLower(*step)]; name != "" {
			*step = name
		}
	}
	for i := range s.Actuals {
		other(&s.Actuals[i].Step)
	}
	for i := range s.Figures {
		other(&s.Figures[i].Step)
	}
	for i := range s.Records {
		other(&s.Records[i].Step)
	}
}

// names gives what a shop calls its bays, rates and gauges the names of what they are.
func (o outside) names(s *shop.Shop) {
	s.Spreads = nil
	for i, r := range s.Rates {
		s.Rates[i].Name = string(r.Skill)
	}
	for i, b := range s.Bays {
		s.Bays[i].Name = b.ID
	}
	for i, x := range s.Sublets {
		s.Sublets[i].Name = string(x.Skill)
	}
	for i, g := range s.Gauges {
		s.Gauges[i].Name = g.ID
	}
	for i := range s.People {
		s.People[i].ID = o.people[o.shop.People[i].ID]
	}
	for i := range s.Absences {
		if who := o.shop.Absences[i].Person; who != "" {
			s.Absences[i].Person = o.person(who)
		}
	}
}

// ending is the ending of a file, where it is one that the program reads by.
func ending(file string) string {
	if e := strings.ToLower(path.Ext(file)); slices.Contains(pictureEndings, e) || e == ".pdf" {
		return e
	}
	return ""
}

// person is who somebody is called outside: what they work as, and a number. Who is none of the shop is somebody else.
func (o outside) person(by string) string {
	if strings.TrimSpace(by) == "" || by == job.Erased {
		return by
	}
	if p, is := o.shop.Signer(by); is {
		return o.people[p.ID]
	}
	key := strings.ToLower(strings.TrimSpace(by))
	if o.people["\x00"+key] == "" {
		o.people["\x00"+key] = fmt.Sprintf("somebody-%d", len(o.people)+1)
	}
	return o.people["\x00"+key]
}

// instead is what stands in the place of a text.
func (o outside) instead(text string) string {
	key := strings.ToLower(strings.TrimSpace(text))
	if key == "" || o.words[text] {
		return text
	}
	if o.values[key] == "" {
		o.values[key] = fmt.Sprintf("not-shown-%d", len(o.values)+1)
	}
	return o.values[key]
}

// signs says whether a field of persons' texts holds who somebody is, and no remark.
func signs(name string) bool {
	return name == "by" || strings.HasSuffix(name, "_by") || name == "second"
}

var ofText = reflect.TypeFor[string]()

// cut goes through a value that may be set, and copies what it shares before it changes anything in it.
func (o outside) cut(v reflect.Value, at string) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if f.IsExported() {
				o.field(v.Field(i), f, v.Type().Name()+"."+f.Name)
			}
		}
	case reflect.Slice:
		if v.Len() == 0 {
			return
		}
		own := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(own, v)
		v.Set(own)
		for i := range v.Len() {
			o.cut(v.Index(i), at)
		}
	case reflect.Pointer:
		if v.IsNil() {
			return
		}
		own := reflect.New(v.Type().Elem())
		own.Elem().Set(v.Elem())
		v.Set(own)
		o.cut(own.Elem(), at)
	case reflect.String:
		if v.Type() == ofText && !readable[at] {
			v.SetString(o.instead(v.String()))
		}
	}
}

func (o outside) field(v reflect.Value, f reflect.StructField, at string) {
	name, _, _ := strings.Cut(f.Tag.Get("doc"), ",")
	switch {
	case f.Tag.Get("personal") == "" && at != "State.Author":
		o.cut(v, at)
	case signs(name) || at == "State.Author":
		v.SetString(o.person(v.String()))
	case strings.TrimSpace(v.String()) != "" && v.String() != job.Erased:
		v.SetString(NotShown)
	}
}

// texts collects every text of a value.
func texts(v reflect.Value, into map[string]bool) {
	switch v.Kind() {
	case reflect.String:
		into[v.String()] = true
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				texts(v.Field(i), into)
			}
		}
	case reflect.Slice, reflect.Array:
		for i := 0; i < v.Len() && tells(v.Type().Elem()); i++ {
			texts(v.Index(i), into)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			texts(v.Elem(), into)
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			texts(k, into)
			texts(v.MapIndex(k), into)
		}
	}
}

// tells says that values of a type may hold texts; meshes and traces are many numbers, and hold none.
func tells(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.String, reflect.Map, reflect.Pointer:
		return true
	case reflect.Slice, reflect.Array:
		return tells(t.Elem())
	case reflect.Struct:
		for i := range t.NumField() {
			if f := t.Field(i); f.IsExported() && tells(f.Type) {
				return true
			}
		}
	}
	return false
}
