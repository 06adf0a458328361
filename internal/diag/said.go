package diag

import (
	"fmt"
	"strconv"
	"strings"
	"sync"

	"fettle/internal/unit"
)

// Said is a sentence with its code and with what the sentence was made of: from code and parameters
// it can be said in another language. The text is the English one.
type Said struct {
	Text string  `json:"text"`           // one sentence
	Code string  `json:"code"`           // stable name of the sentence: docs/api/codes.md
	With []Param `json:"with,omitempty"` // its parameters, in the order of the sentence
}

// Param is one thing that a sentence was made of.
type Param struct {
	Name  string      `json:"name"`
	Text  string      `json:"text"`            // as it stands in the sentence
	Value *float64    `json:"value,omitempty"` // of a figure, not rounded
	Minor *unit.Minor `json:"minor,omitempty"` // of an amount of money: minor units, whole
	Unit  string      `json:"unit,omitempty"`  // of a figure that has one; the currency of money
	Code  string      `json:"code,omitempty"`  // of a sentence that stands there
	With  []Param     `json:"with,omitempty"`  // parameters of that sentence
}

// Coded is the code and the parameters of a sentence whose text stands beside it.
type Coded struct {
	Code string  `json:"code"`
	With []Param `json:"with,omitempty"`
}

// Why is a sentence that says why something is so.
type Why struct {
	Because string `json:"because"`
	Coded   *Coded `json:"becauseSaid,omitempty"` // code and parameters of it
}

// Coded is what stands beside the text; nil of a sentence without a code.
func (s Said) Coded() *Coded {
	if s.Code == "" {
		return nil
	}
	return &Coded{s.Code, s.With}
}

// Why is the sentence as a reason.
func (s Said) Why() Why { return Why{s.Text, s.Coded()} }

// Said is the reason as a sentence.
func (w Why) Said() Said { return w.Coded.Said(w.Because) }

// Said is the sentence with its text; without a code it is only that.
func (c *Coded) Said(text string) Said {
	if c == nil {
		return Said{Text: text}
	}
	return Said{text, c.Code, c.With}
}

// And is the sentence with words behind it: the parameter "and", which is the last one.
func (s Said) And(tail Said) Said {
	s.Text += tail.Text
	s.With = append(s.With[:len(s.With):len(s.With)], Param{Name: "and", Text: tail.Text, Code: tail.Code, With: tail.With})
	return s
}

// Behind is the sentence with words before it: the parameter "before", which is the first one.
func (s Said) Behind(head Said) Said {
	s.Text = head.Text + s.Text
	s.With = append([]Param{{Name: "before", Text: head.Text, Code: head.Code, With: head.With}}, s.With...)
	return s
}

// Figure is a parameter that is a number, as it is printed and as it is.
type Figure struct {
	Text  string
	Value float64
	Unit  string
}

// Counted is so many things of a name: "3 steps".
func Counted(n int, noun string) Figure { return Figure{unit.Count(n, noun), float64(n), noun} }

// Paid is an amount of money without its currency in the text, which the sentence names or goes without.
func Paid(m unit.Minor, currency string) Sum { return Sum{m, currency} }

// Sum is a parameter that is an amount of money, printed without its currency.
type Sum struct {
	Minor    unit.Minor
	Currency string
}

// Share is a part of one, in percent.
func Share(x float64) Figure { return Figure{unit.Percent(x), x, ""} }

// Say is the sentence of a template. A parameter stands in braces: {part}, or with how a number of it
// is written, and its unit: {length:.1f mm}; {name:q} stands in quotes. One that stands twice is given once. It is for templates
// that are written in the program: one that does not fit what is given is a fault, and panics.
func Say(code, template string, args ...any) Said {
	pieces := piecesOf(template)
	out := Said{Code: code}
	var b strings.Builder
	for _, p := range pieces {
		switch {
		case p.name == "":
			b.WriteString(p.text)
		case p.arg < len(out.With):
			b.WriteString(out.With[p.arg].Text)
		case p.arg >= len(args):
			panic(fmt.Sprintf("diag: %s has no %s", code, p.name))
		default:
			if out.With == nil {
				out.With = make([]Param, 0, len(args))
			}
			x := p.of(args[p.arg])
			out.With = append(out.With, x)
			b.WriteString(x.Text)
		}
	}
	if len(out.With) != len(args) {
		panic(fmt.Sprintf("diag: %s is given %d parameters, and has %d", code, len(args), len(out.With)))
	}
	out.Text = b.String()
	return out
}

