// Command gen makes the mesh of the demonstration's casting again and writes it
// where package demo embeds it, and the coarse one beside the tests that read it. It
// runs by "go generate ./internal/demo" and refuses nothing and decides nothing.
package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"

	"fettle/internal/demo/casting"
	"fettle/internal/format"
	"fettle/internal/mesh"
)

func main() {
	err := write("files/body/front-casting.ply.gz", casting.Build())
	if err == nil {
		err = write("../golden/folders/coarse.ply.gz", casting.Coarse())
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(1)
	}
}

func write(name string, m *mesh.Mesh) error {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err == nil {
		_, err = z.Write(format.WritePLY(m))
	}
	if err == nil {
		err = z.Close()
	}
	if err == nil {
		err = os.WriteFile(name, b.Bytes(), 0o644)
	}
	return err
}
