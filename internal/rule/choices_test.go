package rule

import (
	"slices"
	"testing"
)

// Every sum of one of each, and of more than are tried one by one the worst of each: the
// largest sum is among them either way. Constructed.
func TestChoices(t *testing.T) {
	add := func(a, b int) int { return a + b }
	worse := func(a, b int) int { return max(a, b) }
	if got := Choices([][]int{{1, 2}, {10, 20}}, 100, add, worse); !slices.Equal(got, []int{111, 121, 112, 122}) {
		t.Errorf("%v", got)
	}
	if got := Choices(nil, 7, add, worse); !slices.Equal(got, []int{7}) {
		t.Errorf("of none: %v", got)
	}
	for n := range 10 { // 2^6 are tried, 2^7 are not
		var each [][]int
		for range n {
			each = append(each, []int{1, 2})
		}
		got := Choices(each, 0, add, worse)
		if len(got) != map[bool]int{true: 1 << n, false: 1}[n <= 6] || slices.Max(got) != 2*n {
			t.Errorf("%d pairs: %d sums up to %d", n, len(got), slices.Max(got))
		}
	}
}
