package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const twinTable = "id,mirror,std_mm,name\nA,B,0.3,Tower left\nB,A,0.3,Tower right\nC,D,0.3,\nD,C,0.3,\n"

// A table of twins without places: each fault is named by file, line and column.
func TestTwinsWithoutPlaces(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("readings.csv", "setup,kind,from,to,value_mm,std_mm\nT,length,A,C,903,0.5\nT,length,B,D,896,0.5\n")
	for _, c := range []struct {
		table, flags string
		code         int
		want         string
	}{
		{twinTable, "", Blocked, "differ"},
		{strings.ReplaceAll(twinTable, "0.3", ""), "", Blocked, "it is not known how alike the two sides are built"},
		{strings.ReplaceAll(twinTable, "0.3", ""), "--alike 5", Blocked, "not told apart"},
		{twinTable, "--json", Blocked, `"verdict": "differ"`},
		// the column mirror
		{strings.Replace(twinTable, "A,B", "A,X", 1), "", Refused, "twins.csv:2: column mirror"},
		{strings.Replace(twinTable, "A,B", "A,A", 1), "", Refused, "is its own mirror point"},
		{strings.Replace(twinTable, "A,B", "A,C", 1), "", Refused, `point "A" names "C" as its twin, but "C" does not name "A"`},
		{"id,mirror\nA,\nC,\nB,\nD,\n", "", Refused, "no point has a twin, and none has a place"},
		{"id,mirrors\nA,B\nB,A\n", "", Refused, "unknown column"},
		// the column id
		{strings.Replace(twinTable, "A,B", ",B", 1), "", Refused, "twins.csv:2: column id"},
		{twinTable + "A,B,0.3,\n", "", Refused, `"A"`},
		{strings.Replace(twinTable, "id,", "ID,", 1), "", Refused, "unknown column"},
		{strings.Replace(twinTable, "D,C", "E,C", 1), "", Refused, "column mirror"},
		{"id,mirror\n", "", Refused, "there is no row below the header"},
		// the column std_mm
		{strings.Replace(twinTable, "0.3", "-1", 1), "", Refused, "the spread is negative"},
		{strings.Replace(twinTable, "0.3", "wide", 1), "", Refused, "twins.csv:2: column std_mm"},
		{strings.Replace(twinTable, "0.3", "NaN", 1), "", Refused, "column std_mm"},
		{strings.Replace(twinTable, "0.3", "\"0,3\"", 1), "", Refused, "column std_mm"},
		{strings.Replace(twinTable, "std_mm", "std", 1), "", Refused, "unknown column"},
		// --alike
		{twinTable, "--alike 0", Usage, "--alike: is not a number above zero"},
		{twinTable, "--alike=-1", Usage, "--alike: is not a number above zero"},
		{twinTable, "--alike nan", Usage, "--alike: is not a number above zero"},
		{twinTable, "--alike inf", Usage, "--alike: is not a number above zero"},
		{twinTable, "--alike much", Usage, `--alike: "much" is given where a number is needed`},
	} {
		write("twins.csv", c.table)
		code, out, stderr := run(t, dir, append([]string{"measure", "--points", "twins.csv", "--readings", "readings.csv"}, strings.Fields(c.flags)...)...)
		if code != c.code || !strings.Contains(out+stderr, c.want) {
			t.Errorf("%q %s: code %d, want %d, %q:\n%s%s", c.table, c.flags, code, c.code, c.want, out, stderr)
		}
		if code == Blocked && c.flags != "--json" && !strings.Contains(out, "Nothing here says that a point has not\nmoved") {
			t.Errorf("the answer does not say what it is worth:\n%s", out)
		}
	}
}
