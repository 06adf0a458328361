package api

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"html"
	"image"
	"image/jpeg"
	"io"
	"net/http"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/right"
	"fettle/internal/unit"
)

// staff are the people of the demonstration's shop by names that nobody outside may read.
var staff = map[string]string{"T1": "QuenbyA", "T2": "QuenbyB", "T3": "QuenbyC", "T4": "QuenbyD", "P1": "QuenbyE"}

// planter puts marked words into a job wherever somebody can write a text.
type planter struct {
	n     int
	marks []string
}

func (p *planter) mark() string {
	p.n++
	m := fmt.Sprintf("zqmark%dz", p.n)
	p.marks = append(p.marks, m)
	return m
}

// bound is fields whose texts name something: another word in them would name nothing. What they may hold is tried where they are made.
var bound = strings.Fields(`State.Format State.ID State.Body State.Shop Money.Currency Vehicle.VIN Vehicle.LoadState Setup.ID Setup.At Finding.Setup Finding.Axes Finding.Look Finding.Photos
HandReading.Gauge HandReading.To Inspection.ID Inspection.Medium Inspection.Photos AreaSeen.Area AreaSeen.Look Accessible.To Evidence.ID Evidence.SHA256 Evidence.File Answer.ID Answer.VIN Answer.Question
Answer.Document Choice.Route Check.Revision Risk.ID Risk.About Risk.SettledBy Risk.Factor Agreed.Route AgreedLine.ID AgreedLine.Amount AgreedStep.Step LossRule.ID LossRule.Name Actual.ID Actual.Step Actual.Began Actual.Ended
Actual.Again Actual.Unplanned PartUsed.ID Arrival.ID Arrival.Item Arrival.At Promised.ID Promised.Item Asked.ID Asked.Document Told.Question Told.Answer FaultReading.ID FaultReading.At FaultReading.Photos FaultReading.Systems
FaultCode.System Figure.Step Figure.Reading Figure.Text Amount.Unit Record.ID Record.At Record.Look Record.Step Record.What Record.Mixed Record.Closed Record.Evidence HandBack.Under Reading.Setup`)

func (p *planter) plant(v reflect.Value) {
	switch v.Kind() {
	case reflect.Slice:
		for i := range v.Len() {
			p.plant(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			name, _, _ := strings.Cut(f.Tag.Get("doc"), ",")
			signs := name == "by" || strings.HasSuffix(name, "_by") || name == "second" || name == "author"
			text := f.Type == reflect.TypeFor[string]()
			switch {
			case !f.IsExported() || signs:
			case text && name == "harmless": // with it somebody has to sign
			case text && f.Tag.Get("personal") != "":
				v.Field(i).SetString(strings.TrimSpace(v.Field(i).String() + " " + p.mark()))
			case text && v.Field(i).String() != "" && !slices.Contains(bound, v.Type().Name()+"."+f.Name):
				v.Field(i).SetString(v.Field(i).String() + " " + p.mark())
			case !text:
				p.plant(v.Field(i))
			}
		}
	}
}

// photoBy is a photograph whose file says who took it.
func photoBy(who string) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 48)), nil); err != nil {
		panic(err)
	}
	exif := "Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x3b\x00\x02" + string(binary.BigEndian.AppendUint32(nil, uint32(len(who)+1))) + "\x00\x00\x00\x1a\x00\x00\x00\x00" + who + "\x00" // the artist
	out := append([]byte{0xff, 0xd8, 0xff, 0xe1}, binary.BigEndian.AppendUint16(nil, uint16(len(exif)+2))...)
	return append(append(out, exif...), b.Bytes()[2:]...)
}

