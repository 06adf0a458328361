package job

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Unsafe says why a hazard does not count as made safe; empty when it does. It takes
// an act that stands, of somebody who does the body's tasks that carry this caution:
// isolating the high-voltage system is not everybody's.
func (s *State) Unsafe(h Hazard, b *body.Body, sh *shop.Shop, today unit.Date) string {
	if !h.Cleared {
		return "not made safe yet"
	}
	if why := s.Falls(Act{By: h.By, On: h.On}, sh, today); why != "" {
		return "that it was made safe does not count: " + why
	}
	p, _ := sh.Signer(h.By)
	var skills []string
	for _, t := range b.Tasks {
		if !slices.Contains(t.Step.Cautions, h.Kind) {
			continue
		}
		if slices.Contains(p.Skills, t.Step.Skill) {
			return ""
		}
		if !slices.Contains(skills, string(t.Step.Skill)) {
			skills = append(skills, string(t.Step.Skill))
		}
	}
	if len(skills) > 0 {
		return fmt.Sprintf("that it was made safe does not count: %s does not work as %s", p.ID, strings.Join(skills, " or "))
	}
	return ""
}
