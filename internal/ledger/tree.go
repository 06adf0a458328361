package ledger

import (
	"crypto/sha256"
	"errors"
)

// A log is a tree of hashes over leaves that are only added to, after RFC 6962, section 2: whoever has its
// root of some day can be shown that a leaf is in it, and that a later log begins with the same leaves. What
// makes such proofs is elsewhere; here they are verified, after RFC 9162, sections 2.1.3.2 and 2.1.4.2.

// Hash is that of a leaf, a node or a root.
type Hash [sha256.Size]byte

// LeafHash is the hash of the content of a leaf.
func LeafHash(content []byte) Hash { return sha256.Sum256(append([]byte{0}, content...)) }

func nodeHash(left, right Hash) Hash {
	return sha256.Sum256(append(append([]byte{1}, left[:]...), right[:]...))
}

var errNoProof = errors.New("this does not prove it")

// VerifyInclusion says whether a proof shows that a leaf is number n (the first is 0) of a log with so many leaves and
// that root.
func VerifyInclusion(root Hash, size, n int64, leaf Hash, proof []Hash) error {
	if n < 0 || n >= size {
		return errNoProof
	}
	at, last, sum := n, size-1, leaf
	for _, p := range proof {
		if last == 0 {
			return errNoProof
		}
		if at&1 == 1 || at == last {
			sum = nodeHash(p, sum)
			for at&1 == 0 && at != 0 {
				at, last = at>>1, last>>1
			}
		} else {
			sum = nodeHash(sum, p)
		}
		at, last = at>>1, last>>1
	}
	if last != 0 || sum != root {
		return errNoProof
	}
	return nil
}

// VerifyConsistency says whether a proof shows that a log begins with all leaves of an earlier one.
func VerifyConsistency(oldRoot Hash, oldSize int64, newRoot Hash, newSize int64, proof []Hash) error {
	switch {
	case oldSize < 1 || oldSize > newSize:
		return errNoProof
	case oldSize == newSize:
		if len(proof) > 0 || oldRoot != newRoot {
			return errNoProof
		}
		return nil
	case oldSize&(oldSize-1) == 0:
		proof = append([]Hash{oldRoot}, proof...) // a full tree is a node of the later one
	}
	if len(proof) == 0 {
		return errNoProof
	}
	at, last := oldSize-1, newSize-1
	for at&1 == 1 {
		at, last = at>>1, last>>1
	}
	older, newer := proof[0], proof[0]
	for _, p := range proof[1:] {
		if last == 0 {
			return errNoProof
		}
		if at&1 == 1 || at == last {
			older, newer = nodeHash(p, older), nodeHash(p, newer)
			for at&1 == 0 && at != 0 {
				at, last = at>>1, last>>1
			}
		} else {
			newer = nodeHash(newer, p)
		}
		at, last = at>>1, last>>1
	}
	if last != 0 || older != oldRoot || newer != newRoot {
		return errNoProof
	}
	return nil
}
