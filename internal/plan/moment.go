package plan

import (
	"encoding/json"
	"time"

	"fettle/internal/shop"
)

// stamp is a time as it is printed for programs: with the offset of the shop's zone (RFC
// 3339). Where the shop names no zone it is what the clock shows, without an offset, since
// nobody knows which; and null where there is none.
type stamp time.Time

func (s stamp) MarshalJSON() ([]byte, error) {
	switch t := time.Time(s); {
	case t.IsZero():
		return []byte("null"), nil
	case t.Location() == shop.WallClock:
		return json.Marshal(t.Format("2006-01-02T15:04:05"))
	default:
		return t.MarshalJSON()
	}
}

// MarshalJSON prints the step with its times as stamps.
func (s Step) MarshalJSON() ([]byte, error) {
	type plain Step
	return json.Marshal(struct {
		plain
		From stamp `json:"from"`
		To   stamp `json:"to"`
	}{plain(s), stamp(s.From), stamp(s.To)})
}

// MarshalJSON prints the stand with its times as stamps.
func (s Stand) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Place string `json:"place"`
		From  stamp  `json:"from"`
		To    stamp  `json:"to"`
	}{s.Place, stamp(s.From), stamp(s.To)})
}

// MarshalJSON prints the bay with its times as stamps.
func (b WeekBay) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Bay  string `json:"bay"`
		From stamp  `json:"from"`
		To   stamp  `json:"to"`
	}{b.Bay, stamp(b.From), stamp(b.To)})
}

// MarshalJSON prints the step with its times as stamps.
func (s WeekStep) MarshalJSON() ([]byte, error) {
	type plain WeekStep
	return json.Marshal(struct {
		plain
		From stamp `json:"from"`
		To   stamp `json:"to"`
	}{plain(s), stamp(s.From), stamp(s.To)})
}
