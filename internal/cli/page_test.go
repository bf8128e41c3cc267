package cli_test

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"
	"unicode/utf8"

	"gritward/internal/cli"
	pb "gritward/proto/gritward/v1"
)

func TestTableAligns(t *testing.T) {
	got := cli.Table(false, []string{"name", "pace"}, [][]string{{"Ida", "22"}, {"自行车", "23"}, {"é", "24"}, {"", "25"}})
	// East Asian wide characters take two places (Unicode Standard Annex 11), a combining mark none.
	want := "name    pace\nIda     22\n自行车  23\né       24\n        25\n"
	if got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

func TestTableColour(t *testing.T) {
	rows := [][]string{{"blue", "held"}, {"grey", "clear"}}
	if got := cli.Table(false, []string{"bike", "stands"}, rows); strings.Contains(got, "\x1b") {
		t.Errorf("escapes without colour: %q", got)
	}
	got := cli.Table(true, []string{"bike", "stands"}, rows)
	if !strings.Contains(got, "\x1b[1;31mheld") || !strings.Contains(got, "\x1b[1;32mclear") {
		t.Errorf("no colour: %q", got)
	}
}

func TestTableKeepsItsRows(t *testing.T) {
	rows := [][]string{{"a\nb", "c"}}
	cli.Table(true, nil, rows)
	if rows[0][0] != "a\nb" {
		t.Errorf("the caller's rows were changed: %q", rows)
	}
}

func TestClean(t *testing.T) {
	for text, want := range map[string]string{
		"plain ünd 中 🚲":         "plain ünd 中 🚲",
		"a\tb\nc\r":             "a b c ",
		"\x1b[2J\x07":           "\ufffd[2J\ufffd",
		"\u009b31m":             "\ufffd31m",
		"pay\u202Egnp":          "pay\ufffdgnp",
		"\xff\xfe":              "\ufffd",
		"line\u2028separator":   "line\ufffdseparator",
		"isolate\u2066x\u2069y": "isolate\ufffdx\ufffdy",
	} {
		if got := cli.Clean(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func FuzzClean(f *testing.F) {
	f.Add("\x1b]0;title\x07")
	f.Add("\xf0\x9f\x9a")
	f.Fuzz(func(t *testing.T, text string) {
		got := cli.Clean(text)
		if !utf8.ValidString(got) || strings.ContainsAny(got, "\x00\x07\x08\n\r\x1b\x7f\u009b\u202e") {
			t.Errorf("%q", got)
		}
	})
}

func TestProgress(t *testing.T) {
	told := func(terminal bool, lasts time.Duration) string {
		var err bytes.Buffer
		synctest.Test(t, func(*testing.T) {
			done := cli.Progress(cli.IO{Err: &err, ErrTerminal: terminal}, "sending big.gpx")
			time.Sleep(lasts) // of the bubble's own clock
			done()
			done() // may be called again
		})
		return err.String()
	}
	if got := told(true, 900*time.Millisecond); got != "" {
		t.Errorf("told of what was quick: %q", got)
	}
	if got := told(true, 2500*time.Millisecond); !strings.Contains(got, "sending big.gpx: 2 s") || !strings.HasSuffix(got, "\r\x1b[K") {
		t.Errorf("slow: %q", got)
	}
	if got := told(false, 2500*time.Millisecond); got != "" {
		t.Errorf("told a file: %q", got)
	}
}

func TestConfirm(t *testing.T) {
	for answer, want := range map[string]bool{"y\n": true, "YES\n": true, " y \n": true, "y": true,
		"n\n": false, "": false, "\n": false, "yep\n": false, strings.Repeat("y", 5000): false} {
		var err bytes.Buffer
		got := cli.Confirm(cli.IO{In: strings.NewReader(answer), Err: &err}, "Sure?")
		if (got == nil) != want {
			t.Errorf("%.10q: %v", answer, got)
		}
		if !strings.HasPrefix(err.String(), "Sure? [y/N] ") {
			t.Errorf("asked %q", err.String())
		}
	}
	broken := errors.New("broken")
	if err := cli.Confirm(cli.IO{In: failing{broken}, Err: io.Discard}, "Sure?"); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

func TestAllPages(t *testing.T) {
	calls := 0
	got, err := cli.AllPages(func(token string) ([]*pb.Bike, string, error) {
		if want := []string{"", "b", "c"}[calls]; token != want {
			t.Errorf("call %d with %q, want %q", calls, token, want)
		}
		calls++
		return []*pb.Bike{{Name: token}}, []string{"b", "c", ""}[calls-1], nil
	})
	if err != nil || len(got) != 3 {
		t.Errorf("%v, %v", got, err)
	}
	_, err = cli.AllPages(func(string) ([]*pb.Bike, string, error) { return nil, "again", nil })
	if err == nil || !strings.Contains(err.Error(), "fault of the server") {
		t.Errorf("pages without end: %v", err)
	}
	failed := errors.New("failed")
	if _, err = cli.AllPages(func(string) ([]*pb.Bike, string, error) { return nil, "", failed }); !errors.Is(err, failed) {
		t.Errorf("got %v", err)
	}
}