// planted is the repaired job of the demonstration in the north, full of what nobody outside may read; up to is its newest event before others.
func planted(t *testing.T, w *world) (marks []string, head app.Head) {
	t.Helper()
	p := &planter{}
	named := regexp.MustCompile(`([^-\w])(T[1-4]|P1)\b`) // not R-T1, which is a record
	rename := func(text []byte) []byte {
		return named.ReplaceAllFunc(text, func(b []byte) []byte { return []byte(string(b[:1]) + staff[string(b[1:])]) })
	}
	w.files["shop.yaml"] = rename(w.files["shop.yaml"])
	for was, to := range map[string]string{"name: Bench": "name: Bench of %s", "name: Panel work": "name: Panel work %s", "source: Invented": "source: %s", "reason: holiday": "reason: %s", "Welder certificate Q-2": "Certificate %s",
		"Eyesight test": "Eyesight %s", "name: Steel tape": "name: Tape %s"} {
		if !bytes.Contains(w.files["shop.yaml"], []byte(was)) {
			t.Fatalf("the shop has no %q", was)
		}
		w.files["shop.yaml"] = bytes.Replace(w.files["shop.yaml"], []byte(was), []byte(fmt.Sprintf(to, p.mark())), 1)
	}
	w.files["rear-job/job.yaml"] = rename(w.files["rear-job/job.yaml"])
	file, artist := "evidence/"+p.mark()+".jpg", p.mark()
	photo := photoBy(artist)
	w.files["rear-job/"+file] = photo
	a := app.New(w.files, "v0-test").WithBodies(&app.Bodies{})
	ctx := t.Context()
	c, err := a.Open(ctx, "rear-job")
	if err != nil {
		t.Fatal(err)
	}
	day := unit.DateOf(noon)
	money := func(minor int64) unit.Money { return unit.Money{Minor: unit.Minor(minor), Currency: "EUR"} }
	c.Job.Risks = append(c.Job.Risks, job.Risk{ID: "RK-OPEN", Text: "hidden", Chance: 0.25, Low: money(765431), Likely: money(876542), High: money(987653), By: staff["T1"], On: day})
	for i := range c.Job.Actuals {
		if i == 0 {
			c.Job.Actuals[i].Parts = append(c.Job.Actuals[i].Parts, job.PartUsed{ID: "screws " + p.mark(), Count: 1, Price: money(432177)})
		}
	}
	c.Job.Evidence = append(c.Job.Evidence, job.Evidence{ID: "E77", File: file, SHA256: hashOf(photo), Text: "from the left", By: staff["T1"], On: day})
	c.Job.Findings[0].Photos = append(c.Job.Findings[0].Photos, "E77")
	p.plant(reflect.ValueOf(c.Job).Elem())
	writer := p.mark()
	if _, err := a.KeepIn(ctx, c, w.to, "north-9", writer, "keep"); err != nil {
		t.Fatal(err)
	}
	over := job.Event{Kind: job.JobHandedOver, Data: job.HandedOver{To: "north", By: staff["P1"], On: day, Reason: p.mark()}}
	gone := job.Event{Kind: job.HazardRecorded, Data: job.Hazard{Kind: "lifting", Text: p.mark(), By: staff["T1"], On: day}}
	if _, err := w.to.Append(ctx, "north-9", app.Change{Key: "more", By: p.mark(), Events: []job.Event{over, gone}}, nil); err != nil {
		t.Fatal(err)
	}
	chain, err := w.to.Load(ctx, "north-9", 0)
	if err != nil {
		t.Fatal(err)
	}
	last := chain[len(chain)-1]
	if head, err = w.to.Append(ctx, "north-9", app.Change{Key: "back", By: writer, Events: []job.Event{{Kind: job.RecordWithdrawn, Of: job.RecordName(last.About), Seen: last.Seq,
		Data: job.Withdrawal{By: staff["T1"], On: day, Reason: p.mark()}}}}, nil); err != nil {
		t.Fatal(err)
	}
	return p.marks, head
}

