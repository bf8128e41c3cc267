package readiness

import (
	"fmt"
	"slices"
	"strings"

	pb "gritward/proto/gritward/v1"
)

func (e lampEnd) lamp() string { return endWord(e.end) + " lamp" }

// asks writes what the rule asks of this end: "1 rear lamp, steady, on the bike, of 15 lm or more".
func (e lampEnd) asks() string {
	text := count(e.want, e.lamp())
	if e.steady && e.want == 1 {
		text += ", steady"
	} else if e.steady {
		text += ", one of them steady"
	}
	if e.onBike {
		text += ", on the bike"
	}
	if e.lumens != nil {
		text += ", of " + decimal(*e.lumens) + " lm or more"
	}
	return text
}

// forMinutes writes how long lamps must last: " for 175 min (145 min with lights + 30 min in reserve)". Nothing where
// the group needs no lights.
func (b burn) forMinutes() string {
	if b.needMin == 0 {
		return ""
	}
	if b.reserveMin == 0 {
		return " for " + atLeastMin(b.needMin)
	}
	return fmt.Sprintf(" for %s (%s with lights + %s in reserve)", atLeastMin(b.needMin), atLeastMin(b.litMin), atLeastMin(b.reserveMin))
}

// atRoom writes minutes that a battery must be declared with to last min in the cold of the ride.
func (b burn) atRoom(min float64) string {
	if b.left == 1 {
		return atLeastMin(min)
	}
	return fmt.Sprintf("%s at room temperature (%s at %s)", atLeastMin(min/b.left), atLeastMin(min), degrees(*b.temperatureC))
}

// declaredLamps writes what was declared of one end: "1 rear lamp for 60 min (at 2 °C: 51 min)".
func declaredLamps(end lampEnd, lamps []*pb.Light, burn burn) string {
	var times, cold, faults []string
	battery := false
	for _, lamp := range lamps {
		if lamp.GetEnd() != end.end {
			continue
		}
		times, cold = append(times, lampTime(lamp, 1)), append(cold, lampTime(lamp, burn.left))
		battery = battery || lamp.GetPower() != pb.Light_DYNAMO && lamp.RuntimeMin != nil
		faults = append(faults, end.faults(lamp)...)
	}
	text := count(len(times), end.lamp())
	if len(times) > 0 {
		text += " " + andList(times)
	}
	switch {
	case !battery || burn.needMin == 0:
	case burn.temperatureC == nil:
		text += " (temperature not known: no loss in the cold reckoned)"
	case burn.left != 1:
		text += " (at " + degrees(*burn.temperatureC) + ": " + strings.ReplaceAll(andList(cold), "for ", "") + ")"
	}
	if len(faults) > 0 {
		text += "; " + andList(slices.Compact(faults))
	}
	return text
}

// lampTime writes how long a lamp lasts when a part of its run-time is left.
func lampTime(lamp *pb.Light, left float64) string {
	switch {
	case lamp.GetPower() == pb.Light_DYNAMO:
		return "on a dynamo"
	case lamp.RuntimeMin != nil:
		return "for " + atMostMin(lamp.GetRuntimeMin()*left)
	default:
		return "with run-time " + notDeclared
	}
}

// faults writes why a lamp does not count, or not for all that is asked.
func (e lampEnd) faults(lamp *pb.Light) []string {
	var faults []string
	switch e.bright(lamp) {
	case unknown:
		faults = append(faults, "lumens "+notDeclared)
	case no:
		faults = append(faults, "one of only "+decimal(lamp.GetLumens())+" lm")
	}
	switch e.mounted(lamp) {
	case unknown:
		faults = append(faults, "mount "+notDeclared)
	case no:
		faults = append(faults, "one on the rider")
	}
	if e.steady {
		switch lamp.GetMode() {
		case pb.Light_MODE_UNSPECIFIED:
			faults = append(faults, "steady or flashing "+notDeclared)
		case pb.Light_FLASHING:
			faults = append(faults, "one flashing")
		}
	}
	return faults
}
