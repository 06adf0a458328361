package job

import "fettle/internal/diag"

// What can be done about a job, as remedies name it; each with what it is done with. What is
// not given is not known where the remedy is named.
const (
	ToCheck      diag.Deed = "check"      // documents: a job
	ToAssess     diag.Deed = "assess"     // a job
	ToPlan       diag.Deed = "plan"       // one route of a job, with its bill
	ToAgree      diag.Deed = "agree"      // the bill of a route, as an entry of the job
	ToAsk        diag.Deed = "ask"        // the manufacturer, about a finding, point or question, and who sends it
	ToRecord     diag.Deed = "record"     // entries of a job
	ToReopen     diag.Deed = "reopen"     // a job whose vehicle was handed back
	ToSeeMissing diag.Deed = "release"    // what is missing before the vehicle is handed back
	ToKeep       diag.Deed = "keep"       // a folder as a stored job
	ToSeeHistory diag.Deed = "history"    // of a stored job
	ToFindZones  diag.Deed = "find-zones" // edges, holes and regions of a mesh
	ToGive       diag.Deed = "give"       // what the request itself has room for: see the Give constants
)

// What a request has room for, beside what it is about.
const (
	GiveStd           = "std"            // standard uncertainty of what was measured
	GiveEarlier       = "earlier"        // folders of earlier jobs
	GiveData          = "data"           // that the answer is wanted as data, whole
	GiveAll           = "all"            // that everything is to be listed
	GiveRoute         = "route"          // the route that is meant
	GiveVerdict       = "verdict"        // what an answer allows or forbids
	GiveSharp         = "sharp"          // from what angle on an edge is sharp
	GiveBoreTolerance = "bore-tolerance" // how far the rim of a hole may be from a circle
	GiveWall          = "wall"           // thickness of the walls
	GiveLeast         = "least"          // least share of the surface for a zone of its own
)

// Give is the remedy of giving something with the request.
func Give(what string) *diag.Remedy { return diag.Do(ToGive, "what", what) }

// NameByRef is how a step is named that others share their name with.
const NameByRef = "name the step by what the data of a plan has under 'ref'"
