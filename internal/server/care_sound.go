package server

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"gritward/internal/care"
	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// careYears is how many years back work on a bike may lie. A choice of this program: what was done before tells nothing of
// this winter, and a year is easily mistyped.
const careYears = 10

// soundCare refuses an entry that lacks what its work needs or has what it cannot have, is of a day that cannot be, is
// about a part that the bike does not have, strikes out what cannot be struck out, or contradicts the log.
func soundCare(bike readiness.Subject, entry *pb.CareEntry, now time.Time) error {
	for _, check := range []func() error{
		func() error { return soundDay(entry, now) },
		func() error { return soundAmounts(entry) },
		func() error { return soundWhere(entry) },
		func() error { return soundParts(readiness.Effective(bike, now), entry) },
		func() error { return soundStrike(bike.Care, entry, now) },
	} {
		if err := check(); err != nil {
			return err
		}
	}
	if what := care.OdometerAgainst(bike.Declaration, bike.Care, entry, now); what != "" {
		return fault.Invalid("entry.odometer_km", "%s", what)
	}
	if what := care.WearAgainst(bike.Declaration, bike.Care, entry, now); what != "" {
		return fault.Invalid(measuredPath(entry), "%s", what)
	}
	return nil
}

// soundJump refuses a reading that is likelier mistyped than true, unless it was taken again.
func soundJump(bike readiness.Subject, entry *pb.CareEntry, again bool, now time.Time) error {
	what := care.JumpAgainst(bike.Declaration, bike.Care, entry, now)
	if what == "" || again {
		return nil
	}
	refused := fault.Invalid(measuredPath(entry), "%s", what)
	refused.Fields = append(refused.Fields, fault.Field{Path: "measured_again", What: "confirm it, if it measures the same again"})
	return refused
}

// measuredPath is the field of what was measured.
func measuredPath(entry *pb.CareEntry) string {
	if entry.WearPct != nil {
		return "entry.wear_pct"
	}
	return "entry.thickness_mm"
}

func soundDay(entry *pb.CareEntry, now time.Time) error {
	if _, err := civil.Date("entry.done_on", entry.DoneOn); err != nil {
		return err
	}
	if today := now.Format(civil.DateLayout); entry.DoneOn > today {
		return fault.Invalid("entry.done_on", "%s has not come yet; today is %s", entry.DoneOn, today)
	}
	if first := now.AddDate(-careYears, 0, 0).Format(civil.DateLayout); entry.DoneOn < first {
		return fault.Invalid("entry.done_on", "%s is more than %d years ago; the first day that is taken is %s", entry.DoneOn, careYears, first)
	}
	return nil
}

// soundAmounts holds what was measured, and what was struck out, against the work.
func soundAmounts(entry *pb.CareEntry) error {
	pads, disc := entry.Work == pb.CareEntry_PADS_MEASURED, entry.Work == pb.CareEntry_ROTOR_MEASURED
	chain, strike := entry.Work == pb.CareEntry_CHAIN_MEASURED, entry.Work == pb.CareEntry_STRUCK_OUT
	switch {
	case entry.WearPct != nil && !chain:
		return fault.Invalid("entry.wear_pct", "goes with a chain measured, not with this work")
	case entry.ThicknessMm != nil && !pads && !disc:
		return fault.Invalid("entry.thickness_mm", "goes with pads or a disc measured, not with this work")
	case entry.Strikes != "" && !strike:
		return fault.Invalid("entry.strikes", "goes with an entry struck out, not with this work")
	case chain && entry.WearPct == nil:
		return fault.Invalid("entry.wear_pct", "is needed: how much the chain has worn, in %%")
	case (pads || disc) && entry.ThicknessMm == nil:
		return fault.Invalid("entry.thickness_mm", "is needed: how thick it is, in mm")
	case strike && entry.Strikes == "":
		return fault.Invalid("entry.strikes", "is needed: which entry is struck out")
	}
	return nil
}

// needsEnd are the works that are done to one end of the bike.
var needsEnd = map[pb.CareEntry_Work]bool{
	pb.CareEntry_PADS_MEASURED: true, pb.CareEntry_PADS_RENEWED: true, pb.CareEntry_PADS_BEDDED_IN: true,
	pb.CareEntry_ROTOR_MEASURED: true, pb.CareEntry_BRAKING_SURFACE_RENEWED: true, pb.CareEntry_TYRE_RENEWED: true,
	pb.CareEntry_TYRE_LOOKED_OVER: true, pb.CareEntry_LIGHT_CHARGED: true, pb.CareEntry_GUARD_FITTED: true,
}

