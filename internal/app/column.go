package app

import (
	"fmt"

	"fettle/internal/explain"
	"fettle/internal/job"
)

// Column is how a text is laid out where it is read; whoever shows it gives it.
type Column = explain.Column

// more is how many a list leaves out.
func more(col Column, n int) string {
	return col.How.Hint(fmt.Sprintf("and %d more", n), job.Give(job.GiveData))
}
