// Package revise looks at procedures side by side and alone: what one revision says
// otherwise than another, which findings they decide differently, what no row speaks
// of, which rows overrule one another, and whether a procedure passes the tests it
// comes with. It decides nothing: package decide does, once under each revision.
package revise
