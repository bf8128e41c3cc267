package readiness

import (
	"cmp"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// Effective gives the facts in effect at an instant: of each fact what was stated last, by the declaration or by the care
// log. An entry comes after the declaration when its work was done on a later civil date than that was certified, or on
// the same and recorded later; else it tells only what the declaration leaves out, and of a part renewed then not that it
// is new.
// Dates are those of at's zone. Among entries the later one counts, by the day the work was done, then by when it was
// recorded. Entries in the future of at, those struck out, and those that do not say which end or bearing they are about
// change nothing. The result is a copy; nil where neither says anything.
func Effective(bike Subject, at time.Time) *pb.BikeFacts {
	facts, _ := inEffect(&bike, at)
	if facts == nil {
		return nil
	}
	return proto.CloneOf(facts)
}

// inEffect is Effective, with where facts come from. What the log does not change is shared with the declaration.
func inEffect(bike *Subject, at time.Time) (*pb.BikeFacts, origin) {
	declared := bike.Declaration.GetFacts()
	if len(bike.Care) == 0 {
		return declared, 0
	}
	before, after := telling(bike, at)
	if len(before)+len(after) == 0 {
		return declared, 0
	}
	changed := override{facts: fork(declared)}
	if len(before) > 0 && declared != nil {
		changed = filledIn(declared, before)
	}
	for _, entry := range after {
		changed.by(entry)
	}
	return changed.facts, changed.log
}

// telling are the entries that count, from before the declaration and after it, each in the order in which they override.
func telling(bike *Subject, at time.Time) (before, after []*pb.CareEntry) {
	today := civilDate(at, at.Location())
	certified, certifiedOn := time.Time{}, ""
	if stamp := bike.Declaration.GetCertifiedAt(); stamp.IsValid() {
		certified = stamp.AsTime()
		certifiedOn = civilDate(certified, at.Location())
	}
	struck := StruckOut(bike.Care, at)
	for _, entry := range bike.Care {
		on := entry.GetDoneOn()
		if on > today || !recorded(entry, at) || struck[entry.GetName()] || parseDay(on) == noDay {
			continue
		}
		if on > certifiedOn || on == certifiedOn && entry.GetRecordedAt().AsTime().After(certified) {
			after = append(after, entry)
		} else {
			before = append(before, entry)
		}
	}
	inOrder := func(a, b *pb.CareEntry) int {
		return cmp.Or(cmp.Compare(a.GetDoneOn(), b.GetDoneOn()), a.GetRecordedAt().AsTime().Compare(b.GetRecordedAt().AsTime()))
	}
	slices.SortStableFunc(before, inOrder)
	slices.SortStableFunc(after, inOrder)
	return before, after
}

// recorded tells whether an entry was there at an instant.
func recorded(entry *pb.CareEntry, at time.Time) bool {
	return !entry.GetRecordedAt().AsTime().After(at)
}

// StruckOut names the entries of a care log that were struck out by an instant. An entry that strikes may be struck out
// itself, by a later one: so the last are looked at first. Of those recorded at one time the later in the log is.
func StruckOut(care []*pb.CareEntry, at time.Time) map[string]bool {
	var strikes []*pb.CareEntry
	for _, entry := range care {
		if entry.GetWork() == pb.CareEntry_STRUCK_OUT && recorded(entry, at) {
			strikes = append(strikes, entry)
		}
	}
	slices.Reverse(strikes)
	slices.SortStableFunc(strikes, func(a, b *pb.CareEntry) int {
		return b.GetRecordedAt().AsTime().Compare(a.GetRecordedAt().AsTime())
	})
	struck := map[string]bool{}
	for _, entry := range strikes {
		if !struck[entry.GetName()] && entry.GetStrikes() != "" {
			struck[entry.GetStrikes()] = true
		}
	}
	return struck
}

// fork is a bike that shares its parts with another one. A part must be copied before it is changed.
func fork(f *pb.BikeFacts) *pb.BikeFacts {
	if f == nil {
		return &pb.BikeFacts{}
	}
	return &pb.BikeFacts{
		Title: f.GetTitle(), Guards: f.GetGuards(), Lights: f.GetLights(), Reflectors: f.GetReflectors(), Brakes: f.GetBrakes(),
		Tyres: f.GetTyres(), Chain: f.GetChain(), Bearings: f.GetBearings(), Contact: f.GetContact(), Frame: f.GetFrame(),
		Cleaning: f.GetCleaning(), Carry: f.GetCarry(), OdometerKm: f.OdometerKm, Note: f.GetNote(), Motor: f.Motor,
	}
}
