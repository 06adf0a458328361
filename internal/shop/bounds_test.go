package shop

import (
	"strings"
	"testing"
)

// changed is the good shop file with one text in place of another that is there once.
func changed(t *testing.T, old, by string) string {
	t.Helper()
	text := string(goodFiles(t)["shop.yaml"])
	if strings.Count(text, old) != 1 {
		t.Fatalf("%q is not once in the good file", old)
	}
	return strings.Replace(text, old, by, 1)
}

const (
	people  = "people:\n"
	spreads = "spreads:\n"
	temp    = "temperature: 17 C\n"
	bay     = "kind: bench, name: Bench}"
	law     = "bays:\n"
	rule1   = `operator: ">=", percent: 64 %, applies: yes}`
)

// TestAtTheEdge: what lies at the edge of what a shop may say is taken, and what lies beyond it
// is refused at its place. The edges are those that the help of each field and the message tell.
func TestAtTheEdge(t *testing.T) {
	for _, c := range []struct{ old, by, want string }{
		{"17 C", "-30 C", ""},
		{"17 C", "60 C", ""},
		{"17 C", "-30.5 C", `6:14: temperature: -30.5 C is no temperature people work at`},
		{"17 C", "60.5 C", `6:14: temperature: 60.5 C is no temperature people work at`},
		{temp, temp + "humidity: 100 %\n", ""},
		{temp, temp + "humidity: 101 %\n", `7:11: humidity: 101 % is no relative humidity`},
		{temp, temp + "humidity: -1 %\n", `7:11: humidity: -1 % is no relative humidity`},
		{temp, temp + "lift_limit: 60 kg\n", ""},
		{temp, temp + "lift_limit: 61 kg\n", `7:13: lift_limit: 61 kg is nothing one person lifts`},
		{temp, temp + "lift_limit: -1 kg\n", `7:13: lift_limit: -1 kg is nothing one person lifts`},
		{temp, temp + "changes: {tool: 0 min, side: 0 min, lift: 1 min}\n", ""},
		{temp, temp + "changes: {tool: 1 min, side: 2 min, lift: 1 min}\n", ""},
		{temp, temp + "changes: {side: 1 min}\n", ""},
		{temp, temp + "changes: {tool: 1 min}\n", ""},
		{temp, temp + "changes: {tool: 0 min}\n", `7:10: changes: no change takes time`},
		{temp, temp + "changes: {tool: -1 min, side: 2 min}\n", `7:17: changes.tool: -1 min is negative`},
		{temp, temp + "changes: {side: -1 min, lift: 2 min}\n", `7:17: changes.side: -1 min is negative`},
		{temp, temp + "changes: {lift: -1 min, tool: 2 min}\n", `7:17: changes.lift: -1 min is negative`},
		{"temperature_std: 2 C", "temperature_std: 0 C", ""},
		{"temperature_std: 2 C", "temperature_std: -0.5 C", `34:18: temperature_std: -0.5 C is negative`},
		{"currency: EUR", "currency: EURO", `5:11: currency: "EURO" is not a currency | 8:46: rates[0].per_hour: the amount is in EUR, the shop in EURO | 9:44: rates[1].per_hour: the amount is in EUR, the shop in EURO | 24:18: storage_per_day: the amount is in EUR, the shop in EURO`},

		{"answer_time: 6 d", "answer_time: 3 d", ""},
		{"answer_time: 6 d", "answer_time: 14 d", ""},
		{"answer_time: 6 d", "answer_time: 15 d", `28:14: answer_time: 15 d does not lie between 3 d and 14 d`},
		{"answer_time: 6 d\nanswer_low: 3 d\nanswer_high: 14 d\n", "answer_time: 6 d\n", ""},
		{"answer_time: 6 d\nanswer_low: 3 d\nanswer_high: 14 d\n", "answer_time: 0 d\n", `28:14: answer_time: 0 min is given`},
		{"answer_low: 3 d\n", "", `29:14: answer_high: the spread of the answer has two ends`},
		{"answer_low: 3 d\n", "answer_low: -1 d\n", `29:13: answer_low: the spread of the answer has two ends`},
		{"answer_high: 14 d\n", "answer_high: -1 d\n", `30:14: answer_high: the spread of the answer has two ends`},

		{"storage_per_day: 11.00 EUR", "storage_per_day: -11.00 EUR", `24:18: storage_per_day: -11.00 EUR is negative`},
		{"storage_per_day: 11.00 EUR\n", "", ""},
		{"per_hour: 71.00 EUR", "per_hour: -71.00 EUR", `8:46: rates[0].per_hour: -71.00 EUR is negative`},
		{"per_hour: 71.00 EUR", "per_hour: 0.01 EUR", ""},

		{people, people + "  - {id: W3, may: [review]}\n", ""},
		{people, people + "  - {id: W3, accepts: [leave]}\n", ""},
		{people, people + "  - {id: W3, skills: [weld]}\n", ""},
		{people, people + "  - {id: W3}\n", `11:5: people[0].skills: the person neither works nor signs for anything`},
		{people, people + "  - {id: W2, may: [review]}\n", `13:10: people[2].id: "W2" is there twice`},
		{people, people + "  - {id: -W, may: [review, inspect, review]}\n", `11:10: people[0].id: "-W" is not an identity | 11:37: people[0].may[2]: "review" is named twice`},
		{people, people + "  - {id: W3, accepts: [weld, leave, weld], skills: [body, body]}\n", `11:37: people[0].accepts[2]: "weld" is named twice | 11:59: people[0].skills[1]: "body" is named twice`},

		{bay, "kind: two words, name: Bench}", `14:20: bays[0].kind: "two words" is not a kind of bay`},
		{bay, "kind: bench, name: Bench, roll_out: 0 min}", ""},
		{bay, "kind: bench, name: Bench}\nmoving: {skill: body}", `14:5: bays[0].in: 0 min is given | 14:5: bays[0].out: 0 min is given`},
		{bay, "kind: bench, name: Bench, in: 1 min, out: 1 min}\nmoving: {skill: body}", ""},
		{bay, "kind: bench, name: Bench, in: 0 min, out: 1 min}\nmoving: {skill: body, carry: {more: 1 min, equipment: [cold saw]}}", `14:44: bays[0].in: 0 min is given`},
		{bay, "kind: bench, name: Bench, in: 1 min, out: 1 min}\nmoving: {skill: weld, carry: {more: 1 min, equipment: [cold saw, cold saw]}}", `15:66: moving.carry.equipment[1]: "cold saw" is named twice`},
		{bay, "kind: bench, name: Bench, in: 1 min, out: -1 min}\nmoving: {skill: saw, carry: {more: -1 min, equipment: [cold swa]}}", `14:56: bays[0].out: -1 min is given | 15:17: moving.skill: nobody in the shop has the skill "saw" | 15:36: moving.carry.more: -1 min is given | 15:56: moving.carry.equipment[0]: the shop has no "cold swa"`},
		{"[cold saw]", "[cold saw, vice, cold saw]", `15:29: equipment[2]: "cold saw" is named twice`},

		{`start: "07:00"`, `start: "00:00"`, ""},
		{`start: "07:00"`, `start: "7:000"`, `18:10: calendar.start: "7:000" is not a time of day`},
		{`start: "07:00"`, `start: "24:00"`, `18:10: calendar.start: "24:00" is not a time of day`},
		{`start: "07:00"`, `start: "12:60"`, `18:10: calendar.start: "12:60" is not a time of day`},
		{`end: "16:30"`, `end: "23:59"`, ""},
		{`end: "16:30"`, `end: "07:00"`, `19:8: calendar.end: work ends at 07:00, before it starts at 07:00`},
		{`end: "16:30"`, "end: \"16:30\"\n  last_start: 569 min", ""}, // the day has 570
		{`end: "16:30"`, "end: \"16:30\"\n  last_start: 570 min", `20:15: calendar.last_start: 9 h 30 min is no part of a day of work`},
		{`end: "16:30"`, "end: \"16:30\"\n  last_start: -1 min", `20:15: calendar.last_start: -1 min is no part of a day of work`},
		{`["12:15", "13:00"]`, `["07:01", "16:29"]`, ""},
		{`["12:15", "13:00"]`, `["07:00", "13:00"]`, `20:10: calendar.break: the break does not lie between 07:00 and 16:30`},
		{`["12:15", "13:00"]`, `["12:15", "16:30"]`, `20:10: calendar.break: the break does not lie between 07:00 and 16:30`},
		{`["12:15", "13:00"]`, `["12:15", "12:15"]`, `20:10: calendar.break: the break ends at 12:15, before it starts at 12:15`},
		{`["12:15", "13:00"]`, `["13:00", "12:15"]`, `20:10: calendar.break: the break ends at 12:15, before it starts at 13:00`},
		{`["12:15", "13:00"]`, `["12:75", "13:00"]`, `20:11: calendar.break[0]: "12:75" is not a time of day`},
		{`["12:15", "13:00"]`, `["12:15", "1:00"]`, `20:20: calendar.break[1]: "1:00" is not a time of day`},
		{`["12:15", "13:00"]`, `["12:15", "12:30", "13:00"]`, `20:10: calendar.break: a break has a start and an end`},
		{"  break: [\"12:15\", \"13:00\"]\n", "", ""},
		{"days: [mon, tue, wed, thu]", "days: []", `17:9: calendar.days: at least one day is needed`},
		{"days: [mon, tue, wed, thu]", "days: [mon, tue, mon]", `17:20: calendar.days[2]: "mon" is named twice`},
		{"[2026-05-01]", "[2026-05-01, 2026-12-25, 2026-05-02, 2026-12-25]", `21:50: calendar.holidays[3]: 2026-12-25 is there twice`},
		{temp, temp + "zone: Europe/Berlin\n", ""},
		{temp, temp + "zone: Europe/Nowhere\n", `7:7: zone: "Europe/Nowhere" is no time zone`},

		{"rate: 16 %, on", "rate: 0 %, on", ""},
		{"rate: 16 %, on", "rate: 100 %, on", ""},
		{"rate: 16 %, on", "rate: 101 %, on", `23:48: taxes[0].rate: 101 % is not from 0 % to 100 %`},
		{"rate: 16 %, on", "rate: -1 %, on", `23:48: taxes[0].rate: -1 % is not from 0 % to 100 %`},
		{"on: [labour, parts, materials]", "on: []", `23:58: taxes[0].on: the tax is on nothing`},
		{"taxes:\n", "taxes:\n  - {id: vat, name: Again, rate: 1 %, on: [sublet]}\n", `24:10: taxes[1].id: "vat" is there twice`},

		{rule1, `operator: ">=", percent: 0 %, applies: yes}`, `26:93: total_loss[0].percent: a percentage rule needs its threshold`},
		{rule1, `operator: ">=", percent: 1 %, applies: yes}`, ""},
		{`operator: ">"}`, `operator: ">", percent: 0 %}`, `27:89: total_loss[1].percent: a formula rule has no threshold`},
		{`operator: ">"}`, `operator: ">", applies: yes}`, `26:3: total_loss: 2 rules bind in this shop`},
		{"{id: salvage,", "{id: share,", `27:10: total_loss[1].id: "share" is there twice`},
		{`percent: 64 %, applies: yes}`, `percent: 64 %}`, `26:3: total_loss: 0 rules bind in this shop`},

		{spreads, "sublets:\n  - {id: S1, skill: radar, name: R, visit: 0.01 EUR}\n" + spreads, ""},
		{spreads, "sublets:\n  - {id: S1, skill: radar, name: R, per_hour: 0.01 EUR}\n" + spreads, ""},
		{spreads, "sublets:\n  - {id: S1, skill: radar, name: R, visit: 0 EUR, per_hour: 0 EUR}\n" + spreads, `32:5: sublets[0]: sublet work is not free`},
		{spreads, "sublets:\n  - {id: S1, skill: radar, name: R, visit: -5 EUR, per_hour: 7 EUR}\n" + spreads, `32:44: sublets[0].visit: -5.00 EUR is negative`},
		{spreads, "sublets:\n  - {id: S1, skill: radar, name: R, visit: 5 CHF, per_hour: 7 CHF}\n" + spreads, `32:44: sublets[0].visit: the amount is in CHF, the shop in EUR | 32:61: sublets[0].per_hour: the amount is in CHF, the shop in EUR`},
		{spreads, "sublets:\n  - {id: S1, skill: radar, name: R, visit: 5 EUR}\n  - {id: S1, skill: radar, name: R, visit: 5 EUR}\n" + spreads, `33:10: sublets[1].id: "S1" is there twice | 33:21: sublets[1].skill: the skill "radar" is sublet twice`},
		{spreads, "sublets:\n  - {id: S1, skill: weld, name: R, visit: 5 EUR}\nabsences:\n  - {person: W2, from: 2027-01-01, reason: leaves}\n" + spreads, ""},
		{spreads, "sublets:\n  - {id: S1, skill: weld, name: R, visit: 5 EUR}\nabsences:\n  - {person: W2, from: 2027-01-01, to: 2029-01-01, reason: travels}\n" + spreads, `32:21: sublets[0].skill: W2 has the skill "weld": it is not sublet`},
		{spreads, "sublets:\n  - {id: S1, skill: weld, name: R, visit: 5 EUR}\nabsences:\n  - {person: W1, from: 2027-01-01, reason: leaves}\n" + spreads, `32:21: sublets[0].skill: W2 has the skill "weld": it is not sublet`},

		{"low: 90 %", "low: 100 %", ""},
		{"low: 90 %", "low: 1 %", ""},
		{"low: 90 %", "low: 0 %", `32:34: spreads[0].low: 0 % to 140 % does not hold the plan's figure, 100 %`},
		{"low: 90 %", "low: 101 %", `32:34: spreads[0].low: 101 % to 140 % does not hold the plan's figure, 100 %`},
		{"high: 140 %", "high: 100 %", ""},
		{"high: 140 %", "high: 99 %", `32:46: spreads[0].high: 90 % to 99 % does not hold the plan's figure, 100 %`},
		{"together: 30 %", "together: 100 %", ""},
		{"together: 30 %", "together: 101 %", `32:92: spreads[0].together: 101 % is not from 0 % to 100 %`},
		{"together: 30 %", "together: -1 %", `32:92: spreads[0].together: -1 % is not from 0 % to 100 %`},
		{"together: 30 %", "together: 0 %", `32:5: spreads[0]: a factor and how far its figures go together belong to one another`},
		{"factor: pace, ", "", `32:5: spreads[0]: a factor and how far its figures go together belong to one another`},
		{"{id: hours, on: labour,", "{id: hours, on: labour, skill: weld,", ""},
		{"{id: hours, on: labour,", "{id: hours, on: labour, skill: wled,", `32:36: spreads[0].skill: skill "wled" has no rate`},
		{"{id: hours, on: labour,", "{id: hours, on: parts, skill: weld,", `32:35: spreads[0].skill: only a spread on labour is of one skill`},
		{"{id: value,", "{id: hours,", `33:10: spreads[1].id: "hours" is there twice`},

		{"document: Q-7}]", "document: Q-7}, {for: visual, until: 2027-01-01, document: A}]", ""},
		{"document: Q-7}]", "document: Q-7}, {for: welder castings, until: 2027-01-01, document: A}]", `12:166: people[1].qualifications[1].for: "welder castings" is there twice`},
		{"{equipment: cold saw, until: 2027-01-31}", "{equipment: vice, until: 2027-01-31}", `36:17: equipment_tests[0].equipment: "vice" is not under 'equipment'`},
		{"{equipment: cold saw, until: 2027-01-31}", "{equipment: cold saw, until: 2027-01-31}\n  - {equipment: cold saw, until: 2028-01-31}", `37:17: equipment_tests[1].equipment: "cold saw" is there twice`},

		{spreads, "absences:\n  - {person: W1, from: 2026-03-02, to: 2026-03-02, reason: ill}\n  - {person: W1, from: 2026-03-03, reason: has left}\n  - {bay: B1, from: 2026-03-02, reason: closed}\n" + spreads, ""},
		{spreads, "absences:\n  - {person: W1, from: 2026-03-02, to: 2026-03-04, reason: ill}\n  - {person: W1, from: 2026-03-04, to: 2026-03-05, reason: ill}\n" + spreads, `33:5: absences[1]: W1 is away twice at once, here and from 2026-03-02 on`},
		{spreads, "absences:\n  - {person: W1, from: 2026-03-04, to: 2026-03-05, reason: ill}\n  - {person: W1, from: 2026-03-02, to: 2026-03-04, reason: ill}\n" + spreads, `33:5: absences[1]: W1 is away twice at once, here and from 2026-03-04 on`},
		{spreads, "absences:\n  - {bay: B1, from: 2026-03-04, to: 2026-03-03, reason: closed}\n  - {from: 2026-03-02, reason: ill}\n" + spreads, `32:37: absences[0].to: it ends on 2026-03-03, before it begins on 2026-03-04 | 33:5: absences[1]: an absence is of one person, or of one bay`},
	} {
		_, err := Decode("shop.yaml", []byte(changed(t, c.old, c.by)))
		var told []string
		for line := range strings.Lines(problemText(t, err)) {
			said, _, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "; ")
			told = append(told, strings.TrimPrefix(said, "shop.yaml:"))
		}
		if got := strings.Join(told, " | "); got != c.want {
			t.Errorf("%q instead of %q: told\n%s\nwant\n%s", c.by, c.old, got, c.want)
		}
	}
}
