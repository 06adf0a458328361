package job

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/golden"
	"fettle/internal/unit"
)

// changed is what is told of the good folder after a change of what was read from it: the
// fields, each as often as it is told of, and all of it in words.
func changed(t *testing.T, good *State, change func(*State)) ([]string, string) {
	t.Helper()
	s := golden.Copied(good)
	change(s)
	problems := s.Validate()
	var fields []string
	for _, p := range problems {
		if p.File == "" || p.Msg == "" {
			t.Errorf("%+v does not say what is wrong where", p)
		}
		fields = append(fields, p.Field)
	}
	slices.Sort(fields)
	return fields, problems.Error()
}

// goodJob is the good folder as it is read.
func goodJob(t *testing.T) *State {
	t.Helper()
	s, err := Decode(goodFiles(t))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Every limit of a number of a job holds where it is said to, on both sides of its edge: up to it
// nothing is told, beyond it the field is named. The limits are those of the pages of the formats
// or, for slips of a unit, our own choice.
func TestLimitsOfAJob(t *testing.T) {
	const big, tiny = 20000, 1e-6
	eur := func(v float64) unit.Money { return unit.Money{Minor: unit.Minor(v), Currency: "EUR"} }
	look := func(s *State) *Look { return s.Risks[0].Look }
	good := goodJob(t)
	for _, l := range []struct {
		field     string
		set       func(*State, float64)
		good, bad []float64
	}{
		{"search_seed", func(s *State, v float64) { s.Seed = int(v) }, []float64{0, 1}, []float64{-1}},
		{"vehicle.odometer_km", func(s *State, v float64) { s.Vehicle.Odometer = v }, []float64{0}, []float64{-tiny}},
		{"vehicle.value", func(s *State, v float64) { s.Vehicle.Value = eur(v) }, []float64{610000}, []float64{0, -1}},
		{"vehicle.salvage", func(s *State, v float64) { s.Vehicle.Salvage = eur(v) }, []float64{0, 2740000}, []float64{-1, 2740001}},
		{"impact.at_mm[0]", func(s *State, v float64) { s.Impact.At = []geom.Vec{{v, 0, 0}} }, []float64{big, -big}, []float64{big + 1, -big - 1}},
		{"setups[0].std", func(s *State, v float64) { s.Setups[0].Std = unit.MM(v) }, []float64{tiny}, []float64{0, -1}},
		{"setups[0].temperature", func(s *State, v float64) { s.Setups[0].Temp = unit.Some(unit.Celsius(v)) }, []float64{-30, 60}, []float64{-30.1, 60.1}},
		{"setups[0].temperature_std", func(s *State, v float64) { s.Setups[0].TempStd = unit.Kelvin(v) }, []float64{0, 1}, []float64{-tiny}},
		{"setups[0].temperature_std", func(s *State, v float64) { s.Setups[0].Temp.Known, s.Setups[0].TempStd = false, unit.Kelvin(v) }, []float64{0}, []float64{tiny}},
		{"setups[0].device_growth.expansion", func(s *State, v float64) {
			s.Setups[0].Growth = growing()
			s.Setups[0].Growth.Expansion = unit.PerKelvin(v)
		}, []float64{tiny, 100}, []float64{0, 100.1}},
		{"setups[0].device_growth.std", func(s *State, v float64) { s.Setups[0].Growth = growing(); s.Setups[0].Growth.Std = unit.PerKelvin(v) }, []float64{tiny}, []float64{0}},
		{"setups[0].device_growth.reference", func(s *State, v float64) {
			s.Setups[0].Growth = growing()
			s.Setups[0].Growth.Reference = unit.Celsius(v)
		}, []float64{-30, 60}, []float64{-31, 61}},
		{"setups[0].device_growth.low", func(s *State, v float64) { s.Setups[0].Growth = growing(); s.Setups[0].Growth.Low = unit.Celsius(v) }, []float64{-30, 29}, []float64{-31}},
		{"setups[0].device_growth.high", func(s *State, v float64) { s.Setups[0].Growth = growing(); s.Setups[0].Growth.High = unit.Celsius(v) }, []float64{10.1, 60}, []float64{10, 9, 61}},
		{"findings[0].trace_mm[1]", func(s *State, v float64) { s.Findings[0].Trace[1][2] = v }, []float64{big, -big}, []float64{big + 1, -big - 1}},
		{"findings[0].trace_std", func(s *State, v float64) { s.Findings[0].Std = unit.MM(v) }, []float64{tiny}, []float64{0, -1}},
		{"findings[0].depth", func(s *State, v float64) { s.Findings[0].Depth = unit.Some(unit.MM(v)) }, []float64{tiny}, []float64{0, -1}},
		{"findings[0].depth_std", func(s *State, v float64) { s.Findings[0].DepthStd = unit.MM(v) }, []float64{0, 1}, []float64{-tiny}},
		{"findings[1].depth_std", func(s *State, v float64) { s.Findings[1].DepthStd = unit.MM(v) }, []float64{0}, []float64{tiny}},
		{"earlier_repairs[0].length", func(s *State, v float64) { s.Earlier[0].Length = unit.MM(v) }, []float64{tiny}, []float64{0, -1}},
		{"earlier_repairs[0].trace_std", func(s *State, v float64) { s.Earlier[0].Trace, s.Earlier[0].Std = []geom.Vec{{1, 2, 3}}, unit.MM(v) }, []float64{tiny}, []float64{0}},
		{"inspections[0].light_lx", func(s *State, v float64) { s.Looks[0].Light = unit.Some(v) }, []float64{0, 1e6}, []float64{-tiny, 1e6 + 1}},
		{"inspections[0].temperature_c", func(s *State, v float64) { s.Looks[0].Temp = unit.Some(v) }, []float64{-20, -273.15, 1e6}, []float64{-273.2, 1e6 + 1}},
		{"workplace[0].temperature", func(s *State, v float64) { s.Workplace[0].Temp = unit.Celsius(v) }, []float64{-40, 60}, []float64{-40.1, 60.1}},
		{"workplace[0].std", func(s *State, v float64) { s.Workplace[0].Std = unit.Celsius(v) }, []float64{0}, []float64{-tiny}},
		{"risks[0].chance", func(s *State, v float64) { s.Risks[0].Chance = unit.Frac(v) }, []float64{0, 1}, []float64{-tiny, 1 + tiny}},
		{"risks[0].together", func(s *State, v float64) { s.Risks[0].Factor, s.Risks[0].Together = "f", unit.Frac(v) }, []float64{tiny, 1}, []float64{0, -tiny, 1 + tiny}},
		{"risks[0].together", func(s *State, v float64) { s.Risks[0].Together = unit.Frac(v) }, []float64{0}, []float64{tiny}},
		{"risks[0].low", func(s *State, v float64) { s.Risks[0].Low = eur(v) }, []float64{0, 40000}, []float64{-1}},
		{"risks[0].likely", func(s *State, v float64) { s.Risks[0].Low = eur(v) }, nil, []float64{40001}},
		{"risks[0].likely", func(s *State, v float64) { s.Risks[0].Likely = eur(v) }, []float64{20000, 90000}, []float64{19999}},
		{"risks[0].high", func(s *State, v float64) { s.Risks[0].Likely = eur(v) }, nil, []float64{90001}},
		{"risks[0].high", func(s *State, v float64) { s.Risks[0].High = eur(v) }, []float64{40000}, []float64{39999}},
		{"risks[0].look.finds", func(s *State, v float64) { look(s).Finds = unit.Frac(v) }, []float64{0.041, 1}, []float64{0.04, 0.03, 1 + tiny}},
		{"risks[0].look.false_calls", func(s *State, v float64) { look(s).False = unit.Frac(v) }, []float64{0}, []float64{-tiny, 1 + tiny}},
		{"risks[0].look.minutes", func(s *State, v float64) { look(s).Minutes = unit.Minutes(v) }, []float64{tiny}, []float64{0, -1}},
		{"risks[0].look.price", func(s *State, v float64) { look(s).Price = eur(v) }, []float64{0, 1}, []float64{-1}},
		{"agreed[0].value", func(s *State, v float64) { s.Agreed[0].Value, s.Agreed[0].Salvage = eur(v), eur(0) }, []float64{1}, []float64{0, -1}},
		{"agreed[0].salvage", func(s *State, v float64) { s.Agreed[0].Value, s.Agreed[0].Salvage = eur(100), eur(v) }, []float64{0, 100}, []float64{-1, 101}},
		{"agreed[0].work[0].minutes", func(s *State, v float64) { s.Agreed[0].Work = []AgreedStep{{Step: "s", Minutes: unit.Minutes(v)}} }, []float64{0}, []float64{-tiny}},
		{"actuals[0].minutes", func(s *State, v float64) { s.Actuals[0].Minutes = unit.Minutes(v) }, []float64{0}, []float64{-tiny}},
		{"actuals[0].planned", func(s *State, v float64) { s.Actuals[0].Planned = unit.Minutes(v) }, []float64{0}, []float64{-tiny}},
		{"actuals[0].left", func(s *State, v float64) { s.Actuals[0].Left = unit.Minutes(v) }, []float64{0}, []float64{-1, tiny}},
		{"actuals[0].left", func(s *State, v float64) { s.Actuals[0].Going, s.Actuals[0].Left = true, unit.Minutes(v) }, []float64{tiny}, []float64{0, -1}},
		{"actuals[0].parts[0].count", func(s *State, v float64) { s.Actuals[0].Parts[0].Count = int(v) }, []float64{1}, []float64{0, -1}},
		{"actuals[0].parts[0].count", func(s *State, v float64) { s.Actuals[0].Parts[0].Count = int(v) }, []float64{1000000}, []float64{1000001}},
		{"actuals[0].parts[0].price", func(s *State, v float64) { s.Actuals[0].Parts[0].Price = eur(v) }, []float64{0}, []float64{-1}},
		{"deliveries[0].count", func(s *State, v float64) { s.Deliveries[0].Count = int(v) }, []float64{1, 1000000}, []float64{0, -1, 1000001}},
		{"promises[0].count", func(s *State, v float64) { s.Promises[0].Count = int(v) }, []float64{0, 1000000}, []float64{-1, 1000001}},
		{"records[0].indications[0].length", func(s *State, v float64) { s.Records[0].Indications[0].Length = unit.MM(v) }, []float64{0.9}, []float64{0}},
		{"records[0].indications[0].width", func(s *State, v float64) { s.Records[0].Indications[0].Length = unit.MM(v) }, nil, []float64{0.89}},
		{"records[0].indications[0].width", func(s *State, v float64) { s.Records[0].Indications[0].Width = unit.MM(v) }, []float64{tiny, 1.5}, []float64{0, 1.51}},
		{"records[0].indications[0].std", func(s *State, v float64) { s.Records[0].Indications[0].Std = unit.MM(v) }, []float64{0}, []float64{-tiny}},
		{"records[0].indications[0].ends_mm", func(s *State, v float64) { s.Records[0].Indications[0].Ends = []geom.Vec{{0, 0, 0}, {v, 0, 0}} }, []float64{1.5, 2.899}, []float64{2.91}},
		{"records[0].torque", func(s *State, v float64) {
			s.Records[0] = Record{ID: "R-1", Show: body.ShowTorque, Joint: "J", Torque: unit.NewtonMetre(v)}
		}, []float64{tiny}, []float64{0, -1}},
		{"column x_mm", func(s *State, v float64) { s.Readings[0].X = unit.Some(v) }, []float64{big, -big}, []float64{big + 1, -big - 1}},
		{"column std_mm", func(s *State, v float64) { s.Readings[0].Std = unit.Some(v) }, []float64{tiny}, []float64{0, -1}},
		{"column value_mm", func(s *State, v float64) {
			r := along(s)
			r.Kind = ReadLength
			r.To = "B"
			r.Value = unit.Some(v)
		}, []float64{tiny, big}, []float64{0, -1, big + 1}},
		{"column value_mm", func(s *State, v float64) {
			r := along(s)
			r.Kind = ReadHeight
			r.To = "B"
			r.Value = unit.Some(v)
		}, []float64{0, -big, big}, []float64{-big - 1, big + 1}},
		{"column std_z_mm", func(s *State, v float64) {
			r := &s.Readings[0]
			r.Std, r.StdX, r.StdY, r.StdZ = unit.Maybe[float64]{}, unit.Some(1.), unit.Some(1.), unit.Some(v)
		}, []float64{tiny}, []float64{0, -1}},
	} {
		for _, v := range l.good {
			if fields, text := changed(t, good, func(s *State) { l.set(s, v) }); slices.Contains(fields, l.field) {
				t.Errorf("%s %g: %s", l.field, v, text)
			}
		}
		for _, v := range l.bad {
			if fields, text := changed(t, good, func(s *State) { l.set(s, v) }); !slices.Contains(fields, l.field) {
				t.Errorf("%s %g is taken: %s", l.field, v, text)
			}
		}
	}
}

func growing() *DeviceGrowth {
	return &DeviceGrowth{Expansion: 11, Std: 1, Reference: 20, Low: 10, High: 30}
}

// What a job says otherwise than in numbers: each change is told at its field, and nowhere else
// unless it is named.
func TestFaultsOfAJob(t *testing.T) {
	good := goodJob(t)
	for name, k := range map[string]struct {
		change func(*State)
		fields string
	}{
		"as it is":                   {func(*State) {}, ""},
		"id":                         {func(s *State) { s.ID = "a b" }, "id"},
		"starts before it is opened": {func(s *State) { s.Start = s.Opened.AddDays(-1) }, "start"},
		"starts that day":            {func(s *State) { s.Start = s.Opened }, ""},
		"vin":                        {func(s *State) { s.Vehicle.VIN = "TEST" }, "vehicle.vin"},
		"built after the opening":    {func(s *State) { s.Vehicle.Built = s.Opened.AddDays(1) }, "opened"},
		"salvage in another money":   {func(s *State) { s.Vehicle.Salvage.Currency = "CHF" }, "vehicle.salvage"},
		"impact before it was built": {func(s *State) { s.Impact.On = s.Vehicle.Built.AddDays(-1) }, "impact.on"},
		"hazard twice":               {func(s *State) { s.Hazards[1].Kind, s.Hazards[1].Text = s.Hazards[0].Kind, s.Hazards[0].Text }, "hazards[1]"},
		"two of one kind":            {func(s *State) { s.Hazards[1].Kind = s.Hazards[0].Kind }, ""},
		"cleared by nobody":          {func(s *State) { s.Hazards[0].By = "" }, "hazards[0]"},
		"cleared on no day":          {func(s *State) { s.Hazards[0].On = unit.Date{} }, "hazards[0]"},
		"set-up twice":               {func(s *State) { s.Setups = append(s.Setups, s.Setups[0]) }, "setups[1].id"},
		"set-up at no time":          {func(s *State) { s.Setups[0].At = "25:00" }, "setups[0].at"},
		"set-up of an unbuilt one":   {func(s *State) { s.Setups[0].On = s.Vehicle.Built.AddDays(-1) }, "setups[0].on"},
		"finding twice":              {func(s *State) { s.Findings[2].ID = "F2" }, "findings[2].id"},
		"face of no finding":         {func(s *State) { s.Findings[1].SameAs = "F9" }, "findings[1].other_face_of"},
		"own face":                   {func(s *State) { s.Findings[1].SameAs = "F2" }, "findings[1].other_face_of"},
		"faces of each other":        {func(s *State) { s.Findings[0].SameAs = "F2" }, "findings[0].other_face_of findings[1].other_face_of"},
		"face on another part":       {func(s *State) { s.Findings[1].Part = "P-X" }, "findings[1].other_face_of"},
		"face of another kind":       {func(s *State) { s.Findings[1].Kind = body.Break }, "findings[1].other_face_of"},
		"branch": {func(s *State) {
			f := &s.Findings[1]
			f.SameAs, f.BranchOf, f.Tips = "", "F1", []body.TipMethod{"visual"}
		}, ""},
		"branch of no crack": {func(s *State) {
			f := &s.Findings[1]
			f.SameAs, f.BranchOf, f.Tips = "", "F3", []body.TipMethod{"visual"}
		}, "findings[1].branch_of"},
		"branch on another part": {func(s *State) {
			s.Findings[1].SameAs, s.Findings[1].BranchOf, s.Findings[1].Tips, s.Findings[1].Part = "", "F1", []body.TipMethod{"visual"}, "P-X"
		}, "findings[1].branch_of"},
		"branch of a break": {func(s *State) {
			s.Findings[1].SameAs, s.Findings[1].BranchOf, s.Findings[1].Tips, s.Findings[0].Kind = "", "F1", []body.TipMethod{"visual"}, body.Break
		}, "findings[1].branch_of"},
		"branch of itself": {func(s *State) {
			f := &s.Findings[1]
			f.SameAs, f.BranchOf, f.Tips = "", "F2", []body.TipMethod{"visual"}
		}, "findings[1].branch_of"},
		"branch and face":           {func(s *State) { f := &s.Findings[1]; f.BranchOf, f.Tips = "F1", []body.TipMethod{"visual"} }, "findings[1].branch_of"},
		"branch with two tips":      {func(s *State) { f := &s.Findings[1]; f.SameAs, f.BranchOf = "", "F1" }, "findings[1].tips"},
		"dent that branches":        {func(s *State) { s.Findings[2].BranchOf = "F1" }, "findings[2].branch_of"},
		"crack with one tip":        {func(s *State) { s.Findings[0].Tips = s.Findings[0].Tips[:1] }, "findings[0].tips"},
		"dent with two ends":        {func(s *State) { s.Findings[2].Tips = []body.TipMethod{"visual", "visual"} }, ""},
		"dent with three ends":      {func(s *State) { s.Findings[2].Tips = []body.TipMethod{"visual", "visual", "visual"} }, "findings[2].tips"},
		"no inspection":             {func(s *State) { s.Findings[0].Look = "I-7" }, "findings[0].inspection"},
		"no evidence":               {func(s *State) { s.Findings[0].Photos = []string{"E-1", "E-7"} }, "findings[0].evidence[1]"},
		"found before it was built": {func(s *State) { s.Findings[0].On = s.Vehicle.Built.AddDays(-1) }, "findings[0].on"},
		"found on that day":         {func(s *State) { s.Findings[0].On = s.Vehicle.Built }, ""},
		"inspection twice":          {func(s *State) { s.Looks[1].ID = "I-1" }, "inspections[1].id records[0].inspection"},
		"inspection without kind":   {func(s *State) { s.Looks[0].Medium = "" }, "inspections[0].medium"},
		"penetrant by eye":          {func(s *State) { s.Looks[0].Method = body.Visual }, "inspections[0].method"},
		"dwell by eye":              {func(s *State) { x := &s.Looks[0]; x.Method, x.Medium, x.Development.Known = body.Visual, "", false }, "inspections[0].method"},
		"development by eye":        {func(s *State) { x := &s.Looks[0]; x.Method, x.Medium, x.Dwell.Known = body.Visual, "", false }, "inspections[0].method"},
		"by eye": {func(s *State) {
			x := &s.Looks[0]
			x.Method, x.Medium, x.Dwell.Known, x.Development.Known = body.Visual, "", false, false
		}, ""},
		"inspection of no evidence":  {func(s *State) { s.Looks[0].Photos[0] = "E-7" }, "inspections[0].evidence[0]"},
		"area twice":                 {func(s *State) { s.Areas = append(s.Areas, s.Areas[0]) }, "areas[1].area"},
		"area by nobody":             {func(s *State) { s.Areas[0].By = "" }, "areas[0]"},
		"area on no day":             {func(s *State) { s.Areas[0].On = unit.Date{} }, "areas[0]"},
		"area not yet":               {func(s *State) { s.Areas[0].State, s.Areas[0].By = StateNotYet, "" }, ""},
		"area in no inspection":      {func(s *State) { s.Areas[0].Look = "I-7" }, "areas[0].inspection"},
		"evidence twice":             {func(s *State) { s.Evidence = append(s.Evidence, s.Evidence[0]) }, "evidence[1].id"},
		"evidence outside":           {func(s *State) { s.Evidence[0].File = "../x" }, "evidence[0].file"},
		"no sum":                     {func(s *State) { s.Evidence[0].SHA256 = strings.Repeat("a", 63) }, "evidence[0].sha256"},
		"a sum":                      {func(s *State) { s.Evidence[0].SHA256 = strings.Repeat("a", 64) }, ""},
		"answer twice":               {func(s *State) { s.Answers = append(s.Answers, s.Answers[0]) }, "answers[1].id"},
		"answer about nothing":       {func(s *State) { s.Answers[0].Finding = "" }, "answers[0]"},
		"answer about two":           {func(s *State) { s.Answers[0].Point = "Q1" }, "answers[0] answers[0] answers[0] answers[0].point"},
		"answer in no document":      {func(s *State) { s.Answers[0].Document = "E-7" }, "answers[0].document"},
		"answer to no question":      {func(s *State) { s.Answers[0].Question = "QU-7" }, "answers[0].question"},
		"answer about another":       {func(s *State) { s.Answers[0].Finding = "F3" }, "answers[0].finding"},
		"answer about none there":    {func(s *State) { s.Answers[0].Finding = "F9" }, "answers[0].finding"},
		"answer for another vehicle": {func(s *State) { s.Answers[0].VIN = "TEST1111111111112" }, "answers[0].vin"},
		"answer before the question": {func(s *State) { s.Questions[0].On = s.Answers[0].On.AddDays(1) }, "answers[0].on"},
		"answer that day":            {func(s *State) { s.Questions[0].On = s.Answers[0].On }, ""},
		"answer expired first":       {func(s *State) { s.Answers[0].Expires = s.Answers[0].On.AddDays(-1) }, "answers[0].expires"},
		"answer of nothing":          {func(s *State) { s.Answers[0].Allow, s.Answers[0].Forbid = nil, nil }, "answers[0]"},
		"answer both ways":           {func(s *State) { s.Answers[0].Forbid = []body.TreatmentKind{body.Leave, body.Dress} }, "answers[0].allow[0]"},
		"choice before the opening":  {func(s *State) { s.Choices[0].On = s.Opened.AddDays(-1) }, "choices[0].on"},
		"casting twice":              {func(s *State) { s.Castings = append(s.Castings, s.Castings[0]) }, "castings[1].casting"},
		"nothing of the casting":     {func(s *State) { s.Castings[0].CastOn = unit.Date{} }, "castings[0]"},
		"only looked over":           {func(s *State) { s.Castings[0].CastOn, s.Castings[0].Looked = unit.Date{}, true }, ""},
		"only fitted":                {func(s *State) { s.Castings[0].CastOn, s.Castings[0].FittedOn = unit.Date{}, s.Opened }, ""},
		"cast after it was built":    {func(s *State) { s.Castings[0].CastOn = s.Vehicle.Built.AddDays(1) }, "castings[0].cast_on"},
		"cast that day":              {func(s *State) { s.Castings[0].CastOn = s.Vehicle.Built }, ""},
		"fitted before it was cast":  {func(s *State) { s.Castings[0].FittedOn = s.Castings[0].CastOn.AddDays(-1) }, "castings[0].fitted_on"},
		"seen before it was cast":    {func(s *State) { s.Castings[0].On = s.Castings[0].CastOn.AddDays(-1) }, "castings[0].on"},
		"seen before it was fitted":  {func(s *State) { s.Castings[0].FittedOn = s.Castings[0].On.AddDays(1) }, "castings[0].on"},
		"climate before the opening": {func(s *State) { s.Workplace[0].On = s.Opened.AddDays(-1) }, "workplace[0].on"},
		"risk twice":                 {func(s *State) { s.Risks = append(s.Risks, s.Risks[0]) }, "risks[1].id"},
		"risk in another money":      {func(s *State) { s.Risks[0].High.Currency = "CHF" }, "risks[0].high"},
		"look in another money":      {func(s *State) { s.Risks[0].Look.Price.Currency = "CHF" }, "risks[0].look.price"},
		"risk before the opening":    {func(s *State) { s.Risks[0].On = s.Opened.AddDays(-1) }, "risks[0].on"},
		"settled by nothing":         {func(s *State) { s.Risks[0].Settled = SettledWell }, "risks[0].settled"},
		"settled, not how":           {func(s *State) { s.Risks[0].SettledBy = "I-9" }, "risks[0].settled"},
		"settled by what is not":     {func(s *State) { s.Risks[0].Settled, s.Risks[0].SettledBy = SettledWell, "X" }, "risks[0].settled_by"},
		"badly by an inspection":     {func(s *State) { s.Risks[0].Settled, s.Risks[0].SettledBy = SettledBadly, "I-9" }, "risks[0].settled_by"},
		"well by an inspection":      {func(s *State) { s.Risks[0].Settled, s.Risks[0].SettledBy = SettledWell, "I-9" }, ""},
		"settled before":             {func(s *State) { s.Risks[0].Settled, s.Risks[0].SettledBy = SettledWell, "I-1" }, "risks[0].settled_by"},
		"settled by an answer":       {func(s *State) { s.Risks[0].Settled, s.Risks[0].SettledBy = SettledBadly, "AN-1" }, ""},
		"bill out of order":          {func(s *State) { s.Agreed[0].Number = 2 }, "agreed[0].number"},
		"bill before the opening":    {func(s *State) { s.Agreed[0].On = s.Opened.AddDays(-1) }, "agreed[0].on"},
		"bill before the last":       {func(s *State) { a := s.Agreed[0]; a.Number, a.On = 2, a.On.AddDays(-1); s.Agreed = append(s.Agreed, a) }, "agreed[1].on"},
		"bill that day":              {func(s *State) { a := s.Agreed[0]; a.Number = 2; s.Agreed = append(s.Agreed, a) }, ""},
		"bill that does not add up":  {func(s *State) { s.Agreed[0].Total.Minor++ }, "agreed[0].total"},
		"bill in another money":      {func(s *State) { s.Agreed[0].Net.Currency = "CHF" }, "agreed[0].net"},
		"total in another money":     {func(s *State) { s.Agreed[0].Total.Currency = "CHF" }, "agreed[0].total"},
		"line in another money":      {func(s *State) { s.Agreed[0].Lines[1].Sum.Currency = "CHF" }, "agreed[0].lines[1].sum"},
		"price in another money":     {func(s *State) { s.Agreed[0].Lines[1].Price = unit.Money{Minor: 1, Currency: "CHF"} }, "agreed[0].lines[1].price"},
		"line twice":                 {func(s *State) { s.Agreed[0].Lines[1].ID = s.Agreed[0].Lines[0].ID }, "agreed[0].lines[1].id"},
		"value without salvage":      {func(s *State) { s.Agreed[0].Value = s.Vehicle.Value }, "agreed[0]"},
		"value in another money": {func(s *State) {
			s.Agreed[0].Value, s.Agreed[0].Salvage = unit.Money{Minor: 5, Currency: "CHF"}, unit.Money{Minor: 1, Currency: "EUR"}
		}, "agreed[0].value"},
		"salvage of another": {func(s *State) {
			s.Agreed[0].Value, s.Agreed[0].Salvage = unit.Money{Minor: 5, Currency: "EUR"}, unit.Money{Minor: 1, Currency: "CHF"}
		}, "agreed[0].salvage"},
		"bill of one twice":       {func(s *State) { s.Agreed[0].Findings = []FindingID{"F1", "F2", "F1"} }, "agreed[0].findings[2]"},
		"bill of a step twice":    {func(s *State) { s.Agreed[0].Work = []AgreedStep{{Step: "a"}, {Step: "b"}, {Step: "a"}} }, "agreed[0].work[2].step"},
		"work of no name":         {func(s *State) { s.Actuals[0].ID = "a b" }, "actuals[0].id"},
		"work twice":              {func(s *State) { s.Actuals[0].ID = "a"; s.Actuals = append(s.Actuals, s.Actuals[0]) }, "actuals[1] actuals[1].id"},
		"work on no finding":      {func(s *State) { s.Actuals[0].Finding = "F9" }, "actuals[0].finding"},
		"work before the opening": {func(s *State) { s.Actuals[0].On = s.Opened.AddDays(-1) }, "actuals[0].on"},
		"work at no time":         {func(s *State) { s.Actuals[0].Began = "8:00" }, "actuals[0].began"},
		"work ended at no time":   {func(s *State) { s.Actuals[0].Ended = "08:60" }, "actuals[0].ended"},
		"work ended first":        {func(s *State) { s.Actuals[0].Began, s.Actuals[0].Ended = "09:00", "08:59" }, "actuals[0].ended"},
		"work of no time":         {func(s *State) { s.Actuals[0].Began, s.Actuals[0].Ended = "09:00", "09:00" }, ""},
		"under way and ended":     {func(s *State) { s.Actuals[0].Going, s.Actuals[0].Left, s.Actuals[0].Ended = true, 5, "09:00" }, "actuals[0].ended"},
		"again for no reason":     {func(s *State) { s.Actuals[0].Again = " " }, "actuals[0].again"},
		"unplanned for no reason": {func(s *State) { s.Actuals[0].Unplanned = " " }, "actuals[0].unplanned"},
		"unplanned by no skill":   {func(s *State) { s.Actuals[0].Unplanned = "it broke" }, "actuals[0].unplanned"},
		"planned by a skill":      {func(s *State) { s.Actuals[0].Skill = "body" }, "actuals[0].skill"},
		"unplanned by a skill":    {func(s *State) { s.Actuals[0].Unplanned, s.Actuals[0].Skill = "it broke", "body" }, ""},
		"parts in another money":  {func(s *State) { s.Actuals[0].Parts[0].Price.Currency = "CHF" }, "actuals[0].parts[0].price"},
		"part twice":              {func(s *State) { s.Actuals[0].Parts = append(s.Actuals[0].Parts, s.Actuals[0].Parts[0]) }, "actuals[0].parts[1].id"},
		"part at two prices": {func(s *State) {
			p := s.Actuals[0].Parts[0]
			p.Price.Minor++
			s.Actuals[0].Parts = append(s.Actuals[0].Parts, p)
		}, ""},
		"delivery twice":             {func(s *State) { s.Deliveries = append(s.Deliveries, s.Deliveries[0]) }, "deliveries[1].id"},
		"delivery before":            {func(s *State) { s.Deliveries[0].On = s.Opened.AddDays(-1) }, "deliveries[0].on"},
		"delivery at no time":        {func(s *State) { s.Deliveries[0].At = "24:00" }, "deliveries[0].at"},
		"promise twice":              {func(s *State) { s.Promises = append(s.Promises, s.Promises[0]) }, "promises[1].id"},
		"promise before the opening": {func(s *State) { s.Promises[0].On = s.Opened.AddDays(-1) }, "promises[0].on"},
		"promised for the past":      {func(s *State) { s.Promises[0].Expected = s.Promises[0].On.AddDays(-1) }, "promises[0].expected"},
		"question twice":             {func(s *State) { s.Questions = append(s.Questions, s.Questions[0]) }, "questions[1].id"},
		"question about nothing":     {func(s *State) { s.Questions[0].Finding = "" }, "answers[0].finding questions[0] told[0].facts"},
		"question in no document":    {func(s *State) { s.Questions[0].Document = "E-7" }, "questions[0].document"},
		"question before":            {func(s *State) { s.Questions[0].On = s.Opened.AddDays(-1) }, "questions[0].on"},
		"accepted of none":           {func(s *State) { s.Accepted[0].Finding = "F9" }, "accepted[0].finding"},
		"accepted before":            {func(s *State) { s.Accepted[0].On = s.Opened.AddDays(-1) }, "accepted[0].on"},
		"a dressing along a line":    {func(s *State) { s.Accepted[0].Line = "C-1" }, "accepted[0].line"},
		"a section along none":       {func(s *State) { s.Accepted[0].Kind = body.SectionOff }, "accepted[0].line"},
		"a section along a line":     {func(s *State) { s.Accepted[0].Kind, s.Accepted[0].Line = body.SectionOff, "C-1" }, ""},
		"reviewed before":            {func(s *State) { s.Reviews[0].On = s.Opened.AddDays(-1) }, "reviews[0].on"},
		"record twice":               {func(s *State) { s.Records[1].ID = "R-1" }, "records[1].id"},
		"record of none":             {func(s *State) { s.Records[0].Finding = "F9" }, "records[0].finding"},
		"record of nothing":          {func(s *State) { s.Records[0].Finding = "" }, "records[0].finding"},
		"record in no inspection":    {func(s *State) { s.Records[0].Look = "I-7" }, "records[0].inspection"},
		"record of no evidence":      {func(s *State) { s.Records[1].Evidence[0] = "E-7" }, "records[1].evidence[0]"},
		"record before":              {func(s *State) { s.Records[0].On = s.Opened.AddDays(-1) }, "records[0].on"},
		"record of both":             {func(s *State) { s.Records[0].None = true }, "records[0].indications"},
		"record of neither":          {func(s *State) { s.Records[0].Indications = nil }, "records[0].indications"},
		"record of none shown":       {func(s *State) { s.Records[0].None, s.Records[0].Indications = true, nil }, ""},
		"one end":                    {func(s *State) { s.Records[0].Indications[0].Ends = []geom.Vec{{}} }, "records[0].indications[0].ends_mm"},
		"inspection of a look":       {func(s *State) { s.Records[1].Look = "I-9" }, "records[1].inspection"},
		"step of a look":             {func(s *State) { s.Records[1].Step = "Weld" }, "records[1].step"},
		"device of a look":           {func(s *State) { s.Records[1].Device = "wrench" }, "records[1].device"},
		"calibration of a look":      {func(s *State) { s.Records[1].Calibrated = s.Opened }, "records[1].device"},
		"words of a look":            {func(s *State) { s.Records[1].What = "no undercut" }, ""},
		"record at no time":          {func(s *State) { s.Records[1].At = "noon" }, "records[1].at"},
		"torque": {func(s *State) {
			s.Records[1] = Record{ID: "R-2", Show: body.ShowTorque, Joint: "J", Torque: 12, Device: "wrench"}
		}, ""},
		"torque of nothing": {func(s *State) { s.Records[1] = Record{ID: "R-2", Show: body.ShowTorque, Torque: 12} }, "records[1].joint"},
		"words of a torque": {func(s *State) {
			s.Records[1] = Record{ID: "R-2", Show: body.ShowTorque, Joint: "J", Torque: 12, What: "w"}
		}, "records[1].what"},
		"hold":                      {func(s *State) { s.Records[1] = Record{ID: "R-2", Show: body.ShowHold, Step: "Weld"} }, ""},
		"hold of nothing":           {func(s *State) { s.Records[1] = Record{ID: "R-2", Show: body.ShowHold} }, "records[1].step"},
		"hold of a joint":           {func(s *State) { s.Records[1] = Record{ID: "R-2", Show: body.ShowHold, Step: "Weld", Joint: "J"} }, "records[1].step"},
		"adhesive of a joint":       {func(s *State) { s.Records[1] = glued(); s.Records[1].Joint = "J" }, ""},
		"adhesive of a finding":     {func(s *State) { s.Records[1] = glued(); s.Records[1].Finding = "F1" }, ""},
		"adhesive of a step":        {func(s *State) { s.Records[1] = glued(); s.Records[1].Step = "Bond" }, ""},
		"adhesive of nothing":       {func(s *State) { s.Records[1] = glued() }, "records[1].joint"},
		"adhesive of two":           {func(s *State) { s.Records[1] = glued(); s.Records[1].Joint, s.Records[1].Finding = "J", "F1" }, "records[1].joint"},
		"adhesive without batch":    {func(s *State) { s.Records[1] = glued(); s.Records[1].Joint, s.Records[1].Batch = "J", "" }, "records[1]"},
		"adhesive without material": {func(s *State) { s.Records[1] = glued(); s.Records[1].Joint, s.Records[1].Material = "J", "" }, "records[1]"},
		"adhesive without last day": {func(s *State) { s.Records[1] = glued(); s.Records[1].Joint, s.Records[1].UseBefore = "J", unit.Date{} }, "records[1]"},
		"closed before it was mixed": {func(s *State) {
			s.Records[1] = glued()
			s.Records[1].Joint, s.Records[1].Mixed, s.Records[1].Closed = "J", "09:00", "08:59"
		}, "records[1].closed"},
		"closed at once": {func(s *State) {
			s.Records[1] = glued()
			s.Records[1].Joint, s.Records[1].Mixed, s.Records[1].Closed = "J", "09:00", "09:00"
		}, ""},
		"mixed at no time":        {func(s *State) { s.Records[1] = glued(); s.Records[1].Joint, s.Records[1].Mixed = "J", "9" }, "records[1].mixed"},
		"closed at no time":       {func(s *State) { s.Records[1] = glued(); s.Records[1].Joint, s.Records[1].Closed = "J", "9" }, "records[1].closed"},
		"told of nothing":         {func(s *State) { s.Told[0].Question = "" }, "told[0]"},
		"told with both":          {func(s *State) { s.Told[0].Answer = "AN-1" }, "told[0]"},
		"told with no question":   {func(s *State) { s.Told[0].Question = "QU-7" }, "told[0].question"},
		"told with no answer":     {func(s *State) { s.Told[0].Question, s.Told[0].Answer = "", "AN-7" }, "told[0].answer"},
		"told with the answer":    {func(s *State) { s.Told[0].Question, s.Told[0].Answer = "", "AN-1" }, ""},
		"told twice":              {func(s *State) { s.Told = append(s.Told, s.Told[0]) }, "told[1]"},
		"told of another":         {func(s *State) { s.Told[0].Findings[0].ID = "F3" }, "told[0].facts"},
		"told of one twice":       {func(s *State) { s.Told[0].Findings = append(s.Told[0].Findings, s.Told[0].Findings[0]) }, "told[0].facts[1].id"},
		"told beyond the vehicle": {func(s *State) { s.Told[0].Findings[0].Trace[1][0] = 1e6 }, "told[0].facts[0].trace_mm[1]"},
		"told of a far repair":    {func(s *State) { s.Told[0].Earlier[0].Trace, s.Told[0].Earlier[0].Std = []geom.Vec{{1e6, 0, 0}}, 1 }, "told[0].repairs[0].trace_mm[0]"},
		"reading of no set-up":    {func(s *State) { s.Readings[0].Setup = "S7" }, "column setup"},
		"reading without y":       {func(s *State) { s.Readings[0].Y = unit.Maybe[float64]{} }, "column y_mm"},
		"reading to a point":      {func(s *State) { s.Readings[0].To = "B" }, "column to"},
		"reading with a value":    {func(s *State) { s.Readings[0].Value = unit.Some(1.) }, "column value_mm"},
		"rim with its own std": {func(s *State) {
			r := &s.Readings[0]
			r.Kind, r.Std, r.StdX = ReadRim, unit.Maybe[float64]{}, unit.Some(1.)
		}, "column std_x_mm"},
		"length to nowhere": {func(s *State) {
			r := along(s)
			r.Kind = ReadLength
			r.Value = unit.Some(1.)
		}, "column to"},
		"length to itself": {func(s *State) {
			r := along(s)
			r.Kind = ReadLength
			r.To = "A"
			r.Value = unit.Some(1.)
		}, "column to"},
		"length of nothing": {func(s *State) { r := along(s); r.Kind = ReadLength; r.To = "B" }, "column value_mm"},
		"length with z": {func(s *State) {
			r := along(s)
			r.Kind = ReadLength
			r.To = "B"
			r.Value = unit.Some(1.)
			r.Z = unit.Some(1.)
		}, "column z_mm"},
		"length with std along y": {func(s *State) {
			r := along(s)
			r.Kind = ReadLength
			r.To = "B"
			r.Value = unit.Some(1.)
			r.StdY = unit.Some(1.)
		}, "column std_y_mm"},
		"half a std": {func(s *State) {
			r := &s.Readings[0]
			r.Std, r.StdX, r.StdY = unit.Maybe[float64]{}, unit.Some(1.), unit.Some(1.)
		}, ""},
	} {
		fields, text := changed(t, good, k.change)
		if name == "half a std" { // told of the row as a whole
			if len(fields) != 1 || fields[0] != "" || !strings.Contains(text, "is not clear") {
				t.Errorf("%s: %q", name, text)
			}
			continue
		}
		if got := strings.Join(fields, " "); got != k.fields {
			t.Errorf("%s is told at %q, want %q:\n%s", name, got, k.fields, text)
		}
	}
}

// glued is a record of an adhesive that says what such a record has to.
func glued() Record {
	return Record{ID: "R-2", Show: body.ShowAdhesive, Material: "M-GLUE", Batch: "17", UseBefore: unit.Date{Year: 2026, Month: 9, Day: 1}}
}

// along makes the first reading one along a line, without what it goes to and its value.
func along(s *State) *Reading {
	r := &s.Readings[0]
	r.From, r.X, r.Y, r.Z = "A", unit.Maybe[float64]{}, unit.Maybe[float64]{}, unit.Maybe[float64]{}
	return r
}
