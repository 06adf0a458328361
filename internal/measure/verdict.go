package measure

import "fmt"

// Verdict is the answer to "is the limit met?". The zero value is Undecided:
// what was never judged never permits.
type Verdict int

// Verdicts.
const (
	Undecided Verdict = iota
	Met
	NotMet
)

func (v Verdict) String() string {
	switch v {
	case Met:
		return "met"
	case NotMet:
		return "not met"
	}
	return "undecided"
}

// MarshalText writes "met", "not met" or "undecided".
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (v *Verdict) UnmarshalText(b []byte) error {
	for _, known := range [...]Verdict{Undecided, Met, NotMet} {
		if known.String() == string(b) {
			*v = known
			return nil
		}
	}
	return fmt.Errorf("verdict %q is not met, not met or undecided", b)
}

// worse is the more cautious of two verdicts that must both hold: one limit
// not met decides, then one undecided.
func worse(a, b Verdict) Verdict {
	switch {
	case a == NotMet || b == NotMet:
		return NotMet
	case a == Undecided || b == Undecided:
		return Undecided
	}
	return Met
}
