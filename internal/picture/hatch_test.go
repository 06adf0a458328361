package picture

import "testing"

func TestHatchesDiffer(t *testing.T) {
	seen := map[string]int{}
	for k := range hatches {
		var b []byte
		for y := range 68 {
			for x := range 68 {
				v := byte('.')
				if hatched(k, x, y, 34) {
					v = '#'
				}
				b = append(b, v)
			}
		}
		if other, ok := seen[string(b)]; ok {
			t.Errorf("hatches %d and %d are the same", other, k)
		}
		seen[string(b)] = k
	}
}
