package app

import (
	"slices"
	"testing"

	"fettle/internal/job"
	"fettle/internal/right"
)

// earlier are kinds of event that are read and never written any more.
var earlier = []job.EventKind{job.ReadingsRecorded, job.ReadingsDropped, job.FindingDropped, job.StepDropped, job.DeliveryDropped, job.PromiseDropped}

// TestEveryKindOfEventIsAnAct: an event that is written is an act of the matrix, which changes something; one that is not written any more is none.
func TestEveryKindOfEventIsAnAct(t *testing.T) {
	m := right.Shipped()
	for _, k := range job.Kinds() {
		d, is := doingOf(job.Event{Kind: k})
		a := d.act
		if is == slices.Contains(earlier, k) {
			t.Errorf("%s is an act: %v", k, is)
		}
		if is && (!slices.Contains(right.Acts(), a) || !m.Changes(a)) {
			t.Errorf("%s is the act %q, which the matrix does not have as a change", k, a)
		}
	}
	if len(actOf) != len(job.Kinds())-len(earlier) {
		t.Errorf("%d kinds are acts, want %d", len(actOf), len(job.Kinds())-len(earlier))
	}
	if d, _ := doingOf(job.Event{Kind: job.RecordWithdrawn, Of: "finding/D1"}); d.act != right.WithdrawFinding {
		t.Errorf("a finding that is withdrawn is %q", d.act)
	}
	if d, _ := doingOf(job.Event{Kind: job.RecordWithdrawn, Of: "work/W1"}); d.act != right.WithdrawEntry {
		t.Errorf("work that is withdrawn is %q", d.act)
	}
}

// TestNobodyMayByDefault: with nobody, no roles, no matrix, or a job of nobody, nothing is permitted.
func TestNobodyMayByDefault(t *testing.T) {
	for name, s := range map[string]*As{
		"nobody":    Service{Rights: right.Shipped()}.As(right.Who{}, Shop{ID: "north", First: true, Everybody: true}),
		"no roles":  Service{Rights: right.Shipped()}.As(right.Who{Person: "p-1", Shop: "north"}, Shop{ID: "north", First: true, Everybody: true}),
		"no matrix": Service{}.As(right.Who{Person: "p-1", Shop: "north", Roles: right.Roles()}, Shop{ID: "north", First: true, Everybody: true}),
	} {
		for _, a := range right.Acts() {
			if _, err := s.may(a, s.inShop(), right.Limits()...); err == nil {
				t.Errorf("%s: may %s", name, a)
			}
			if _, err := s.may(a, s.onJob("J1"), right.Limits()...); err == nil {
				t.Errorf("%s: may %s about a job", name, a)
			}
		}
	}
}
