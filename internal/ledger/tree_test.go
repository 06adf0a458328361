package ledger

import (
	"crypto/ed25519"
	"crypto/rand"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/transparency-dev/merkle/compact"
	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// grown is a log of so many leaves as golang.org/x/mod/sumdb/tlog makes it, with its root at every size.
func grown(t *testing.T, size int64) (leaves [][]byte, roots []Hash, nodes tlog.HashReader) {
	t.Helper()
	var kept []tlog.Hash
	nodes = tlog.HashReaderFunc(func(at []int64) ([]tlog.Hash, error) {
		out := make([]tlog.Hash, len(at))
		for i, n := range at {
			out[i] = kept[n]
		}
		return out, nil
	})
	roots = []Hash{{}}
	for n := range size {
		leaf := fmt.Appendf(nil, "leaf %d", n)
		more, err := tlog.StoredHashes(n, leaf, nodes)
		if err != nil {
			t.Fatal(err)
		}
		kept, leaves = append(kept, more...), append(leaves, leaf)
		root, err := tlog.TreeHash(n+1, nodes)
		if err != nil {
			t.Fatal(err)
		}
		roots = append(roots, Hash(root))
	}
	return leaves, roots, nodes
}

func hashes(of []tlog.Hash) (out []Hash) {
	for _, h := range of {
		out = append(out, Hash(h))
	}
	return out
}

func plain(of []Hash) (out [][]byte) {
	for _, h := range of {
		out = append(out, h[:])
	}
	return out
}

// Roots and proofs of every leaf and size up to 70 are held against two programs of others: one makes them
// (x/mod/sumdb/tlog), the other verifies them too (transparency-dev/merkle). A proof in which anything is changed
// proves nothing to either.
func TestProofsAgreeWithOthers(t *testing.T) {
	const size = 70
	leaves, roots, nodes := grown(t, size)
	other := (&compact.RangeFactory{Hash: rfc6962.DefaultHasher.HashChildren}).NewEmptyRange(0)
	for n := range int64(size) {
		if err := other.Append(rfc6962.DefaultHasher.HashLeaf(leaves[n]), nil); err != nil {
			t.Fatal(err)
		}
		if root, err := other.GetRootHash(nil); err != nil || Hash(root) != roots[n+1] {
			t.Fatalf("the roots of %d leaves differ: %v", n+1, err)
		}
		for leaf := range n + 1 {
			p, err := tlog.ProveRecord(n+1, leaf, nodes)
			if err != nil {
				t.Fatal(err)
			}
			agree(t, fmt.Sprintf("leaf %d of %d", leaf, n+1), hashes(p), func(p []Hash, root Hash) (bool, bool) {
				err := proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(leaf), uint64(n+1), rfc6962.DefaultHasher.HashLeaf(leaves[leaf]), plain(p), root[:])
				return VerifyInclusion(root, n+1, leaf, LeafHash(leaves[leaf]), p) == nil, err == nil
			}, roots[n+1])
			if leaf == 0 {
				continue
			}
			q, err := tlog.ProveTree(n+1, leaf, nodes)
			if err != nil {
				t.Fatal(err)
			}
			agree(t, fmt.Sprintf("the first %d of %d", leaf, n+1), hashes(q), func(p []Hash, root Hash) (bool, bool) {
				err := proof.VerifyConsistency(rfc6962.DefaultHasher, uint64(leaf), uint64(n+1), plain(p), roots[leaf][:], root[:])
				return VerifyConsistency(roots[leaf], leaf, root, n+1, p) == nil, err == nil
			}, roots[n+1])
		}
	}
}

// agree tries a proof as it is, and with something wrong with it.
func agree(t *testing.T, what string, p []Hash, proves func([]Hash, Hash) (ours, theirs bool), root Hash) {
	t.Helper()
	if ours, theirs := proves(p, root); !ours || !theirs {
		t.Errorf("%s: proven for us %t, for them %t", what, ours, theirs)
	}
	other := root
	other[3] ^= 1
	wrong := map[string][]Hash{"one more": append(slices.Clone(p), Hash{1})}
	if len(p) > 0 {
		changed := slices.Clone(p)
		changed[len(p)/2][31] ^= 128
		wrong["another"], wrong["one less"], wrong["turned round"] = changed, p[1:], slices.Clone(p)
		slices.Reverse(wrong["turned round"])
	}
	if len(p) < 2 {
		delete(wrong, "turned round")
	}
	for name, w := range wrong {
		if ours, theirs := proves(w, root); ours || theirs {
			t.Errorf("%s, %s: proven for us %t, for them %t", what, name, ours, theirs)
		}
	}
	if ours, theirs := proves(p, other); ours || theirs {
		t.Errorf("%s, another root: proven for us %t, for them %t", what, ours, theirs)
	}
}

