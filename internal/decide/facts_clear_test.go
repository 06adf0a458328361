package decide

import (
	"testing"

	"fettle/internal/body"
)

// A list of bores that was left out is no proof that there are none; an empty
// one says so. Source: docs/formats/body.md.
func TestNoBoresOnlyWhenTheBodySaysSo(t *testing.T) {
	none := clearances[body.FactBore].none
	for _, k := range []struct {
		casting body.Casting
		want    bool
	}{
		{body.Casting{}, false},
		{body.Casting{Bores: []body.Bore{}}, true},
		{body.Casting{Bores: []body.Bore{{ID: "H1"}}}, false},
	} {
		if got := none(nil, &subject{casting: &k.casting}); got != k.want {
			t.Errorf("bores %v: surely none is %v", k.casting.Bores, got)
		}
	}
}
