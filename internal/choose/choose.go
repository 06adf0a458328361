// Package choose finds the cheapest choice of options that meets given conditions:
// rows to cover, pairs that exclude one another, options that need others, stocks
// bought by the pack. The choice is exact, or comes with a bound that no choice
// goes below.
//
// The search runs in floating point and decides nothing by it: what it leaves out,
// it leaves out by whole numbers.
package choose
