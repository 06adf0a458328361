package app_test

import (
	"testing"

	"fettle/internal/diag"
)

// TestEvidenceOfAStoreThatIsAway: a store that cannot be reached says nothing of what it keeps: the job cannot be read now, which is
// another answer than that its evidence is gone.
func TestEvidenceOfAStoreThatIsAway(t *testing.T) {
	s, _ := kept(t)
	s.st.get = &diag.Error{Kind: diag.Unavailable, Msg: "no answer"}
	if _, err := s.OpenStored(t.Context(), s.st, "REAR"); diag.KindOf(err) != diag.Unavailable {
		t.Errorf("%v, which is %v", err, diag.KindOf(err))
	}
}
