package app

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// linesOfReadings is how many lines the table of readings of a job has.
func (a *App) linesOfReadings(c *Opened) int {
	if c.stored != nil {
		return 1 + len(c.Job.Readings)
	}
	files, err := a.jobFiles(c.From)
	if err != nil {
		return 0 // told when the job is read to be added to
	}
	text := bytes.TrimRight(files[job.ReadingsFile], "\r\n")
	if len(text) == 0 {
		return 1 // the header of a table that is begun
	}
	return bytes.Count(text, []byte("\n")) + 1
}

// setup is one placement of a measuring device; what it read are rows of their own.
func (t *taken) setup(e Entry) (any, string, error) {
	stages := []string{string(job.StageBefore), string(job.StageDuring), string(job.StageAfter)}
	x := job.Setup{ID: e.Setup, Stage: job.Stage(e.What), Device: e.Device, Calibrated: e.Calibrated, On: e.On, At: e.From, By: e.By}
	switch {
	case x.ID == "":
		return nil, "setup", errors.New("the set-up has no identity; give it a name that no other has")
	case !slices.Contains(stages, e.What):
		return nil, "what", fmt.Errorf("%q is no stage; %s", e.What, doc.DidYouMean(e.What, stages))
	case strings.TrimSpace(x.Device) == "":
		return nil, "device", errors.New("the row does not say with which device it was measured")
	}
	for _, pair := range strings.Split(e.Value, ";") {
		key, value, ok := strings.Cut(pair, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		var err error
		switch {
		case strings.TrimSpace(pair) == "":
		case !ok:
			err = fmt.Errorf("%q says nothing of a set-up; write name=value, separated by semicolons", strings.TrimSpace(pair))
		case key == "std":
			x.Std, err = quantity[unit.MM](value, "mm")
		case key == "temperature":
			var c unit.Celsius
			c, err = quantity[unit.Celsius](value, "C")
			x.Temp = unit.Some(c)
		case key == "temperature_std":
			x.TempStd, err = quantity[unit.Kelvin](value, "K")
		default:
			err = fmt.Errorf("nothing of a set-up is called %q; known are std, temperature and temperature_std, and the growth of a device is entered with the set-up (%s)", key, t.c.Job.Place("setups"))
		}
		if err != nil {
			return nil, "value", err
		}
	}
	if x.Std <= 0 {
		return nil, "value", errors.New("the row does not say the standard uncertainty of the set-up; write 'std=0.3 mm'")
	}
	return x, "setup", nil
}

// reading is a row of the table of readings: a point, or a length or height between two.
func (t *taken) reading(e Entry) (job.Reading, string, error) {
	x := job.Reading{Setup: e.Setup, Kind: job.ReadingKind(e.What)}
	setups := append(slices.Clone(t.c.Job.Setups), recordsOf[job.Setup](t)...)
	k := slices.IndexFunc(setups, func(s job.Setup) bool { return s.ID == e.Setup })
	switch {
	case e.Setup == "":
		return x, "setup", errors.New("the row does not say in which set-up it was read")
	case k < 0:
		return x, "setup", fmt.Errorf("set-up %q is neither in the job nor in the list", e.Setup)
	case setups[k].By != e.By || setups[k].On != e.On:
		return x, "by", fmt.Errorf("the row is signed by %s on %s, and set-up %s by %s on %s; what another person read on another day is a set-up of its own", e.By, e.On, e.Setup, setups[k].By, setups[k].On)
	}
	var numbers []float64
	for _, s := range strings.Split(e.Value, ";") {
		n, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil {
			return x, "value", fmt.Errorf("%q is not a number; write millimetres, separated by semicolons", strings.TrimSpace(s))
		}
		numbers = append(numbers, n)
	}
	points := strings.Fields(e.About)
	switch want := map[job.ReadingKind]int{job.ReadXYZ: 3, job.ReadRim: 3, job.ReadLength: 1, job.ReadHeight: 1}[x.Kind]; {
	case want == 0:
		return x, "what", fmt.Errorf("%q is no kind of reading; write xyz, rim, length or height", e.What)
	case want == 3 && len(points) != 1 || want == 1 && len(points) != 2:
		return x, "about", fmt.Errorf("a reading of the kind %s is of %d points, %q names %d", e.What, map[int]int{3: 1, 1: 2}[want], e.About, len(points))
	case len(numbers) != want && len(numbers) != want+1:
		return x, "value", fmt.Errorf("a reading of the kind %s has %s, and its standard uncertainty behind them where it is not the set-up's; the row has %d", e.What, unit.Count(want, "number"), len(numbers))
	case want == 3:
		x.X, x.Y, x.Z = unit.Some(numbers[0]), unit.Some(numbers[1]), unit.Some(numbers[2])
	default:
		x.Value, x.To = unit.Some(numbers[0]), body.PointID(points[1])
	}
	x.From = body.PointID(points[0])
	if len(numbers) == 2 || len(numbers) == 4 {
		x.Std = unit.Some(numbers[len(numbers)-1])
	}
	return x, "value", nil
}

// used is parts and materials that a step used, as "M-DISC=2; P-SKIN=1@40.00 EUR".
func (t *taken) used(s string) ([]job.PartUsed, error) {
	var out []job.PartUsed
	for _, pair := range strings.Split(s, ";") {
		if strings.TrimSpace(pair) == "" {
			continue
		}
		id, rest, ok := strings.Cut(pair, "=")
		count, price, priced := strings.Cut(rest, "@")
		x := job.PartUsed{ID: strings.TrimSpace(id)}
		n, err := strconv.Atoi(strings.TrimSpace(count))
		if !ok || err != nil || n <= 0 {
			return nil, fmt.Errorf("%q does not say how many; write for example M-DISC=2", strings.TrimSpace(pair))
		}
		x.Count = n
		switch {
		case priced:
			if err := x.Price.UnmarshalText([]byte(strings.TrimSpace(price))); err != nil {
				return nil, fmt.Errorf("%s: %w", x.ID, err)
			}
		default:
			if x.Price, ok = t.priceOf(x.ID); !ok {
				return nil, fmt.Errorf("the body has no price of %q; write it behind the count, for example %s=%d@4.50 EUR", x.ID, x.ID, n)
			}
		}
		if slices.ContainsFunc(out, func(o job.PartUsed) bool { return o.ID == x.ID }) {
			return nil, fmt.Errorf("%s is named twice; name it once with all that was used", x.ID)
		}
		out = append(out, x)
	}
	return out, nil
}

// priceOf is what the body has as the price of a part or of a pack of a material.
func (t *taken) priceOf(id string) (unit.Money, bool) {
	if m, ok := t.c.Body.Material(body.MaterialID(id)); ok {
		return m.Price, true
	}
	if p, ok := t.c.Body.Part(body.PartID(id)); ok {
		return p.Price, true
	}
	return unit.Money{}, false
}
