//go:build outside

package datafolder

import (
	"testing"

	"fettle/internal/store/s3test"
)

// TestOutsideS3PostgreSQLDrill restores shops from and into buckets of a server that checks who asks.
func TestOutsideS3PostgreSQLDrill(t *testing.T) { drill(t, s3test.Real) }

// TestOutsideS3PostgreSQLSweeps lets people and sweeps meet there.
func TestOutsideS3PostgreSQLSweeps(t *testing.T) { sweeps(t, s3test.Real(t), 2) }
