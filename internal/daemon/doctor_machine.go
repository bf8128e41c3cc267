package daemon

import (
	"fmt"
	"runtime/debug"
	"time"

	"gritward/internal/vitals"
)

// zoneData: the time-zone data is there, and has a transition that is known: in 2026 summer time began in the United Kingdom and in the
// European Union on 29 March at 01:00 UTC (The Summer Time Order 2002; Directive 2000/84/EC, article 2 and 4).
func zoneData() []vitals.Finding {
	before, after := time.Date(2026, 3, 29, 0, 59, 59, 0, time.UTC), time.Date(2026, 3, 29, 1, 0, 0, 0, time.UTC)
	for name, summer := range map[string]int{"Europe/London": 3600, "Europe/Berlin": 7200} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			return failing("time-zones", fmt.Sprintf("%s is not known: %v", name, err), "Start times and daylight cannot be reckoned.", "install the time-zone data of the system (Debian: tzdata)")
		}
		_, winterIs := before.In(zone).Zone()
		_, summerIs := after.In(zone).Zone()
		if summerIs != summer || winterIs != summer-3600 {
			return failing("time-zones", fmt.Sprintf("%s changes to summer time at another moment than the law has it", name), "Start times would be wrong by an hour.", "bring the time-zone data of the system up to date (Debian: tzdata)")
		}
	}
	return well("time-zones", "known, and right about 29 March 2026")
}

// clock: it is plausible, steady while the doctor looked, and kept by somebody.
func clock(began time.Time) []vitals.Finding {
	now := time.Now()
	if built := builtAt(); now.Before(built) || now.Year() > 2100 {
		return failing("clock", "it shows "+now.UTC().Format(time.RFC3339), "Rides, certificates and invites go by it.", "set it: timedatectl set-ntp true")
	}
	if jump := now.Round(0).Sub(began.Round(0)) - now.Sub(began); jump > time.Second || jump < -time.Second {
		return warning("clock", fmt.Sprintf("it was put by %s while the doctor looked", jump.Round(time.Millisecond)), "Marks of the roll call are put in order by it.", "see what else sets it beside timedatectl")
	}
	if synchronised, known := kept(); known && !synchronised {
		return warning("clock", "nobody keeps it: the kernel says that it is not synchronised", "It wanders by some seconds a week; who is overdue is told by it.", "timedatectl set-ntp true, or install chrony; inside a container look at the machine's own")
	}
	return well("clock", "it shows %s", now.UTC().Format(time.RFC3339))
}

// builtAt is when the source of this build was committed; no clock can be right that is before it.
func builtAt() time.Time {
	info, _ := debug.ReadBuildInfo()
	if info != nil {
		for _, setting := range info.Settings {
			if at, err := time.Parse(time.RFC3339, setting.Value); setting.Key == "vcs.time" && err == nil {
				return at
			}
		}
	}
	return time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
}
