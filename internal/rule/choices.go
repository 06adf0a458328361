package rule

// MostChoices is how many choices of one number for each of several are held against a
// limit one by one; for more the worst of each are taken together, which is stricter.
const MostChoices = 64

// Choices is every sum of one element of each list and of a start. Of more than
// MostChoices the worst of every list is taken for the list.
func Choices[T any](each [][]T, start T, add func(a, b T) T, worse func(a, b T) T) []T {
	number := 1
	for _, e := range each {
		number = min(MostChoices+1, number*len(e))
	}
	out := []T{start}
	for _, e := range each {
		if number > MostChoices {
			worst := e[0]
			for _, x := range e {
				worst = worse(worst, x)
			}
			e = []T{worst}
		}
		var next []T
		for _, s := range out {
			for _, x := range e {
				next = append(next, add(s, x))
			}
		}
		out = next
	}
	return out
}