// later is events behind the sealed one.
func later(t *testing.T, w *world) string {
	t.Helper()
	mark := "zqlaterz"
	text := []byte("who told it: " + mark)
	hash, _, err := w.to.Put(t.Context(), bytes.NewReader(text), 1000)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.to.Append(t.Context(), "north-9", app.Change{Key: "later", By: mark, Events: []job.Event{
		{Kind: job.EvidenceAdded, Data: job.Evidence{ID: "E-" + mark, File: mark + ".txt", SHA256: hash, Text: mark, By: staff["T2"], On: unit.DateOf(noon)}},
	}}, nil); err != nil {
		t.Fatal(err)
	}
	return mark
}

// opened is everything that bytes tell a reader who unpacks, decodes and unescapes them.
func opened(t *testing.T, kind string, body []byte) []byte {
	t.Helper()
	out := bytes.Clone(body)
	if strings.Contains(kind, "zip") {
		z, err := zip.NewReader(bytes.NewReader(body), int64(len(body)))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range z.File {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			data, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			out = append(append(out, f.Name...), opened(t, "text", data)...)
		}
	}
	for _, m := range regexp.MustCompile(`base64,([A-Za-z0-9+/=]+)`).FindAllSubmatch(body, -1) {
		data, err := base64.StdEncoding.DecodeString(string(m[1]))
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, data...)
	}
	out = append(out, html.UnescapeString(string(body))...)
	var v any
	if json.Unmarshal(body, &v) == nil {
		out = append(out, fmt.Sprint(v)...)
	}
	return out
}

// serving is the service with somebody who is always the same.
func (w *world) serving(who func(*http.Request) (right.Who, app.Shop, error)) func(path string) (int, http.Header, []byte) {
	w.t.Helper()
	a, err := New(Config{Version: "v0-test", Now: w.use.Now, Service: w.use, Who: who})
	if err != nil {
		w.t.Fatal(err)
	}
	own := *w
	own.api = a
	return func(path string) (int, http.Header, []byte) {
		got := own.do(call{as: "x", method: http.MethodGet, path: path})
		return got.Code, got.Header(), got.Body.Bytes()
	}
}

// TestNothingInternalIsShownOutside plants marked words in every text of a job, its shop, its photographs, what came after and what was taken
// back, and looks for them in every byte that a reader is given, unpacked and decoded. What has to be readable is.
func TestNothingInternalIsShownOutside(t *testing.T) {
	w := newWorld(t)
	marks, head := planted(t, w)
	shop := app.Shop{ID: "north", Several: true, First: true, Everybody: true}
	maker := w.use.As(right.Who{Person: "p-r", Shop: "north", Roles: []right.Role{right.Reviewer}, Fresh: true}, shop)
	sealed, err := maker.Seal(t.Context(), "north-9")
	if err != nil {
		t.Fatal(err)
	}
	if sealed.To != head.Seq || sealed.Day != "2026-11-26" || sealed.On.Stage != right.Inspected {
		t.Errorf("sealed %+v", sealed)
	}
	reader := right.Who{Shop: "north", Roles: []right.Role{right.Reader}, Link: right.Link{ID: "l", Job: "north-9", To: sealed.To, Files: true, Day: sealed.Day, Seal: sealed.Seal}}
	as := func(who right.Who) func(*http.Request) (right.Who, app.Shop, error) {
		return func(*http.Request) (right.Who, app.Shop, error) { return who, shop, nil }
	}
	get := w.serving(as(reader))
	base := fmt.Sprintf("/jobs/north-9/revisions/%d/", sealed.To)
	parts := []string{"report", "owner", "assessment", "history", "files", "proof"}
	before := map[string][]byte{}
	for _, part := range parts {
		status, h, body := get(base + part)
		if status != http.StatusOK {
			t.Fatalf("%s: %d %s", part, status, body)
		}
		before[part] = body
		if strings.HasPrefix(h.Get("Content-Type"), "text/html") && h.Get("Content-Security-Policy") != OutsidePolicy {
			t.Errorf("%s: policy %q", part, h.Get("Content-Security-Policy"))
		}
	}
	marks = append(marks, later(t, w), "Quenby", "quenby")
	// Another day, with more on record: the same bytes, and it is told that there is more.
	w.day = w.day.AddDate(0, 0, 40)
	told := ""
	for _, part := range parts {
		status, h, body := get(base + part)
		if status != http.StatusOK || part != "proof" && !bytes.Equal(body, before[part]) {
			t.Errorf("%s is another one on another day, and after another event: %d", part, status)
		}
		all := string(opened(t, h.Get("Content-Type"), body))
		told += all
		for _, m := range append(slices.Clone(marks), "north-1", "south-1", "7654.31", "7,654.31", "765431", "8765.42", "8,765.42", "876542", "9876.53", "987653", "4321.77", "4,321.77", "432177") {
			if i := strings.Index(all, m); i >= 0 {
				t.Errorf("%s tells %q: …%s…", part, m, all[max(0, i-60):min(len(all), i+60)])
			}
		}
	}
	for _, want := range []string{"ZZZTHM5E4TN000881", "D1", "crack", "weld with backing plate", "TH-R", "AN-1", "DEMO-0881"} {
		if !strings.Contains(told, want) {
			t.Errorf("nothing tells %q", want)
		}
	}
	if len(marks) < 50 {
		t.Errorf("only %d words were planted", len(marks))
	}
	var proof Proof
	if _, _, body := get(base + "proof"); json.Unmarshal(body, &proof) != nil || !proof.Newer || !proof.Holds || proof.Head.Hash != head.Hash || proof.Seal != sealed.Seal || proof.Day != sealed.Day {
		t.Errorf("proof %+v", proof)
	}
	w.elsewhere(get, sealed)
	w.altered(as, reader, base)
	t.Logf("%d marked words in none of %d bytes", len(marks), len(told))
}

