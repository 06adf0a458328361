// Package sched plans activities on a calendar: lags that run on the clock or
// only while somebody works, workers with skills, places by kind, pools with a
// capacity, chains of activities that must not be torn apart, places that are kept
// from the first to the last activity of a group, and states that are set one way
// at a time. It answers with dates, with a bound no schedule can beat, and with whether its schedule
// is proven to be the shortest.
//
// It knows nothing of what the activities are. All times are whole minutes
// counted from midnight of day 0; it reads no clock and draws no number that is
// not seeded. It refuses to hide a chain that does not fit its window: the
// chain is scheduled all the same and reported as broken.
package sched

import "fettle/internal/halt"

// Clock says when a lag runs.
type Clock int

// Clocks.
const (
	Working Clock = iota // only inside the calendar's working windows
	Elapsed              // day and night
)

// Edge is the end of an activity a lag is counted from.
type Edge int

// Edges.
const (
	Finish Edge = iota
	Start
)

// Problem is what Solve takes.
type Problem struct {
	Activities []Activity
	Chains     []Chain
	Workers    []Worker
	Places     []Place
	Pools      []Pool
	Holds      []Hold
	States     []string // what has one setting at a time, by name
	Calendar   Calendar
	Least      int    // nothing begins with fewer working minutes of its day left, unless it takes fewer; no more than the shortest day has
	Start      int    // nothing begins before this minute
	Seed       uint64 // of the biased samples
	Samples    int    // schedules drawn besides the plain priority rule
	Nodes      int    // limit of the exact search; 0: no exact search
	Floor      int    // working minutes that are known to be needed at least
	Most       int    // working minutes that a schedule may take to be of use; 0: any. Where it is plain that each takes more, none is sought

	work *halt.Work // what solving it is part of; it is no part of the problem
}

// While is the problem, to be solved as part of some work: when that is stopped, so is solving it.
func (p Problem) While(w *halt.Work) Problem {
	p.work = w
	return p
}

// Activity is something that takes working minutes. It is interrupted by the
// end of a working window and goes on in the next one with the same worker in
// the same place.
type Activity struct {
	ID      string
	Minutes int
	Skill   string // one worker who has it; empty: nobody
	Place   string // one place of the kind; empty: none
	Draws   []Draw
	Sets    []Setting
	Stay    int // elapsed minutes after it during which its place stays taken
	After   []Lag
	Release int // not before this minute
}

// Setting is what a state has to be set to while the activity is under way, and for
// Stay elapsed minutes after it: the height of a lift, the place a thing stands in.
// Activities that want different values of one state are never under way together, and
// between them lie at least Out of the first and In of the second, working minutes; where
// both have a bit of Bits in common, More of the first as well. What changes the state is
// no part of the problem.
type Setting struct {
	State int
	Value string
	Stay  int
	Out   int
	In    int
	More  int
	Bits  uint64
}

// Hold is a list of activities of one kind of place that are all done in the same
// place, which nothing else uses from the start of the first to the finish, and
// stay, of the last; where Until names activities, to the first start of one of them
// at least: what is held leaves its place only then.
type Hold struct {
	ID      string
	Owner   string // what stays does not keep out another hold of the same owner
	Kind    string
	Members []int
	Until   []int
	Open    bool // its place is taken from the start of the problem on
}

// Lag is a least distance in time to the start of an activity from the finish
// or start of another. A negative one is a greatest distance the other way: the
// other one finishes, or starts, at most that many minutes after this one starts.
type Lag struct {
	Pred    int
	Minutes int
	Clock   Clock
	From    Edge
}

// Draw is a share of a pool taken while the activity is under way, nights
// included.
type Draw struct {
	Pool   int
	Amount int
}

// Chain is a list of activities done one after the other without a gap by the
// same worker; what any of them needs is kept for the whole chain. From the
// start of the first to the finish of the last at most Window minutes may
// elapse; 0: no limit.
type Chain struct {
	ID      string
	Members []int
	Window  int
}

// Worker does one activity at a time.
type Worker struct {
	ID     string
	Skills []string
	Away   []Away
}

// Place holds one activity at a time.
type Place struct {
	ID   string
	Kind string
	Free int // not used before this minute
	Away []Away
}

// Pool is a number of equal things.
type Pool struct {
	ID       string
	Capacity int
}

// Calendar is when work is done. Day 0 has the windows Week[0]; the week
// repeats every seven days. Off are days without work. Windows are hours of the clock on
// the wall; Shifts, in order of time, are the moments at which that is put forward or back.
type Calendar struct {
	Week   [7][]Window
	Off    []int
	Shifts []Shift
}

// Window is a working window in minutes of its day, by the clock on the wall.
type Window struct {
	From, To int
}

// Solution is a schedule and its proof.
type Solution struct {
	Slots       []Slot // one for each activity, in the order of the problem
	FinishMin   int    // when the last activity is done
	BoundMin    int    // no schedule is done earlier
	LeastEnd    int    // when WorkBound minutes have been worked: before it nothing can be over that comes after them
	WorkMin     int    // working minutes from the first possible one to the finish
	WorkBound   int    // no schedule needs fewer
	Proven      bool   // WorkMin equals WorkBound
	Nodes       int    // nodes of the exact search
	Broken      []Broken
	CriticalMin int      // working minutes of the longest chain of lags alone
	Together    Together // of several jobs
}

// Slot is when and by whom an activity is done.
type Slot struct {
	Worker   int // index, -1: nobody
	Place    int // index, -1: none
	From, To int
	Slack    int // working minutes it can slip in this schedule without moving the finish
	Critical bool
}

// Broken is a chain that could not be kept as asked.
type Broken struct {
	Chain    string
	Minutes  int  // working minutes of the chain
	Window   int  // minutes that may elapse
	TooLong  bool // it cannot be done within the window at any time of this calendar
	NoWorker bool // nobody has all the skills: more than one worker does it
}
