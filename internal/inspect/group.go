package inspect

import (
	"cmp"
	"container/heap"
	"fmt"
	"math"
	"slices"
	"strings"

	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// sets is a union-find over findings; the root of a set is its smallest
// member.
type sets []int

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = i
	}
	return s
}

func (s sets) of(i int) int {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

// join makes one set of two, and says whether they were two.
func (s sets) join(i, j int) bool {
	i, j = s.of(i), s.of(j)
	s[max(i, j)] = min(i, j)
	return i != j
}

func (s sets) clone() sets { return slices.Clone(s) }

// relate finds out how cracks lie to one another, which of them count as one,
// and with that the length a limit is held against.
func (r *run) relate() {
	all := r.distances()
	r.spacing(all)
	r.decideLengths(r.connect(all, r.joins(all)))
	r.namePieces(r.pieces(all))
	r.relateByHand()
	for i, t := range r.traces {
		if t != nil && len(t.in.Zones)+len(t.in.Pins)+len(t.in.Measured) > 0 {
			r.heldAgainst(&r.found[i], t)
		}
	}
}

// joins is the gaps by which cracks hang together, shortest first: cracks that
// may be no farther apart than the limit count as one, and so do all that hang
// together in this way, and the branches of a crack. Gaps between cracks that
// already hang together are left out.
//
// A rule that holds cracks that count as one against their neighbours again
// goes on in rounds until nothing joins. Limits only grow with the cracks, so
// the end does not depend on the order.
func (r *run) joins(all []apart) []apart {
	set := r.crack.clone()
	var out []apart
	for _, d := range all {
		if r.forks(d.i, d.j) && set.join(d.i, d.j) {
			out = append(out, d)
		}
	}
	for again := true; again; {
		size, next := r.sizes(set, out), set.clone()
		again = false
		for _, d := range all {
			if d.sure <= r.joinLimit(d.i, d.j, size[set.of(d.i)], size[set.of(d.j)]) && next.join(d.i, d.j) {
				out = append(out, d)
				again = r.grouping(d.i) != nil && r.grouping(d.i).Again
			}
		}
		set = next
	}
	slices.SortFunc(out, func(a, b apart) int {
		return cmp.Or(cmp.Compare(a.seen, b.seen), r.pairByName(a.i, a.j, b.i, b.j))
	})
	return out
}

// connect is the shortest gaps that connect what hangs together (J. B. Kruskal 1956).
// A rule that joins by lengths can join two cracks to a third and leave the two apart
// that are nearer to each other: the length of the group goes by the shorter way.
func (r *run) connect(all, joined []apart) []apart {
	groups, set := r.crack.clone(), r.crack.clone()
	for _, d := range joined {
		groups.join(d.i, d.j)
	}
	var queue gapQueue
	for k, d := range all {
		if groups.of(d.i) == groups.of(d.j) {
			queue = append(queue, queued{d, d.least, k, false})
		}
	}
	heap.Init(&queue)
	var out []apart
	for len(queue) > 0 {
		q := heap.Pop(&queue).(queued)
		switch {
		case set.of(q.gap.i) == set.of(q.gap.j): // by gaps that are no longer
		case q.known:
			set.join(q.gap.i, q.gap.j)
			out = append(out, q.gap)
		default:
			d := r.closer(q.gap)
			heap.Push(&queue, queued{d, d.seen, q.place, true})
		}
	}
	return out
}

// queued is a gap by its length, or by what it surely is not below while that is not
// known: most pairs hang together by others before theirs has to be.
type queued struct {
	gap   apart
	mm    float64
	place int // in the order of all gaps
	known bool
}

// gapQueue has the shortest first; of equal ones those that are not known yet, then by
// their place.
type gapQueue []queued

func (q gapQueue) Len() int      { return len(q) }
func (q gapQueue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *gapQueue) Push(x any)   { *q = append(*q, x.(queued)) }

func (q *gapQueue) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}

func (q gapQueue) Less(i, j int) bool {
	a, b := q[i], q[j]
	if a.mm != b.mm {
		return a.mm < b.mm
	}
	if a.known != b.known {
		return b.known
	}
	return a.place < b.place
}