// soundWhere holds the place on the bike against the work.
func soundWhere(entry *pb.CareEntry) error {
	serviced := entry.Work == pb.CareEntry_BEARING_SERVICED
	switch {
	case needsEnd[entry.Work] && entry.End == pb.End_END_UNSPECIFIED:
		return fault.Invalid("entry.end", "is needed: front or rear")
	case !needsEnd[entry.Work] && entry.End != pb.End_END_UNSPECIFIED:
		return fault.Invalid("entry.end", "goes with work at one end of the bike; leave it out for this work")
	case serviced && entry.Bearing == pb.CareEntry_PLACE_UNSPECIFIED:
		return fault.Invalid("entry.bearing", "is needed: which bearing")
	case !serviced && entry.Bearing != pb.CareEntry_PLACE_UNSPECIFIED:
		return fault.Invalid("entry.bearing", "goes with a bearing serviced, not with this work")
	case entry.Label != "" && entry.Work != pb.CareEntry_LIGHT_CHARGED:
		return fault.Invalid("entry.label", "goes with a lamp charged, not with this work")
	}
	return nil
}

// soundParts refuses work on what the bike does not have, as far as it was declared. Of what was not declared nothing is
// known, and the work is taken.
func soundParts(facts *pb.BikeFacts, entry *pb.CareEntry) error {
	end := strings.ToLower(entry.End.String())
	if entry.Label != "" {
		var labels []string
		for _, lamp := range facts.GetLights() {
			if lamp.End == entry.End && lamp.Label != "" {
				labels = append(labels, fmt.Sprintf("%q", lamp.Label))
			}
		}
		if slices.Contains(labels, fmt.Sprintf("%q", entry.Label)) {
			return nil
		}
		known := "none there has a label"
		if len(labels) > 0 {
			known = "those there are " + strings.Join(labels, ", ")
		}
		return fault.Invalid("entry.label", "the bike has no %s lamp with that label; %s: take one of them, or leave it out for every %s lamp",
			end, known, end)
	}
	brake := facts.GetBrakes().GetFront()
	if entry.End == pb.End_REAR {
		brake = facts.GetBrakes().GetRear()
	}
	kind, has := brake.GetKind(), "the bike is declared with "+brakeWords[brake.GetKind()]+" at the "+end
	const mend = "; look at the end, or declare the bike as it is now"
	switch entry.Work {
	case pb.CareEntry_ROTOR_MEASURED:
		if kind != pb.Brake_KIND_UNSPECIFIED && kind != pb.Brake_DISC {
			return fault.Invalid("entry.work", "there is no disc to measure: %s%s", has, mend)
		}
	case pb.CareEntry_PADS_MEASURED, pb.CareEntry_PADS_RENEWED, pb.CareEntry_PADS_BEDDED_IN, pb.CareEntry_BRAKING_SURFACE_RENEWED:
		if kind == pb.Brake_NONE || kind == pb.Brake_HUB || kind == pb.Brake_FIXED_WHEEL {
			return fault.Invalid("entry.work", "there is no disc or rim brake: %s%s", has, mend)
		}
	}
	return nil
}

var brakeWords = map[pb.Brake_Kind]string{
	pb.Brake_NONE: "no brake", pb.Brake_RIM: "a rim brake", pb.Brake_DISC: "a disc brake", pb.Brake_HUB: "a brake in the hub",
	pb.Brake_FIXED_WHEEL: "a fixed wheel",
}

// soundStrike refuses to strike out what is not there, what is struck out already, and an entry that strikes.
func soundStrike(log []*pb.CareEntry, entry *pb.CareEntry, now time.Time) error {
	if entry.Work != pb.CareEntry_STRUCK_OUT {
		return nil
	}
	i := slices.IndexFunc(log, func(other *pb.CareEntry) bool { return other.Name == entry.Strikes })
	switch {
	case i < 0:
		return fault.NotFound(entry.Strikes)
	case log[i].Work == pb.CareEntry_STRUCK_OUT:
		return fault.Invalid("entry.strikes", "entry %s only strikes another one out; what was struck out by mistake is recorded anew, with its day",
			names.Last(entry.Strikes))
	case readiness.StruckOut(log, now)[entry.Strikes]:
		return fault.Invalid("entry.strikes", "entry %s is struck out already; nothing was changed", names.Last(entry.Strikes))
	}
	return nil
}
