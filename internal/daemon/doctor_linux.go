package daemon

import (
	"context"
	"fmt"
	"os/exec"
	"strconv"
	"strings"
	"syscall"

	"golang.org/x/sys/unix"

	"gritward/internal/vitals"
)

// leastFiles is how many files the server should be able to have open: connections of four hundred members at once, and what it needs itself.
// Ours.
const leastFiles = 1024

// kept tells whether somebody keeps the clock (adjtimex(2): the state TIME_ERROR says not).
func kept() (synchronised, known bool) {
	state, err := unix.Adjtimex(&unix.Timex{})
	return state != unix.TIME_ERROR, err == nil
}

// limitsOfSystem: the system lets the server do its work. Those of the unit count where it is installed, else those of this process.
func limitsOfSystem(ctx context.Context) []vitals.Finding {
	files, whose := uint64(0), "this process may"
	var limit syscall.Rlimit
	if syscall.Getrlimit(syscall.RLIMIT_NOFILE, &limit) == nil {
		files = limit.Max
	}
	unit := unitSettings(ctx)
	if n, err := strconv.ParseUint(unit["LimitNOFILE"], 10, 64); err == nil {
		files, whose = n, "the unit gritwardd may"
	}
	if files < leastFiles {
		return warning("limits", fmt.Sprintf("%s have %d files open", whose, files), "Members are refused when many call at once.", fmt.Sprintf("LimitNOFILE=%d in the unit: systemctl edit gritwardd", 4*leastFiles))
	}
	if stop := unit["TimeoutStopUSec"]; stop != "" && stop != "infinity" && !strings.Contains(stop, "min") && shorter(stop, drain.Seconds()+5) {
		return warning("limits", "systemd kills the server after "+stop, "Calls under way are broken off when it stops.", fmt.Sprintf("TimeoutStopSec=%.0f in the unit: systemctl edit gritwardd", 3*drain.Seconds()))
	}
	return well("limits", "%s have %d files open", whose, files)
}

// unitSettings are those of the installed unit; empty where there is none.
func unitSettings(ctx context.Context) map[string]string {
	out, err := exec.CommandContext(ctx, "systemctl", "show", "gritwardd.service", "--property=LoadState,LimitNOFILE,TimeoutStopUSec").Output()
	set := map[string]string{}
	for line := range strings.Lines(string(out)) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), "=")
		set[key] = value
	}
	if err != nil || set["LoadState"] != "loaded" {
		return nil
	}
	return set
}

// shorter tells whether a span as systemd writes it, for example 5s, is shorter than that many seconds.
func shorter(span string, seconds float64) bool {
	n, err := strconv.ParseFloat(strings.TrimSuffix(span, "s"), 64)
	return err == nil && n < seconds
}