// Params are the names of the parameters of a template, in its order.
func Params(template string) []string {
	var out []string
	for _, p := range piecesOf(template) {
		if p.name != "" && p.arg == len(out) {
			out = append(out, p.name)
		}
	}
	return out
}

// quotes is how words stand in quotes.
const quotes = "%q"

// piece is a part of a template: words, or a parameter.
type piece struct {
	text   string
	name   string
	format string // of a number; empty: as it prints
	unit   string
	arg    int
}

var templates sync.Map // the pieces of each template

func piecesOf(template string) []piece {
	if known, is := templates.Load(template); is {
		return known.([]piece)
	}
	var out []piece
	args := map[string]int{}
	for rest := template; rest != ""; {
		words, inner, is := strings.Cut(rest, "{")
		if words != "" {
			out = append(out, piece{text: words})
		}
		if !is {
			break
		}
		inner, rest, is = strings.Cut(inner, "}")
		if !is {
			panic("diag: a brace is not closed in " + template)
		}
		name, format, _ := strings.Cut(inner, ":")
		if _, there := args[name]; !there {
			args[name] = len(args)
		}
		p := piece{name: name, arg: args[name]}
		if format != "" {
			p.format, p.unit, _ = strings.Cut(format, " ")
			p.format = "%" + p.format
		}
		out = append(out, p)
	}
	templates.Store(template, out)
	return out
}

// of is a parameter of a value.
func (p piece) of(v any) Param {
	out := Param{Name: p.name, Unit: p.unit}
	switch v := v.(type) {
	case string:
		out.Text = v
	case Said:
		out.Text, out.Code, out.With = v.Text, v.Code, v.With
	case Figure:
		out.Text, out.Value, out.Unit = v.Text, &v.Value, v.Unit
	case int:
		out.number(float64(v), p, v)
	case int64:
		out.number(float64(v), p, v)
	case float64:
		out.number(v, p, v)
	case unit.MM:
		out.figure(v, float64(v), "mm")
	case unit.Minutes:
		out.figure(v, float64(v), "min")
	case unit.Kilogram:
		out.figure(v, float64(v), "kg")
	case unit.SquareMetre:
		out.figure(v, float64(v), "m2")
	case unit.NewtonMetre:
		out.figure(v, float64(v), "Nm")
	case unit.Celsius:
		out.figure(v, float64(v), "C")
	case unit.Amount:
		out.figure(v, v.Value, v.Unit)
	case Sum:
		out.Text, out.Minor, out.Unit = v.Minor.Grouped(), &v.Minor, v.Currency
	case unit.Money:
		out.Text, out.Minor, out.Unit = v.String(), &v.Minor, v.Currency
	default:
		out.Text = fmt.Sprint(v)
	}
	if p.format == quotes {
		out.Text = strconv.Quote(out.Text)
	}
	return out
}

func (x *Param) figure(v fmt.Stringer, value float64, of string) {
	x.Text, x.Value, x.Unit = v.String(), &value, of
}

func (x *Param) number(value float64, p piece, v any) {
	x.Value = &value
	switch i, is := v.(int); {
	case p.format != "":
		x.Text = fmt.Sprintf(p.format, v)
	case is:
		x.Text = strconv.Itoa(i)
	default:
		x.Text = fmt.Sprint(v)
	}
	if p.unit != "" {
		x.Text += " " + p.unit
	}
}

// Said is the note as a sentence.
func (n Note) Said() Said {
	s := Said{Text: n.Text, Code: n.Code}
	if n.With != nil {
		s.With = *n.With
	}
	return s
}

// Note is a note that says it, with the rest of what the note has.
func (s Said) Note(n Note) Note {
	n.Code, n.Text, n.With = s.Code, s.Text, nil
	if s.With != nil {
		n.With = &s.With
	}
	return n
}

// Noted is Note of a note that may be missing.
func (s Said) Noted(n Note) *Note {
	n = s.Note(n)
	return &n
}
