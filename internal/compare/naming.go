package compare

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/plan"
)

// id is stable: it names the actions of the route.
func (f *finder) id(chosen []action) string {
	var lines, castings []string
	for _, a := range chosen {
		if a.line != "" {
			lines = append(lines, string(a.line))
		} else {
			castings = append(castings, string(a.casting))
		}
	}
	var parts []string
	if len(lines) > 0 {
		parts = append(parts, "section-"+strings.Join(lines, "+"))
	}
	switch {
	case len(castings) == 1 && len(f.in.Body.Castings) == 1:
		parts = append(parts, "new-casting")
	case len(castings) > 0:
		parts = append(parts, "new-casting-"+strings.Join(castings, "+"))
	}
	if len(parts) == 0 {
		return "weld"
	}
	return strings.Join(parts, "+")
}

// name is the route in plain words.
func (f *finder) name(chosen []action, items []plan.Item) string {
	var lines, castings []string
	for _, a := range chosen {
		if a.line != "" {
			lines = append(lines, string(a.line))
			continue
		}
		c, _ := f.in.Body.Casting(a.casting)
		castings = append(castings, c.Name)
	}
	var parts []string
	if len(castings) == 1 && len(f.in.Body.Castings) == 1 {
		parts = append(parts, "New casting")
	} else if len(castings) > 0 {
		parts = append(parts, "New "+list(castings))
	}
	if len(lines) > 0 {
		parts = append(parts, "Cut off at "+list(lines))
	}
	rest := f.restName(items, len(parts) > 0)
	if rest != "" {
		parts = append(parts, rest)
	}
	if len(parts) == 0 {
		return "Nothing can be done on this route"
	}
	out := parts[0]
	for _, p := range parts[1:] {
		out += ", " + strings.ToLower(p[:1]) + p[1:]
	}
	return out
}

// restName says what is done beside the actions.
func (f *finder) restName(items []plan.Item, beside bool) string {
	out := f.mendedName(items, beside)
	if !slices.ContainsFunc(items, func(it plan.Item) bool { return it.Kind == body.Straighten }) {
		return out
	}
	if out == "" {
		return "Straighten what is bent"
	}
	return out + ", straighten what is bent"
}

// mendedName is the same without what is straightened.
func (f *finder) mendedName(items []plan.Item, beside bool) string {
	has := func(kinds ...body.TreatmentKind) bool {
		return slices.ContainsFunc(items, func(it plan.Item) bool { return slices.Contains(kinds, it.Kind) })
	}
	welds, exchange, mild := has(body.Weld, body.WeldBacking), has(body.Exchange, body.ReplacePart), has(body.Leave, body.Dress)
	parts := "bolted-on parts"
	if has(body.ReplacePart) {
		parts = "parts"
	}
	switch {
	case welds && beside:
		return "Weld the rest"
	case welds && f.weldsMore(items):
		return "Weld what needs it" + map[bool]string{true: ", change " + parts}[exchange]
	case welds && !exchange && !mild:
		return "Weld every crack"
	case welds && exchange:
		return "Weld every crack, change " + parts
	case welds:
		return "Weld what needs it"
	case exchange && !mild:
		return "Change " + parts
	case exchange:
		return "Change " + parts + ", dress or leave the rest"
	case mild && beside:
		return "Dress or leave the rest"
	case has(body.Dress):
		return "Dress or leave every finding"
	case mild:
		return "Leave every finding as it is"
	}
	return ""
}

// weldsMore says that something is welded that is no crack.
func (f *finder) weldsMore(items []plan.Item) bool {
	return slices.ContainsFunc(items, func(it plan.Item) bool {
		return (it.Kind == body.Weld || it.Kind == body.WeldBacking) && slices.ContainsFunc(f.in.Job.Findings, func(x job.Finding) bool {
			return slices.Contains(it.Findings, x.ID) && x.Kind != body.Crack
		})
	})
}

// itemName is how an item is called in a comparison.
func itemName(it plan.Item) string {
	switch it.Kind {
	case body.SectionOff:
		return "section along " + string(it.Line)
	case body.ReplaceCasting:
		return "new casting"
	case body.Exchange:
		return fmt.Sprintf("exchange of %s", it.Part)
	case body.ReplacePart:
		return fmt.Sprintf("replacement of %s", it.Part)
	}
	return string(it.Kind)
}

// changes says which findings are treated differently from the route before.
func changes(before, now Route) []string {
	was, is := byFinding(before), byFinding(now)
	var ids []string
	for f := range is {
		if was[f] != is[f] {
			ids = append(ids, f)
		}
	}
	slices.SortFunc(ids, doc.Natural)
	var out []string
	for _, f := range ids {
		from := was[f]
		if from == "" {
			from = "no treatment"
		}
		out = append(out, fmt.Sprintf("%s: %s instead of %s", f, is[f], from))
	}
	return out
}

func byFinding(r Route) map[string]string {
	out := map[string]string{}
	for _, it := range r.Items {
		for _, f := range it.Findings {
			out[string(f)] = itemName(it)
		}
	}
	return out
}