// closer narrows the distance of two cracks that count in one length, where the bounds
// on it leave more than closeMM open: over an edge the nearest points through space are
// not those along the surface.
func (r *run) closer(d apart) apart {
	if d.seen-d.least <= closeMM {
		return d
	}
	a, b := r.traces[d.i], r.traces[d.j]
	g := a.at.interval(a.places()[0], b.places()[0], d.least, []float64{d.seen + justAboveMM})
	d.seen = max(d.least, min(d.seen, g.hi))
	return d
}

// decideLengths gives every finding with a length the one a limit is held
// against, and makes the groups.
func (r *run) decideLengths(gaps []apart) {
	set := r.crack.clone()
	for _, g := range gaps {
		set.join(g.i, g.j)
	}
	r.joinLost(set)
	members := make([][]int, len(r.found))
	for i := range r.found {
		if r.hands[i] == nil {
			members[set.of(i)] = append(members[set.of(i)], i)
		}
	}
	for _, m := range members {
		switch {
		case len(m) > 1:
			r.group(m, gaps)
		case len(m) == 1:
			r.alone(m[0])
		}
	}
	slices.SortFunc(r.res.Groups, func(a, b Group) int { return doc.Natural(a.ID, b.ID) })
}

// joinLost joins what parts the wall to what does too and has no known place: it may
// lie near enough to count as one with it.
func (r *run) joinLost(set sets) {
	for j := range r.found {
		p := r.placeNamed(r.found[j].Casting)
		if r.traces[j] != nil || r.hands[j] != nil || !r.parts(j) || p == nil || p.rule == nil || p.rule.GroupGap <= 0 && p.rule.Grouping == nil {
			continue
		}
		for i := range r.found {
			if i != j && r.hands[i] == nil && r.parts(i) && r.found[i].Casting == r.found[j].Casting {
				set.join(i, j)
			}
		}
	}
}

// alone gives a finding that is in no group its decision length.
func (r *run) alone(i int) {
	f, t := &r.found[i], r.traces[i]
	if f.Length == nil || (isCrack(f.Kind) && t.at.rule == nil) {
		return
	}
	r.decide(f, t.at, *f.Length, t.tipCount(), "")
}

// decide fills in the decision length.
func (r *run) decide(f *Finding, p *place, l Length, tips int, of string) {
	with, add := p.withTips(l, tips)
	f.Decision, f.TipAddMM = &with, add
	text := "without any allowance for tips"
	if tips > 0 {
		text = fmt.Sprintf("%s and %s for %s seen by eye only (procedure %s revision %s)", mm(l.MM), mm(add), unit.Count(tips, "tip"), p.rule.ID, p.rule.Revision)
	}
	f.because("decision length%s %s: %s; standard uncertainty %s", of, mm(with.MM), text, mm(with.Std))
}

// group makes one group and gives its members its decision length.
//
// Its length is the sum of the lengths of its cracks and of the gaps they hang
// together by. For cracks in one line that is the extent from end to end; for
// any other arrangement it is more, never less: the conservative choice. Two
// faces of one crack count once, with the longer.
func (r *run) group(members []int, gaps []apart) {
	slices.SortFunc(members, func(a, b int) int { return byName(r.found[a].ID, r.found[b].ID) })
	g := Group{ID: "G-" + string(r.found[members[0]].ID)}
	for _, i := range members {
		g.Findings = append(g.Findings, r.found[i].ID)
		r.found[i].Group = g.ID
	}
	parts := r.longest(members)
	inner := r.innerTips(members, gaps)
	variance, tips := 0.0, 0
	for _, i := range parts {
		if r.found[i].Length == nil {
			g.Unknown = g.Unknown || isCrack(r.found[i].Kind)
			continue
		}
		l := r.found[i].Length
		g.LengthMM += l.MM
		variance += float64(l.Std * l.Std)
		tips += r.traces[i].tipCount() - inner[i]
	}
	var between []string
	for _, d := range gaps {
		if slices.Contains(members, d.i) {
			a, b := r.traces[d.i].std, r.traces[d.j].std
			g.LengthMM += d.seen
			variance += float64(a*a) + float64(b*b)
			between = append(between, beside(d.seen, float64(r.placeOf(r.found[d.i].Part).rule.GroupGap)))
		}
	}
	g.StdMM = math.Sqrt(variance)
	r.finish(&g, members, parts, between, tips)
	r.otherLengths(g, members, gaps, inner)
}

