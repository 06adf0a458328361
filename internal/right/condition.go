package right

import "slices"

// Condition is what has to hold before a cell of the matrix permits.
type Condition string

// Conditions.
const (
	IfOwn           Condition = "own"
	IfBeforeReview  Condition = "before review"
	IfInReview      Condition = "in review"
	IfDraft         Condition = "draft"
	IfFrozen        Condition = "approved or released"
	IfNotAuthor     Condition = "not the author"
	IfNotRequester  Condition = "not the requester"
	IfNotInspector  Condition = "not the inspector"
	IfAgreed        Condition = "agreed by another"
	IfFresh         Condition = "fresh"
	IfInPerson      Condition = "in person"
	IfConsole       Condition = "at the console"
	IfAssigned      Condition = "assigned"
	IfLinked        Condition = "linked"
	IfLinkGives     Condition = "link gives files"
	IfNotOwnRole    Condition = "not the own role"
	IfAdministrator Condition = "not the last administrator"
)

// Conditions is all of them.
func Conditions() []Condition {
	return []Condition{IfOwn, IfBeforeReview, IfInReview, IfDraft, IfFrozen, IfNotAuthor, IfNotRequester, IfNotInspector, IfAgreed,
		IfFresh, IfInPerson, IfConsole, IfAssigned, IfLinked, IfLinkGives, IfNotOwnRole, IfAdministrator}
}

// Limit is within what an act is allowed; whoever carries it out keeps it.
type Limit string

// Limits.
const (
	OnlyProposals    Limit = "only proposals"        // marked as such
	OnlyListed       Limit = "only list and state"   // nothing that stands in a job
	OnlyMeasurements Limit = "only measurements"     // the part of the review that is about them
	OnlyRolesAndIDs  Limit = "only roles and ids"    // of persons, and nothing that is internal
	OnlyWithoutCosts Limit = "only without costs"    // no internal ones
	OnlyNoContents   Limit = "only without contents" // who, when and what kind
)

// Limits is all of them.
func Limits() []Limit {
	return []Limit{OnlyProposals, OnlyListed, OnlyMeasurements, OnlyRolesAndIDs, OnlyWithoutCosts, OnlyNoContents}
}

// conditions say when each holds.
var conditions = map[Condition]func(w Who, on On) bool{
	IfOwn:          func(w Who, on On) bool { return is(w.Person, on.Author) },
	IfBeforeReview: func(_ Who, on On) bool { return on.Stage == Draft || on.Stage == Planned },
	IfInReview:     func(_ Who, on On) bool { return on.Stage == InReview },
	IfDraft:        func(_ Who, on On) bool { return on.Stage == Draft },
	IfFrozen:       func(_ Who, on On) bool { return on.Stage == Approved || on.Stage == Released },
	IfNotAuthor:    func(w Who, on On) bool { return notOf(w.Person, on.Authors, on.Alone) },
	IfNotRequester: func(w Who, on On) bool { return another(w.Person, on.Requester) },
	IfNotInspector: func(w Who, on On) bool { return notOf(w.Person, on.Inspectors, on.Alone) },
	IfAgreed:       func(w Who, on On) bool { return another(w.Person, on.Agreed) },
	IfFresh:        func(w Who, _ On) bool { return w.Fresh && w.Token == "" && w.Link.ID == "" },
	IfInPerson:     func(w Who, _ On) bool { return w.Person != "" && w.Token == "" && w.Link.ID == "" },
	IfConsole:      func(w Who, _ On) bool { return w.Console },
	IfAssigned: func(w Who, on On) bool {
		return on.Everybody || w.Person != "" && slices.Contains(on.Assigned, w.Person)
	},
	IfLinked:        func(w Who, on On) bool { return is(w.Link.Job, on.Job) && on.To > 0 && on.To == w.Link.To },
	IfLinkGives:     func(w Who, _ On) bool { return w.Link.Files },
	IfNotOwnRole:    func(w Who, on On) bool { return another(w.Person, on.Person) || is(w.Person, on.Person) && on.Only },
	IfAdministrator: func(_ Who, on On) bool { return on.Stays },
}

// is says that two names are known and the same; another, that they are known and not.
func is(a, b string) bool      { return a != "" && a == b }
func another(a, b string) bool { return a != "" && b != "" && a != b }

// notOf says that somebody is none of those who did something, or that the shop has nobody else. It has to be known
// who they are: nothing was done by nobody.
func notOf(person string, by []string, alone bool) bool {
	if person == "" || len(by) == 0 || slices.Contains(by, "") {
		return false
	}
	return alone || !slices.Contains(by, person)
}

// lacking says what is missing, for a person, where a condition does not hold.
var lacking = map[Condition]string{
	IfOwn:           "it is somebody else's",
	IfBeforeReview:  "the job has been sent to review",
	IfInReview:      "the job is not in review",
	IfDraft:         "the job is no draft any more",
	IfFrozen:        "the job is neither approved nor released",
	IfNotAuthor:     "who has entered something of it may not approve it",
	IfNotRequester:  "somebody else has to grant what one has asked for",
	IfNotInspector:  "who made the final inspection may not release",
	IfAgreed:        "a second person has to agree first",
	IfFresh:         "it asks for a proof of who one is within the last five minutes, from a person",
	IfInPerson:      "a program may not do it",
	IfConsole:       "it is done at the machine itself",
	IfAssigned:      "the job is assigned to others",
	IfLinked:        "the link is for something else",
	IfLinkGives:     "the link does not give files",
	IfNotOwnRole:    "another administrator changes one's roles",
	IfAdministrator: "an administrator has to be left",
}
