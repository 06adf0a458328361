package release

import (
	"testing"

	"fettle/internal/decide"
)

// TestWaitsForTheMaker: what the shop can do itself comes before what others have to: a question is sent, a place is inspected,
// and only then the manufacturer is waited for (common practice, no source).
func TestWaitsForTheMaker(t *testing.T) {
	sent := decide.Question{ID: "Q-D1", Finding: "D1", Open: true, State: decide.Waiting}
	unsent := decide.Question{ID: "Q-D2", Finding: "D2", Open: true, State: decide.ToBeSent}
	again := decide.Question{ID: "Q-D3", Finding: "D3", Open: true, State: decide.AnswerExpired}
	answered := decide.Question{ID: "Q-D4", Finding: "D4", State: decide.Answered}
	for name, x := range map[string]struct {
		waits []Wait
		want  Act
	}{
		"an answer":             {[]Wait{{"D1", true}}, Act{ActAnswer, "Q-D1", OnMaker}},
		"and another question":  {[]Wait{{"D1", true}, {"D2", true}}, Act{ActQuestion, "Q-D2", OnShop}},
		"an answer that lapsed": {[]Wait{{"D1", true}, {"D3", true}}, Act{ActQuestion, "Q-D3", OnShop}},
		"and a place":           {[]Wait{{"D1", true}, {"A-WALL", false}}, Act{ActInspection, "A-WALL", OnShop}},
		"a place":               {[]Wait{{"A-WALL", false}}, Act{ActInspection, "A-WALL", OnShop}},
		"what was answered":     {[]Wait{{"D4", true}}, Act{ActQuestion, "D4", OnShop}},
		"what nobody asked of":  {[]Wait{{"D9", true}}, Act{ActQuestion, "D9", OnShop}},
	} {
		g := Gate{Missing: []Missing{{Group: GroupRoute, Where: x.waits[0].What}}, in: Input{Waits: x.waits}}
		g.of.Decide.Questions = []decide.Question{sent, unsent, again, answered}
		if got := g.Next(); got != x.want {
			t.Errorf("%s: %+v, want %+v", name, got, x.want)
		}
	}
}
