// Command tally reads what 'go test -json' prints and writes a line for each
// package as it ends, and every line of a test that failed. With -log it adds
// each test to a file; with -sum it reads that file and prints the slowest
// tests and, last, how many ran.
package main

import (
	"bufio"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
)

// event is a line of 'go test -json' (go doc test2json).
type event struct {
	Action, Package, Test, Output, ImportPath string
	Elapsed                                   float64
}

func main() {
	log := flag.String("log", "", "file to add the tests to")
	sum := flag.Int("sum", -1, "print that many of the slowest tests of the file, and the sum")
	flag.Parse()
	if *log == "" {
		fail(fmt.Errorf("tally: -log FILE is needed"))
	}
	if *sum >= 0 {
		fail(summary(*log, *sum))
		return
	}
	f, err := os.OpenFile(*log, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	fail(err)
	failed, err := read(os.Stdin, os.Stdout, f)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	fail(err)
	if failed {
		os.Exit(1)
	}
}

// read passes a run on and says whether anything in it failed.
func read(in io.Reader, out, log io.Writer) (failed bool, err error) {
	said := map[string][]string{} // output of a test or package until it ends
	tests := map[string]int{}
	lines := bufio.NewReader(in)
	for {
		line, err := lines.ReadString('\n')
		if line == "" && err == io.EOF {
			return failed, nil
		}
		if err != nil && err != io.EOF {
			return failed, err
		}
		var e event
		if json.Unmarshal([]byte(line), &e) != nil { // not of the test runner: a tool's own words
			fmt.Fprint(out, line)
			continue
		}
		key := e.Package + " " + e.Test
		switch e.Action {
		case "output":
			said[key] = append(said[key], e.Output)
		case "build-output":
			fmt.Fprint(out, e.Output)
		case "build-fail":
			failed = true
		case "pass", "fail", "skip":
			if e.Action == "fail" {
				failed = true
				fmt.Fprint(out, strings.Join(said[key], ""))
			}
			delete(said, key)
			if e.Test != "" {
				tests[e.Package]++
				if _, err := fmt.Fprintf(log, "%s\t%.2f\t%s\t%s\n", e.Action, e.Elapsed, strings.TrimPrefix(e.Package, "fettle/"), e.Test); err != nil {
					return failed, err
				}
			} else if n := tests[e.Package]; n > 0 || e.Action == "fail" {
				fmt.Fprintf(out, "%-5s %-28s %5d tests %7.1f s\n", map[string]string{"pass": "ok", "fail": "FAIL", "skip": "ok"}[e.Action], strings.TrimPrefix(e.Package, "fettle/"), n, e.Elapsed)
			}
		}
	}
}

// summary prints the n slowest tests of a log and how many passed.
func summary(file string, n int) error {
	data, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	type test struct {
		seconds float64
		name    string
	}
	var all []test
	count := map[string]int{}
	for _, line := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		f := strings.Split(line, "\t")
		if len(f) != 4 {
			return fmt.Errorf("%s: %q is no line of a test", file, line)
		}
		seconds, err := strconv.ParseFloat(f[1], 64)
		if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		count[f[0]]++
		if !strings.Contains(f[3], "/") {
			all = append(all, test{seconds, f[2] + " " + f[3]})
		}
	}
	slices.SortStableFunc(all, func(a, b test) int { return int(100 * (b.seconds - a.seconds)) })
	if n > 0 {
		fmt.Println("the slowest tests:")
	}
	for _, t := range all[:min(n, len(all))] {
		fmt.Printf("%8.1f s  %s\n", t.seconds, t.name)
	}
	fmt.Printf("%d tests passed", count["pass"])
	if count["skip"] > 0 {
		fmt.Printf(", %d did not apply here", count["skip"])
	}
	if count["fail"] > 0 {
		fmt.Printf(", %d FAILED", count["fail"])
	}
	fmt.Println()
	return nil
}

func fail(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
