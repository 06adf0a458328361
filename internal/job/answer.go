package job

import (
	"fettle/internal/diag"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Lapses says why an answer allows nothing on a day, whatever it is about, and under
// which code that is told; nothing when it stands: it is not of a day to come, it has
// not expired, it is in a document whose hash is on record, and somebody who may has
// signed for recording it. Acts are judged by a day of their own, which a replay moves.
func (s *State) Lapses(a Answer, sh *shop.Shop, today, acts unit.Date, after ...Mark) diag.Said {
	unsigned := s.Falls(Act{By: a.RecordedBy, On: a.On, May: shop.MayAnswers, After: after}, sh, acts)
	switch {
	case today.Before(a.On):
		return diag.Say("decide.answer-future", "answer {answer} is dated {on}, after today; it allows nothing yet", a.ID, a.On)
	case !today.Before(a.Expires):
		return diag.Say("decide.answer-expired", "answer {answer} expired on {until}; it allows nothing any more", a.ID, a.Until())
	case a.Document == "":
		return diag.Say("decide.answer-no-document", "answer {answer} has no document: without the manufacturer's own words, kept with the job, it allows nothing", a.ID)
	case s.HashOf(a.Document) == "":
		return diag.Say("decide.answer-unhashed", "answer {answer} is in document {document}, whose hash nobody recorded: it allows nothing", a.ID, a.Document)
	case unsigned != "":
		return diag.Say("decide.answer-unsigned", "answer {answer} allows nothing: nobody who may has signed for recording it: {why}", a.ID, unsigned)
	}
	return diag.Said{}
}

// Until is the day an answer expires on, in words.
func (a Answer) Until() string {
	if a.Expires.IsZero() {
		return "an unknown day"
	}
	return a.Expires.String()
}
