package decide

import (
	"slices"
	"strconv"

	"fettle/internal/body"
	"fettle/internal/job"
)

// LeftByAnswer is the control points that the manufacturer lets stay as they were
// measured.
func LeftByAnswer(in Input) []body.PointID {
	var out []body.PointID
	for _, p := range in.Body.Points {
		if in.Job.PointStays(p.ID, in.Shop, in.Today) == "" {
			out = append(out, p.ID)
		}
	}
	return out
}

// AskPoint is the question about a control point; its text is the caller's, who has
// the figures.
func AskPoint(in Input, id body.PointID, text string) Question {
	q := Question{Point: id, Text: text, Open: true, State: ToBeSent}
	asked, sent := in.Job.PointQuestion(id)
	answer, answered := in.Job.PointAnswer(id)
	q.ID, q.Asked = asked.ID, asked.On
	if answered = answered && !answer.On.Before(asked.On); answered {
		q.Answer, q.Expires, q.By = answer.On, answer.Expires, answer.By
	}
	switch why := in.Job.PointStays(id, in.Shop, in.Today); {
	case why == "":
		q.Open, q.State = false, Answered
	case answered, sent && in.Job.MeasuredAfter(id, asked.On):
		q.ID, q.State = "", AnswerExpired
	case sent:
		q.State = Waiting
	}
	if q.ID == "" {
		q.ID = freeQuestion(in.Job, string(id))
	}
	return q
}

// freeQuestion is the number of the next question about something: Q-F8, then
// Q-F8-2. Numbers of questions that were sent are never given again.
func freeQuestion(s *job.State, about string) string {
	first := "Q-" + about
	number := first
	for n := 2; slices.ContainsFunc(s.Questions, func(q job.Asked) bool { return q.ID == number }); n++ {
		number = first + "-" + strconv.Itoa(n)
	}
	return number
}