// elsewhere asks for what a link is not for: whatever it is, the answer is one.
func (w *world) elsewhere(get func(string) (int, http.Header, []byte), sealed app.Sealing) {
	w.t.Helper()
	answers := map[string]bool{}
	for _, part := range []string{"report", "owner", "assessment", "history", "files", "proof"} {
		for _, at := range []string{"north-9/revisions/1", fmt.Sprintf("north-9/revisions/%d", sealed.To-1), fmt.Sprintf("north-9/revisions/%d", sealed.To+1), "north-9/revisions/999999",
			fmt.Sprintf("north-1/revisions/%d", sealed.To), fmt.Sprintf("south-1/revisions/%d", sealed.To), fmt.Sprintf("nothing/revisions/%d", sealed.To)} {
			status, _, body := get("/jobs/" + at + "/" + part)
			if status != http.StatusNotFound {
				w.t.Errorf("%s of %s: %d %s", part, at, status, body)
			}
			answers[string(body)] = true
		}
	}
	if len(answers) != 1 {
		w.t.Errorf("%d answers: %v", len(answers), answers)
	}
	for _, path := range []string{"/jobs/north-9", "/jobs/north-9/report", "/jobs/north-9/assessment", "/jobs/north-9/history", "/jobs/north-9/events", "/jobs/north-9/lines", "/jobs/north-9/aside", "/jobs"} {
		if status, _, body := get(path); status != http.StatusNotFound && status != http.StatusForbidden {
			w.t.Errorf("%s: %d %s", path, status, body)
		}
	}
}

