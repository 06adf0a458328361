package golden

import (
	"reflect"
	"testing"
)

// A copy is the same and shares nothing: whatever is changed in one stays as it was in the other.
func TestCopied(t *testing.T) {
	type inner struct{ N int }
	type outer struct {
		List   []inner
		Of     map[string][]int
		To     *inner
		None   *inner
		Array  [2][]int
		hidden int
	}
	make := func() outer {
		return outer{List: []inner{{1}, {2}}, Of: map[string][]int{"a": {1}}, To: &inner{3}, Array: [2][]int{{1}, nil}, hidden: 7}
	}
	was := make()
	now := Copied(was)
	if !reflect.DeepEqual(was, now) {
		t.Fatalf("%+v, want %+v", now, was)
	}
	now.List[0].N, now.Of["a"][0], now.Of["b"], now.To.N = 9, 9, nil, 9
	if !reflect.DeepEqual(was, make()) {
		t.Errorf("%+v was changed", was)
	}
}
