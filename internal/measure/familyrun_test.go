package measure

import (
	"os"
	"strconv"
	"strings"
	"testing"
)

func TestFamilies(t *testing.T) {
	runs := 6
	if n, err := strconv.Atoi(os.Getenv("FETTLE_FAMILIES")); err == nil && n > 0 {
		runs = n
	}
	var out strings.Builder
	out.WriteString(outcomeHead)
	for _, f := range families() {
		if !strings.Contains(f.name, os.Getenv("FAMILY_ONLY")) {
			continue
		}
		var o outcome
		for k := range runs {
			o.add(&f, uint64(k+1))
		}
		out.WriteString(o.line(f.name))
		if o.wrong > 0 {
			t.Logf("%s: %d runs firm and wrong; %s", f.name, o.wrong, o.example)
		}
	}
	t.Logf("\n%s", out.String())
}
