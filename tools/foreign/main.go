// Command foreign type-checks packages of the folder it runs in, and their tests, for
// other systems than this one: foreign PACKAGE... Nothing is compiled, so it takes
// seconds where a build for each system takes minutes.
package main

import (
	"fmt"
	"os"

	"golang.org/x/tools/go/packages"
)

// systems: one without Unix, and one with another processor than most.
var systems = [][2]string{{"windows", "amd64"}, {"darwin", "arm64"}}

func main() {
	bad := 0
	for _, s := range systems {
		list, err := packages.Load(&packages.Config{
			Mode:  packages.NeedName | packages.NeedFiles | packages.NeedCompiledGoFiles | packages.NeedImports | packages.NeedDeps | packages.NeedTypes | packages.NeedSyntax | packages.NeedTypesInfo | packages.NeedTypesSizes,
			Env:   append(os.Environ(), "GOOS="+s[0], "GOARCH="+s[1], "CGO_ENABLED=0"),
			Tests: true,
		}, os.Args[1:]...)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		if len(list) == 0 {
			fmt.Fprintln(os.Stderr, "foreign: no packages")
			bad++
		}
		if n := packages.PrintErrors(list); n > 0 {
			fmt.Fprintf(os.Stderr, "foreign: the above for %s on %s\n", s[0], s[1])
			bad += n
		}
	}
	if bad > 0 {
		os.Exit(1)
	}
}
