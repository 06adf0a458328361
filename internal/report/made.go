package report

import (
	"bytes"
	"html/template"

	"fettle/internal/diag"
)

// styleOf is a style sheet of the pages, with the style of the drawings.
func styleOf(sheet string) (template.CSS, error) {
	var all []byte
	for _, name := range []string{"drawing.css", sheet} {
		css, err := pages.ReadFile("page/" + name)
		if err != nil {
			return "", err
		}
		all = append(all, css...)
	}
	return template.CSS(all), nil
}

// made is a page filled in. Whatever text got there, no character of it turns or
// hides others.
func made(name string, doc any) ([]byte, error) {
	t, err := template.ParseFS(pages, "page/*.html")
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, name, doc); err != nil {
		return nil, err
	}
	return []byte(diag.PlainLines(b.String())), nil
}
