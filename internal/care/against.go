package care

import (
	"cmp"
	"fmt"
	"path"
	"slices"
	"time"

	pb "gritward/proto/gritward/v1"
)

// rounding is by how much two readings of an odometer may disagree: one was written down as a whole number, km.
const rounding = 1.0

// OdometerAgainst tells what speaks against the odometer of a new entry: a reading of an earlier day that is higher, or of
// a later day that is lower; "" where nothing does. Readings of one day are not held against each other.
func OdometerAgainst(declaration *pb.Declaration, log []*pb.CareEntry, entry *pb.CareEntry, at time.Time) string {
	if entry.OdometerKm == nil {
		return ""
	}
	for _, other := range odometers(declaration, standing(known(log, at), at), at) {
		km := entry.GetOdometerKm()
		if other.on < entry.GetDoneOn() && other.km > km+rounding {
			return fmt.Sprintf("%s km is less than %s%s", number(km), other.words(), other.next())
		}
		if other.on > entry.GetDoneOn() && other.km < km-rounding {
			return fmt.Sprintf("%s km is more than %s%s", number(km), other.words(), other.next())
		}
	}
	return ""
}

// odometer is a reading of it on a day.
type odometer struct {
	on    string // YYYY-MM-DD
	km    float64
	where string // "entry 3 of the care log"
}

// declared is where the odometer of a declaration stands.
const declared = "declared"

// next says what to do about a reading that a new one disagrees with.
func (o odometer) next() string {
	wrong := "strike out the entry that is wrong"
	if o.where == declared {
		wrong = "declare the bike with the right odometer"
	}
	return "; an odometer does not run backwards: look at it and at the day again, or " + wrong +
		". With a new computer, go on from where the old one was"
}

func (o odometer) words() string {
	return fmt.Sprintf("the %s km of %s (%s)", number(o.km), o.on, o.where)
}

// odometers are the readings, of the declaration and of entries that stand, in the order of their days. The declared one
// is of the day on which the bike was certified.
func odometers(declaration *pb.Declaration, entries []*pb.CareEntry, at time.Time) []odometer {
	var list []odometer
	if facts := declaration.GetFacts(); facts != nil && facts.OdometerKm != nil && declaration.GetCertifiedAt().IsValid() {
		on := declaration.GetCertifiedAt().AsTime().In(at.Location()).Format(time.DateOnly)
		list = append(list, odometer{on, facts.GetOdometerKm(), declared})
	}
	for _, entry := range entries {
		if entry.OdometerKm != nil {
			list = append(list, odometer{entry.GetDoneOn(), entry.GetOdometerKm(), entryWords(entry)})
		}
	}
	slices.SortStableFunc(list, func(a, b odometer) int { return cmp.Compare(a.on, b.on) })
	return list
}

func entryWords(entry *pb.CareEntry) string {
	return "entry " + path.Base(entry.GetName()) + " of the care log"
}

// WearAgainst tells what speaks against a new entry that measures chain or pads: the part was worn more on an earlier day,
// or less on a later one, by more than two readings may differ with nothing wrong, and was not renewed between. Readings
// that scatter are the rule, and a part that mends itself is a renewal forgotten or a reading wrong, either of which would
// let a worn part pass. With a note, in which the member says how that is, the entry stands: gauges do differ. "" where
// nothing speaks against it.
func WearAgainst(declaration *pb.Declaration, log []*pb.CareEntry, entry *pb.CareEntry, at time.Time) string {
	for _, w := range wearings() {
		value := w.ofEntry(entry)
		if entry.GetWork() != w.measured || w.end != entry.GetEnd() && w.end != pb.End_END_UNSPECIFIED || value == nil || entry.GetNote() != "" {
			continue
		}
		before, after := w.around(declaration, standing(known(log, at), at), entry.GetDoneOn(), at)
		next := "; if the " + w.name + " " + w.waswere() + " renewed between, record that first, with its day; if the other reading is " +
			"wrong, strike it out; otherwise say in the note why it is so"
		if before != nil && w.worn(before.value)-w.worn(*value) > 2*w.spread+tiny {
			return fmt.Sprintf("%s %s is less worn than %s %s on %s%s", number(*value), w.unit, number(before.value), w.unit, before.on, next)
		}
		if after != nil && w.worn(*value)-w.worn(after.value) > 2*w.spread+tiny {
			return fmt.Sprintf("%s %s is more worn than %s %s on %s%s", number(*value), w.unit, number(after.value), w.unit, after.on, next)
		}
	}
	return ""
}

// JumpAgainst tells where a new entry has chain or pads worn by more since the reading before than is likely: 4 % is easily typed
// for 0.4 %. "" where it does not.
func JumpAgainst(declaration *pb.Declaration, log []*pb.CareEntry, entry *pb.CareEntry, at time.Time) string {
	for _, w := range wearings() {
		value := w.ofEntry(entry)
		if entry.GetWork() != w.measured || w.end != entry.GetEnd() && w.end != pb.End_END_UNSPECIFIED || value == nil {
			continue
		}
		before, _ := w.around(declaration, standing(known(log, at), at), entry.GetDoneOn(), at)
		if before != nil && w.worn(*value)-w.worn(before.value) > w.jump+tiny {
			return fmt.Sprintf("%s %s would be %s %s more worn than %s %s on %s; look for a slip of the pen, and measure again", number(*value), w.unit,
				number(w.worn(*value)-w.worn(before.value)), w.unit, number(before.value), w.unit, before.on)
		}
	}
	return ""
}

// tiny is far below what anybody can measure: 0.5 - 0.4 is not 0.1 to the last bit.
const tiny = 1e-9

// worn is a value that rises with wear.
func (w wearing) worn(value float64) float64 {
	if w.rising() {
		return value
	}
	return -value
}

// around are the readings next to a day, the last one up to it and the first one after it, of the same part: nothing lies
// beyond a renewal. Of those of one day the one recorded last counts.
func (w wearing) around(declaration *pb.Declaration, entries []*pb.CareEntry, day string, at time.Time) (before, after *measured) {
	for _, one := range w.events(declaration, entries, at) {
		switch {
		case one.on <= day && one.renewed:
			before = nil
		case one.on <= day:
			before = &one
		case one.renewed:
			return before, nil
		default:
			return before, &one
		}
	}
	return before, nil
}
