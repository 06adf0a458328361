package diag

import (
	"encoding/json"
	"strings"
	"testing"

	"fettle/internal/unit"
)

// A sentence is its template with what is given, and has each parameter once: words, figures with value and unit, money in minor units,
// sentences with their own code. What fmt prints of the same is the source of the texts.
func TestSay(t *testing.T) {
	inner := Say("a.inner", "{n} left", 3)
	for _, c := range []struct {
		got        Said
		text, with string
	}{
		{Say("a.b", "nothing"), "nothing", ""},
		{Say("a.b", "{part:q} of {row:.1f mm}, {part:q} again", "P\"1", 12.34), `"P\"1" of 12.3 mm, "P\"1" again`, `[{"name":"part","text":"\"P\\\"1\""},{"name":"row","text":"12.3 mm","value":12.34,"unit":"mm"}]`},
		{Say("a.b", "{n} and {t} and {s}", 7, unit.Celsius(21), Severity(Blocking)), "7 and 21 C and blocks", `[{"name":"n","text":"7","value":7},{"name":"t","text":"21 C","value":21,"unit":"C"},{"name":"s","text":"blocks"}]`},
		{Say("a.b", "{m} {c}, {all}", Paid(123456, "EUR"), "EUR", unit.Money{Minor: 5, Currency: "SEK"}), "1,234.56 EUR, 0.05 SEK", `[{"name":"m","text":"1,234.56","minor":123456,"unit":"EUR"},{"name":"c","text":"EUR"},{"name":"all","text":"0.05 SEK","minor":5,"unit":"SEK"}]`},
		{Say("a.b", "{days}: {inner}", Counted(1, "day"), inner), "1 day: 3 left", `[{"name":"days","text":"1 day","value":1,"unit":"day"},{"name":"inner","text":"3 left","code":"a.inner","with":[{"name":"n","text":"3","value":3}]}]`},
		{inner.And(Say("a.more", "; go")).Behind(Say("a.head", "so: ")), "so: 3 left; go", `[{"name":"before","text":"so: ","code":"a.head"},{"name":"n","text":"3","value":3},{"name":"and","text":"; go","code":"a.more"}]`},
	} {
		text, err := json.Marshal(c.got.With)
		if err != nil || c.got.Text != c.text || len(c.got.With) > 0 && string(text) != c.with || len(c.got.With) == 0 && c.with != "" {
			t.Errorf("%q with %s, want %q with %s", c.got.Text, text, c.text, c.with)
		}
	}
	if inner.Text != "3 left" || len(inner.With) != 1 {
		t.Errorf("what was put behind a sentence changed it: %v", inner)
	}
	n := inner.Note(Note{Severity: Caution, Where: "w", Code: "x.y"})
	if n.Code != "a.inner" || n.Text != "3 left" || n.Severity != Caution || n.Where != "w" || n.Said().With[0].Name != "n" || Say("a.b", "x").Note(n).With != nil {
		t.Errorf("%+v", n)
	}
}

// A template that does not fit what is given is a fault of the program, and is told with its code.
func TestTemplatesFit(t *testing.T) {
	for name, do := range map[string]func(){
		"too few":    func() { Say("a.b", "{x} {y}", 1) },
		"too many":   func() { Say("a.b", "{x} {x}", 1, 2) },
		"not closed": func() { Say("a.b", "{x", 1) },
	} {
		func() {
			defer func() {
				if said, _ := recover().(string); !strings.HasPrefix(said, "diag: ") {
					t.Errorf("%s: %q", name, said)
				}
			}()
			do()
		}()
	}
}
