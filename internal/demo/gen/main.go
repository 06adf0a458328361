// Command gen makes the mesh of the demonstration's casting again and writes it
// where package demo embeds it. It runs by "go generate ./internal/demo" and
// refuses nothing and decides nothing.
package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"

	"fettle/internal/demo/casting"
	"fettle/internal/format"
)

func main() {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err == nil {
		_, err = z.Write(format.WritePLY(casting.Build()))
	}
	if err == nil {
		err = z.Close()
	}
	if err == nil {
		err = os.WriteFile("files/body/front-casting.ply.gz", b.Bytes(), 0o644)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(1)
	}
}
