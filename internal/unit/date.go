package unit

import (
	"fmt"
	"time"
)

// Date is a calendar day without a clock or a time zone. The zero value means "not
// given".
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// UnmarshalText reads "2026-11-25".
func (d *Date) UnmarshalText(b []byte) error {
	t, err := time.Parse("2006-01-02", string(b))
	if err != nil {
		return fmt.Errorf("%q is not a date; write year-month-day, for example %q", string(b), "2026-11-25")
	}
	*d = DateOf(t)
	return nil
}

// MarshalText writes the date as it is read; the zero date is empty.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day)
}

// IsZero says that no date was given.
func (d Date) IsZero() bool { return d == Date{} }

// DateOf is the day of t in t's own time zone.
func DateOf(t time.Time) Date { return Date{t.Year(), t.Month(), t.Day()} }

// Time is midnight UTC of the day.
func (d Date) Time() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// Before says that d is an earlier day than e.
func (d Date) Before(e Date) bool { return d.Time().Before(e.Time()) }

// AddDays is the day n days later.
func (d Date) AddDays(n int) Date { return DateOf(d.Time().AddDate(0, 0, n)) }
