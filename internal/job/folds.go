package job

import (
	"crypto/sha256"
	"fmt"
	"hash"
	"slices"
	"sync"

	"fettle/internal/ledger"
)

// How many folded chains are kept at once, and how many bytes their entries may have together. The
// one read last is always kept.
const (
	mostFolds     = 64
	mostFoldBytes = 64 << 20
)

// Folds keeps what chains added up to, so that of one that has grown only the new events are
// verified, decoded and added. What is kept counts for the very bytes it was read from, the texts
// beside them too: a chain in which anything was changed is read from its beginning, which says so.
// A nil Folds keeps nothing. Several may read at once.
type Folds struct {
	mu     sync.Mutex
	kept   []fold // the one read last is the last
	folded int    // events that were added up, for tests
}

// fold is what the first so many entries of a chain add up to.
type fold struct {
	seq   int
	sum   [sha256.Size]byte // of all that these entries hold
	bytes int
	of    *Stored
}

// Read is what job.Read says of a chain.
func (f *Folds) Read(c ledger.Chain) (*Stored, error) {
	if f == nil || len(c) == 0 {
		return Read(c)
	}
	sums, sizes := prefixes(c)
	was := f.longest(sums)
	s := was.of
	if s == nil {
		s = &Stored{}
	}
	if was.seq < len(c) {
		var err error
		if s, err = s.Then(c[was.seq:]); err != nil {
			return nil, err
		}
	}
	n := len(c)
	f.keep(was, fold{n, sums[n-1], sizes[n-1], s})
	return s, nil
}

// longest is the longest beginning of a chain that is kept; none is the zero fold.
func (f *Folds) longest(sums [][sha256.Size]byte) fold {
	f.mu.Lock()
	defer f.mu.Unlock()
	var out fold
	for _, k := range f.kept {
		if k.seq > out.seq && k.seq <= len(sums) && sums[k.seq-1] == k.sum {
			out = k
		}
	}
	return out
}

// keep keeps a fold in the place of the one it has grown from.
func (f *Folds) keep(was, now fold) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.folded += now.seq - was.seq
	f.kept = slices.DeleteFunc(f.kept, func(k fold) bool { return k.sum == was.sum || k.sum == now.sum })
	f.kept = append(f.kept, now)
	sum := 0
	for _, k := range f.kept {
		sum += k.bytes
	}
	for len(f.kept) > 1 && (len(f.kept) > mostFolds || sum > mostFoldBytes) {
		sum -= f.kept[0].bytes
		f.kept = slices.Delete(f.kept, 0, 1)
	}
}

// prefixes is, for each entry, the SHA-256 over all that it and those before it hold, and how
// many bytes that is.
func prefixes(c ledger.Chain) ([][sha256.Size]byte, []int) {
	h, sum, size := sha256.New(), make([][sha256.Size]byte, len(c)), make([]int, len(c))
	n := 0
	for i, e := range c {
		n += held(h, e)
		h.Sum(sum[i][:0])
		size[i] = n
	}
	return sum, size
}

// held writes all that an entry holds, each text behind its length.
func held(h hash.Hash, e ledger.Entry) int {
	n := 0
	put := func(s string) {
		n += len(s)
		fmt.Fprintf(h, "%d:%s", len(s), s)
	}
	put(fmt.Sprint(e.Seq, e.Seen, len(e.Beside)))
	for _, s := range []string{e.At, e.By, e.What, e.About, e.Payload, e.Prev, e.Hash} {
		put(s)
	}
	for _, a := range e.Beside {
		put(a.Salt)
		put(a.Text)
	}
	return n
}
