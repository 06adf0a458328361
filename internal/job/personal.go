package job

import (
	"fmt"
	"reflect"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/ledger"
)

// Erased is what stands in the place of a text that was erased. No identity has such a form,
// so that it is nobody of a shop: what needs the person or the reason does not stand any more.
const Erased = "(erased)"

// personal is the tag of fields that hold the name of a person or what a person says. In a
// stored job they stand beside the hashed event (ledger.Aside), so that they can be erased.
const personal = "personal"

// withTexts is a record with every text of a person exchanged; data itself stays as it is. A
// text that is not given is none.
func withTexts(data any, change func(string) (string, error)) (any, error) {
	v := reflect.New(reflect.TypeOf(data)).Elem()
	v.Set(reflect.ValueOf(data))
	err := eachText("", v, change)
	return v.Interface(), err
}

// eachText goes through a value that may be set, and copies what it shares before it changes
// anything in it.
func eachText(at string, v reflect.Value, change func(string) (string, error)) error {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			name, _, _ := strings.Cut(f.Tag.Get("doc"), ",")
			text := f.Tag.Get(personal) != ""
			switch {
			case !f.IsExported():
			case !text:
				if err := eachText(name, v.Field(i), change); err != nil {
					return err
				}
			case v.Field(i).String() != "":
				s, err := change(v.Field(i).String())
				if err != nil {
					return fmt.Errorf("%s: %w", name, err)
				}
				v.Field(i).SetString(s)
			}
		}
	case reflect.Slice:
		if !holdsTexts(v.Type().Elem()) || v.Len() == 0 {
			return nil
		}
		own := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(own, v)
		v.Set(own)
		for i := range v.Len() {
			if err := eachText(at, v.Index(i), change); err != nil {
				return err
			}
		}
	}
	return nil
}

// holdsTexts says that values of a type may hold texts of people. No record holds them behind
// a pointer or in a map, which a test keeps so.
func holdsTexts(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.Slice:
		return holdsTexts(t.Elem())
	case reflect.Struct:
		for i := range t.NumField() {
			if f := t.Field(i); f.Tag.Get(personal) != "" || f.IsExported() && holdsTexts(f.Type) {
				return true
			}
		}
	}
	return false
}

// sealed is a record with a seal in the place of each text of a person, and the texts. Salt
// draws 32 bytes, in hexadecimal.
func sealed(data any, salt func() string) (any, []ledger.Aside, error) {
	var beside []ledger.Aside
	out, err := withTexts(data, func(text string) (string, error) {
		a := ledger.Aside{Salt: salt(), Text: text}
		beside = append(beside, a)
		return a.Seal()
	})
	return out, beside, err
}

// unsealed is the record of an entry with the texts that stand beside it, and Erased for
// those that do not any more.
func unsealed(data any, e ledger.Entry) (any, error) {
	texts := e.Unsealed()
	return withTexts(data, func(seal string) (string, error) {
		if !ledger.IsSeal(seal) {
			return "", fmt.Errorf("%q is the text of a person, and not its seal", seal)
		}
		if text, ok := texts[seal]; ok {
			return text, shown(text)
		}
		return Erased, nil
	})
}

// shown refuses a text that holds what nobody sees, as a document is refused: what stands beside
// an event goes through no reader of documents.
func shown(text string) error {
	for _, r := range text {
		if diag.Hidden(r) {
			return fmt.Errorf("the text holds a character that is not shown (%s)", diag.Named(r))
		}
	}
	return nil
}

// given is a text of a person as something may rest on it: nothing rests on one that was
// erased.
func given(text string) bool { return strings.TrimSpace(text) != "" && text != Erased }

// Reasoned says that a reason is on record.
func (a Accepted) Reasoned() bool { return given(a.Reason) }
