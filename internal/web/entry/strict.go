package entry

import (
	"bytes"
	"encoding/json"
	"io"
	"strings"
)

// strict reads one JSON object into a struct: no member twice, also in other letters, none that it does not have, nothing behind it.
func strict(text []byte, into any) bool {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if d.Decode(into) != nil {
		return false
	}
	if _, err := d.Token(); err != io.EOF {
		return false
	}
	d = json.NewDecoder(bytes.NewReader(text))
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return false
	}
	seen := map[string]bool{}
	for d.More() {
		t, err := d.Token()
		name, is := t.(string)
		if err != nil || !is || seen[strings.ToLower(name)] || name != strings.ToLower(name) {
			return false
		}
		seen[name] = true
		var value json.RawMessage
		if d.Decode(&value) != nil {
			return false
		}
	}
	return true
}
