// Package report makes the document: one self-contained HTML file that prints
// on A4 and Letter, with drawings made here, every figure with its reason, and
// the hashes of what it was made from; and the summary that fits a screen.
//
// It computes nothing that is not printed elsewhere: it lays out what the
// stages before it found. Same input, same bytes. What is unknown, undecided
// or expired is never shown as permitted. All text that people or files
// brought in is escaped; the document has no scripts and asks for nothing
// outside itself.
package report

import (
	"embed"
	"html/template"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/shop"
	"fettle/internal/vehicle"
)

// Input is everything the document is made of. Body, Shop and Job are needed;
// a casting without a mesh is reported as not drawn.
type Input struct {
	Body     *body.Body
	Shop     *shop.Shop
	Job      *job.State
	Vehicle  *vehicle.Vehicle // of Body; nil: no meshes
	Measure  measure.Result
	During   *measure.Result // measured during the repair; nil: not
	After    *measure.Result // measured after the repair; nil: not yet
	Progress []measure.Progress
	Inspect  inspect.Result
	Decide   decide.Result
	Compare  compare.Result
	History  []cost.History            // what steps took in earlier jobs; empty: none were given
	Notes    []diag.Note               // of all stages, in order
	Maps     map[body.MapID]MapPicture // of the body; a map without one is drawn from its outlines
	Photos   []Photo                   // pictures that are evidence of findings and inspections
	Evidence map[string]string         // hash of each piece of evidence as it was read
	Full     bool                      // print the annex too: every fact behind each finding
	Meta     Meta
	Work     *halt.Work // what drawing it is part of; nil: it is not stopped
}

// Meta says from what and when the document was made.
type Meta struct {
	Made     time.Time // passed in by the caller
	Version  string    // of the program
	BodyHash string    // SHA-256 of the body's files
	ShopHash string
	History  string // what history the job has, in words
	HeadHash string // of its last event; empty: it has none
	JobHash  string // of the state of the job: job.State.Hash
	// EvidenceHash is of all evidence as it was read.
	EvidenceHash string
}

//go:embed page/*.html page/*.css
var pages embed.FS

// page is what the template is filled with.
type page struct {
	CSS       template.CSS
	Defs      template.HTML
	Head      head
	Front     frontPart
	Measured  measuredPart
	Casting   castingPart
	Decisions decisionPart
	Opening   openingPart
	Routes    routePart
	Steps     stepPart
	Sign      signPart
	Proof     proofPart
}

// head is what every printed page carries.
type head struct {
	Title, Job, Body, Procedures, Made, Program string
	Invented                                    bool
}

// HTML makes the document.
func HTML(in Input) ([]byte, error) {
	if err := complete(in); err != nil {
		return nil, err
	}
	in.Vehicle = in.Vehicle.While(in.Work)
	css, err := styleOf("report.css")
	if err != nil {
		return nil, err
	}
	casting, err := buildCasting(in)
	if err != nil {
		return nil, err
	}
	p := picked(in)
	front, err := buildFront(in, p)
	if err != nil {
		return nil, err
	}
	doc := page{CSS: css, Defs: template.HTML(hatchDefs + mapDefs(in)), Head: buildHead(in), Front: front,
		Measured: buildMeasured(in), Casting: casting, Decisions: buildDecisions(in, p, casting), Opening: buildOpening(in, p),
		Routes: buildRoutes(in, p), Steps: buildSteps(in, p), Sign: buildSign(in, p), Proof: buildProof(in)}
	return made("report.html", doc)
}

func complete(in Input) error {
	missing := ""
	switch {
	case in.Body == nil:
		missing = "body"
	case in.Shop == nil:
		missing = "shop"
	case in.Job == nil:
		missing = "job"
	default:
		return nil
	}
	return &diag.Error{Kind: diag.Invalid, Op: "report", Subject: missing, Msg: "the report needs it and it was not given"}
}

func buildHead(in Input) head {
	h := head{Title: "Repair report " + in.Job.ID, Job: in.Job.ID, Body: in.Body.ID + ", revision " + in.Body.Revision,
		Made: in.Meta.Made.Format("2 Jan 2006 15:04"), Program: "fettle " + or(in.Meta.Version, "of unknown version"),
		Invented: in.Body.Invented || in.Job.Invented || in.Shop.Invented}
	var revs []string
	for _, p := range in.Decide.Procedures {
		s := string(p.Procedure) + " revision " + p.Revision
		if p.Expired {
			s += " (expired)"
		}
		revs = append(revs, s)
	}
	h.Procedures = or(list(revs, 2), "no procedure")
	return h
}
