package readiness

import (
	"time"

	pb "gritward/proto/gritward/v1"
)

// stateLimits ask what state the pads are in, and when the brake was looked at.
func (e brakeEnd) stateLimits(need *pb.BrakesNeed) []limit {
	var limits []limit
	if need.GetClean() {
		limits = append(limits, e.uncontaminated(), e.unglazed())
	}
	if need.GetBeddedIn() {
		limits = append(limits, e.bedded())
	}
	if need.LookedWithin != nil {
		limits = append(limits, e.checked(need.GetLookedWithin().AsDuration()))
	}
	return limits
}

// checked asks when the brake was looked at. A fixed wheel has nothing to look at.
func (e brakeEnd) checked(within time.Duration) limit {
	l := dated{
		did: "checked", within: within, log: fromPads.at(e.end), work: work{under: (jobPads | jobOil | jobBrake).at(e.end)},
		do:      "Check the " + e.name() + " brake: pads, what they brake on, cable or hose, and a hard pull on the lever" + mechanic,
		declare: "when the " + e.name() + " brake was last checked",
		get:     func(f *pb.BikeFacts) string { return e.of(f).GetLookedOn() },
		set:     func(f *pb.BikeFacts, on string) { e.known(f).LookedOn = on },
	}.limit()
	l.kinds = kinds(pb.Brake_RIM, pb.Brake_DISC, pb.Brake_HUB)
	return l
}

// todoByKind says what to do in the words of the kind of brake: only disc pads are bedded in.
func (e brakeEnd) todoByKind(rim, disc, unknown string) func(*context) string {
	return func(c *context) string {
		switch e.of(c.facts).GetKind() {
		case pb.Brake_RIM:
			return rim
		case pb.Brake_DISC:
			return disc
		default:
			return unknown
		}
	}
}

func (e brakeEnd) uncontaminated() limit {
	const brakes = ", and do not ride before it brakes as it should" + mechanic + "."
	l := truth{
		needed: "no oil or dirt on pads, disc or rim", good: "clean", bad: "contaminated", name: "whether contaminated", inverted: true,
		declare: "whether oil or dirt has got onto the " + e.name() + " pads, disc or rim",
		work:    work{does: jobOil.at(e.end), under: (jobRotor | jobBrake).at(e.end)},
		kinds:   kinds(pb.Brake_RIM, pb.Brake_DISC),
		get: func(f *pb.BikeFacts) *bool {
			if b := e.of(f); b != nil {
				return b.Contaminated
			}
			return nil
		},
		set: func(f *pb.BikeFacts, v *bool) { e.known(f).Contaminated = v },
	}.limit()
	l.todo = e.todoByKind("Renew the "+e.name()+" blocks and clean the rim"+brakes,
		"Renew the "+e.name()+" pads and clean the disc; "+bedding+brakes,
		"Renew the "+e.name()+" pads and clean what they brake on"+brakes)
	return l
}

func (e brakeEnd) unglazed() limit {
	l := truth{
		needed: "pads not glazed", good: "not glazed", bad: "glazed", name: "whether glazed", inverted: true,
		declare: "whether the " + e.name() + " pads are glazed: hard and shiny",
		work:    work{does: jobGlaze.at(e.end), under: (jobPads | jobOil | jobRotor | jobBrake).at(e.end)},
		kinds:   kinds(pb.Brake_RIM, pb.Brake_DISC), log: fromPadsNew.at(e.end),
		get: func(f *pb.BikeFacts) *bool {
			if b := e.of(f); b != nil {
				return b.Glazed
			}
			return nil
		},
		set: func(f *pb.BikeFacts, v *bool) { e.known(f).Glazed = v },
	}.limit()
	sand := "Sand the glaze off the " + e.name()
	l.todo = e.todoByKind(sand+" blocks or renew them.", sand+" pads or renew them; "+bedding+".", sand+" pads or renew them.")
	return l
}

func (e brakeEnd) bedded() limit {
	return truth{
		needed: "disc pads bedded in", good: "bedded in", bad: "not bedded in", name: "whether bedded in",
		declare: "whether the " + e.name() + " disc pads have been bedded in",
		do:      "Bed the " + e.name() + " pads in on a quiet road with about 20 slowings from 20 km/h to walking pace, without locking the wheel.",
		work:    work{does: jobBed.at(e.end), under: (jobGlaze | jobPads | jobOil | jobRotor | jobBrake).at(e.end)},
		kinds:   kinds(pb.Brake_DISC), log: fromBedded.at(e.end) | fromPadsNew.at(e.end),
		get: func(f *pb.BikeFacts) *bool {
			if b := e.of(f); b != nil {
				return b.BeddedIn
			}
			return nil
		},
		set: func(f *pb.BikeFacts, v *bool) { e.known(f).BeddedIn = v },
	}.limit()
}