// A leaf and a node are never the same thing, and numbers out of range prove nothing.
func TestProofsOfNothing(t *testing.T) {
	_, roots, _ := grown(t, 4)
	for _, n := range []int64{-1, 4, 5} {
		if VerifyInclusion(roots[4], 4, n, LeafHash([]byte("leaf 0")), nil) == nil {
			t.Errorf("leaf %d is in a log of 4", n)
		}
	}
	pair := append(append([]byte{}, roots[1][:]...), roots[2][:]...)
	if LeafHash(pair) == nodeHash(roots[1], roots[2]) {
		t.Error("a leaf that holds two hashes is the node above them")
	}
	for _, c := range [][2]int64{{0, 4}, {-1, 4}, {5, 4}, {2, 4}} {
		if VerifyConsistency(roots[2], c[0], roots[4], c[1], nil) == nil {
			t.Errorf("%v is proven by nothing", c)
		}
	}
	if VerifyConsistency(roots[4], 4, roots[3], 4, nil) == nil {
		t.Error("two roots of one size")
	}
}

// What we sign is a note for x/mod/sumdb/note, and the other way round; a byte that was changed is found by both.
func TestNotesAgreeWithOthers(t *testing.T) {
	public, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	_, roots, _ := grown(t, 5)
	c := Checkpoint{"shop.example/log", 5, roots[5]}
	signed, err := Sign(c.Text(), "shop.example", private)
	if err != nil {
		t.Fatal(err)
	}
	theirs, err := note.NewVerifier(KeyText("shop.example", public))
	if err != nil {
		t.Fatal(err)
	}
	if n, err := note.Open([]byte(signed), note.VerifierList(theirs)); err != nil || n.Text != c.Text() {
		t.Errorf("they read %v %v", n, err)
	}
	text, err := OpenNote(signed, "shop.example", public)
	if err != nil {
		t.Fatal(err)
	}
	if back, err := ParseCheckpoint(text); err != nil || back != c {
		t.Errorf("%v %v, want %v", back, err, c)
	}
	for i := range signed {
		bad := signed[:i] + string(signed[i]^1) + signed[i+1:]
		_, our := OpenNote(bad, "shop.example", public)
		if _, their := note.Open([]byte(bad), note.VerifierList(theirs)); our == nil || their == nil {
			t.Errorf("byte %d changed: %v, they say %v", i, our, their)
		}
	}
	secret, shown, err := note.GenerateKey(rand.Reader, "shop.example")
	if err != nil {
		t.Fatal(err)
	}
	signer, err := note.NewSigner(secret)
	if err != nil {
		t.Fatal(err)
	}
	own, err := note.Sign(&note.Note{Text: c.Text()}, signer)
	if err != nil {
		t.Fatal(err)
	}
	name, key, err := ParseKey(shown)
	if err != nil || KeyText(name, key) != shown {
		t.Fatal(name, err)
	}
	if text, err := OpenNote(string(own), name, key); err != nil || text != c.Text() {
		t.Errorf("we read %q %v", text, err)
	}
	if _, err := OpenNote(string(own), name, public); err == nil {
		t.Error("another key of the same name has signed it")
	}
	both := strings.TrimSuffix(signed, "\n") + "\n" + string(own[strings.LastIndex(string(own), "\n\n")+2:])
	if text, err := OpenNote(both, name, key); err != nil || text != c.Text() {
		t.Errorf("behind another signature: %q %v", text, err)
	}
}

// What is no checkpoint, key or text to be signed is refused.
func TestNoCheckpoint(t *testing.T) {
	root := strings.Repeat("A", 43) + "="
	for _, text := range []string{"", "o\n1\n", "o\n1\n" + root, "o\n-1\n" + root + "\n", "o\n01\n" + root + "\n", "\n1\n" + root + "\n", "o\n1\nAAAA\n", "o\n1\n" + root + "\nmore\n", "o\n1\n" + strings.Repeat("A", 42) + "B=\n"} {
		if c, err := ParseCheckpoint(text); err == nil {
			t.Errorf("%q was taken: %v", text, c)
		}
	}
	if c, err := ParseCheckpoint("o\n1\n" + root + "\n"); err != nil || c.Size != 1 {
		t.Error(c, err)
	}
	public, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]string{{"no end", "n"}, {"a\rb\n", "n"}, {"x\n", ""}, {"x\n", "a b"}, {"x\n", "a+b"}, {"\xff\n", "n"}} {
		if s, err := Sign(c[0], c[1], private); err == nil {
			t.Errorf("%q was signed by %q: %q", c[0], c[1], s)
		}
	}
	if _, err := Sign("x\n", "n", private[:10]); err == nil {
		t.Error("signed with a piece of a key")
	}
	good := KeyText("n", public)
	for _, bad := range []string{"", "n", good[:len(good)-4], "m" + good[1:], strings.Replace(good, "+", "+0", 1), "a b" + good[1:]} {
		if name, _, err := ParseKey(bad); err == nil {
			t.Errorf("%q is the key of %s", bad, name)
		}
	}
}
