// Command vuln reads what govulncheck writes with -format json, and tells which known vulnerabilities are reached from the
// code here. One in a module that go.mod names is for us to mend and ends with 1; one in the standard library is mended by
// a newer release of Go, and is told only.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
)

type message struct {
	Finding *struct {
		OSV          string `json:"osv"`
		FixedVersion string `json:"fixed_version"`
		Trace        []struct {
			Module   string `json:"module"`
			Version  string `json:"version"`
			Function string `json:"function"`
		} `json:"trace"`
	} `json:"finding"`
}

func main() {
	ours, err := read(os.Stdin)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
	if ours > 0 {
		os.Exit(1)
	}
}

// read tells each finding once, and how many are in modules.
func read(from io.Reader) (ours int, err error) {
	var told []string
	messages := json.NewDecoder(from)
	for {
		var one message
		if err := messages.Decode(&one); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return ours, err
		}
		if one.Finding == nil || len(one.Finding.Trace) == 0 || one.Finding.Trace[0].Function == "" { // imported and not called
			continue
		}
		at := one.Finding.Trace[0]
		line := fmt.Sprintf("%s in %s %s, mended in %s", one.Finding.OSV, at.Module, at.Version, one.Finding.FixedVersion)
		if slices.Contains(told, line) {
			continue
		}
		told = append(told, line)
		fmt.Println(line)
		if at.Module != "stdlib" {
			ours++
		}
	}
	fmt.Printf("%d reached, %d of them in modules\n", len(told), ours)
	return ours, nil
}
