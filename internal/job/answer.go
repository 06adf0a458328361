package job

import (
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Lapses says why an answer allows nothing on a day, whatever it is about, and under
// which word that is told; both empty when it stands: it is not of a day to come, it has
// not expired, it is in a document whose hash is on record, and somebody who may has
// signed for recording it. Acts are judged by a day of their own, which a replay moves.
func (s *State) Lapses(a Answer, sh *shop.Shop, today, acts unit.Date, after ...Mark) (word, why string) {
	unsigned := s.Falls(Act{By: a.RecordedBy, On: a.On, May: shop.MayAnswers, After: after}, sh, acts)
	switch {
	case today.Before(a.On):
		return "future", "is dated " + a.On.String() + ", after today; it allows nothing yet"
	case !today.Before(a.Expires):
		return "expired", "expired on " + a.Until() + "; it allows nothing any more"
	case a.Document == "":
		return "no-document", "has no document: without the manufacturer's own words, kept with the job, it allows nothing"
	case s.HashOf(a.Document) == "":
		return "unhashed", "is in document " + a.Document + ", whose hash nobody recorded: it allows nothing"
	case unsigned != "":
		return "unsigned", "allows nothing: nobody who may has signed for recording it: " + unsigned
	}
	return "", ""
}

// Until is the day an answer expires on, in words.
func (a Answer) Until() string {
	if a.Expires.IsZero() {
		return "an unknown day"
	}
	return a.Expires.String()
}