// finish words the group, adds it to the result and gives its members their
// decision length.
func (r *run) finish(g *Group, members, parts []int, gaps []string, tips int) {
	p := r.placeOf(r.found[members[0]].Part)
	g.Because = fmt.Sprintf("%s count as one: ", names(g.Findings))
	if len(gaps) > 0 {
		g.Because += p.joinText()
	}
	if len(parts) < len(members) {
		g.Because += "two faces of one crack count once, with the longer; "
	}
	if len(gaps) > 0 {
		g.Because += fmt.Sprintf("%s and the gaps between them (%s) together ", unit.Count(len(parts), "length"), strings.Join(gaps, ", "))
	}
	g.Because += mm(g.LengthMM)
	if g.Unknown {
		g.LengthMM, g.StdMM = 0, 0
		g.Because = names(g.Findings) + " count as one, and the length of one of them is unknown"
		if lost := r.lostOf(members); len(lost) > 0 {
			g.Because = fmt.Sprintf("%s may count as one: where %s lies is not known", names(g.Findings), names(lost))
		}
	}
	r.res.Groups = append(r.res.Groups, *g)
	for _, i := range members {
		f := &r.found[i]
		switch {
		case g.Unknown:
			f.Unknown = append(f.Unknown, "decision length: "+g.Because)
		case p.rule != nil && f.Located:
			r.decide(f, p, Length{g.LengthMM, g.StdMM}, tips, " of group "+g.ID)
		}
	}
}

// lostOf is those of some findings that have no known place.
func (r *run) lostOf(members []int) (out []job.FindingID) {
	for _, i := range members {
		if !r.found[i].Located {
			out = append(out, r.found[i].ID)
		}
	}
	return out
}

// longest is one finding for each crack: of two faces the longer, tips
// included; one without a length before any other, because it may be longer.
func (r *run) longest(members []int) []int {
	var out []int
	for _, i := range members {
		k := slices.IndexFunc(out, func(j int) bool { return r.crack.of(i) == r.crack.of(j) })
		if k < 0 {
			out = append(out, i)
		} else if r.extent(i) > r.extent(out[k]) {
			out[k] = i
		}
	}
	return out
}

func (r *run) extent(i int) float64 {
	if r.found[i].Length == nil && !isCrack(r.found[i].Kind) {
		return 0
	}
	if r.found[i].Length == nil {
		return math.Inf(1)
	}
	return r.found[i].Length.MM + float64(float64(r.traces[i].tipCount())*r.traces[i].at.allowance())
}

// innerTips counts, for each finding, the tips seen by eye only that a gap of
// the group is measured from. What lies ahead of them lies in that gap, which
// counts in full already.
func (r *run) innerTips(members []int, gaps []apart) map[int]int {
	used := map[[2]int]bool{}
	out := map[int]int{}
	for _, d := range gaps {
		if !slices.Contains(members, d.i) {
			continue
		}
		for _, e := range [][2]int{{d.i, d.endI}, {d.j, d.endJ}} {
			if e[1] >= 0 && !used[e] && r.traces[e[0]].curve.ahead[e[1]] > 0 {
				used[e] = true
				out[e[0]]++
			}
		}
	}
	return out
}

func names(ids []job.FindingID) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	if len(out) < 2 {
		return strings.Join(out, "")
	}
	return strings.Join(out[:len(out)-1], ", ") + " and " + out[len(out)-1]
}

func joinWords(words []string) string {
	ids := make([]job.FindingID, len(words))
	for i, w := range words {
		ids[i] = job.FindingID(w)
	}
	return names(ids)
}