// altered asks with links that are not what was made: without files, with another seal, of a job that was handed over.
func (w *world) altered(as func(right.Who) func(*http.Request) (right.Who, app.Shop, error), reader right.Who, base string) {
	w.t.Helper()
	without, other := reader, reader
	without.Link.Files, other.Link.Seal = false, strings.Repeat("0", 64)
	if status, _, _ := w.serving(as(without))(base + "files"); status != http.StatusForbidden {
		w.t.Errorf("files without being given: %d", status)
	}
	for _, part := range []string{"report", "owner", "assessment", "files"} {
		if status, _, body := w.serving(as(other))(base + part); status != http.StatusConflict {
			w.t.Errorf("%s that is not what was sealed: %d %s", part, status, body)
		}
	}
	chain, err := w.to.Load(context.Background(), "north-9", 0)
	if err != nil {
		w.t.Fatal(err)
	}
	away := job.Event{Kind: job.JobHandedOver, Data: job.HandedOver{To: "south", By: staff["P1"], On: unit.DateOf(noon), Reason: "sold"}}
	for _, e := range chain {
		if e.What == string(job.JobHandedOver) {
			away.Of, away.Seen = job.RecordName(e.About), e.Seq
		}
	}
	if _, err := w.to.Append(w.t.Context(), "north-9", app.Change{Key: "away", By: "p-1", Events: []job.Event{away}}, nil); err != nil {
		w.t.Fatal(err)
	}
	for _, part := range []string{"report", "owner", "assessment", "history", "files", "proof"} {
		if status, _, body := w.serving(as(reader))(base + part); status != http.StatusNotFound {
			w.t.Errorf("%s of a job that was handed over: %d %s", part, status, body)
		}
	}
}

// TestReadersAreShownTheSameVerdicts: what is taken out for a reader changes no verdict, no route and no bill.
func TestReadersAreShownTheSameVerdicts(t *testing.T) {
	w := newWorld(t)
	_, head := planted(t, w)
	as := w.use.As(right.Who{Person: "p-r", Shop: "north", Roles: []right.Role{right.Reviewer}, Fresh: true}, app.Shop{ID: "north", Several: true, First: true, Everybody: true})
	const id = "north-9"
	to := head.Seq
	inside, err := as.Assess(t.Context(), id, "2026-11-26")
	if err != nil {
		t.Fatal(err)
	}
	outside, err := as.At(to).OutsideAssessment(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := judged(outside), judged(inside); got != want {
		t.Errorf("%s is judged\n%s\nnot\n%s", id, got, want)
	}
}

// judged is what was found, without names and words.
func judged(r app.Assessment) string {
	var b strings.Builder
	fmt.Fprintln(&b, r.Blocked, r.Decide.Permits, r.Compare.Best, len(r.Decide.Questions))
	for _, f := range r.Decide.Findings {
		answer, _, _ := strings.Cut(f.Answer, " by ")
		fmt.Fprint(&b, f.ID, " ", f.Verdict, " ", answer)
		for _, o := range f.Options {
			fmt.Fprint(&b, " ", o.Kind, " ", o.Verdict, " ", o.Line)
		}
		fmt.Fprintln(&b)
	}
	for _, x := range r.Compare.Routes {
		fmt.Fprintln(&b, x.ID, x.Feasible, x.Open, x.Rank, x.Bill.Total)
	}
	measured, err := json.Marshal(r.Measure.Hypotheses)
	fmt.Fprintln(&b, hashOf(measured), err)
	for _, n := range r.Notes {
		fmt.Fprintln(&b, n.Code, n.Severity)
	}
	return b.String()
}

// revisionCalls asks for a job as it was at an event.
func revisionCalls(c *contract) {
	at := fmt.Sprintf("/jobs/north-1/revisions/%.0f/", field[float64](c, c.ask(200, call{as: rev, method: "GET", path: "/jobs/north-1"}), "seq"))
	for _, part := range []string{"report", "owner", "assessment", "history", "files", "proof"} {
		c.ask(200, call{as: rev, method: "GET", path: at + part})
		c.ask(404, call{as: "reviewer@south", method: "GET", path: at + part})
		c.ask(400, call{as: rev, method: "GET", path: "/jobs/north-1/revisions/x/" + part})
		if part != "history" { // of which administrators may know when and of what kind
			c.ask(403, call{as: admin, method: "GET", path: at + part})
		}
		if part != "history" && part != "proof" {
			c.ask(409, call{as: "reader@north,link", method: "GET", path: "/jobs/north-1/revisions/5/" + part})
		}
	}
}
