package job

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"fettle/internal/doc"
	"fettle/internal/ledger"
)

// stateForm is hashed with every state.
const stateForm = "fettle-state 1"

// hashMark stands before the hash of a body or shop that is named by its content.
const hashMark = "sha256:"

// HashName names a body or a shop by its content.
func HashName(hash string) string { return hashMark + hash }

// NamedHash is the hash of a name by content; false when it is another name.
func NamedHash(name string) (string, bool) {
	hash, ok := strings.CutPrefix(name, hashMark)
	return hash, ok && sumForm.MatchString(hash)
}

// Hash is that of a job as it stands: SHA-256 over the canonical bytes of its records. It is
// the same however the job was read and written, and however it came to be so: by hand, or by a
// chain of events, whose head has a hash of its own. Where body and shop lie is not in it: they
// have hashes of their own. Nor is the order of lists in which it says nothing.
func (s *State) Hash() (string, error) {
	members := map[string]any{"format": stateForm}
	for _, m := range doc.Encode(*s).(doc.Object) {
		switch i, ok := byList[m.Name]; {
		case m.Name == "body" || m.Name == "shop":
		case m.Name == "format":
			members["document"] = m.Value
		case ok && m.Name != "" && !sorts[i].ordered:
			list, err := inOwnOrder(m.Value.([]any))
			if err != nil {
				return "", err
			}
			members[m.Name] = list
		default:
			members[m.Name] = m.Value
		}
	}
	var rows []any
	for _, e := range bySetup(s.Readings) {
		rows = append(rows, doc.Encode(e.Data))
	}
	rows, err := inOwnOrder(rows)
	if err != nil {
		return "", err
	}
	members[readingsWord] = rows
	text, err := ledger.Canonical(members)
	if err != nil {
		return "", fmt.Errorf("job %s has no canonical form: %w", s.ID, err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}

// inOwnOrder is a list in the order of the canonical bytes of its items.
func inOwnOrder(items []any) ([]any, error) {
	type keyed struct {
		key  []byte
		item any
	}
	all := make([]keyed, len(items))
	for i, item := range items {
		key, err := ledger.Canonical(item)
		if err != nil {
			return nil, err
		}
		all[i] = keyed{key, item}
	}
	slices.SortStableFunc(all, func(a, b keyed) int { return bytes.Compare(a.key, b.key) })
	out := make([]any, len(items))
	for i, k := range all {
		out[i] = k.item
	}
	return out, nil
}
