package care

import (
	"cmp"
	"slices"
	"time"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// known are the entries of a care log that were done and recorded by an instant, in the order in which they were
// recorded.
func known(care []*pb.CareEntry, at time.Time) []*pb.CareEntry {
	today := at.Format(time.DateOnly)
	var entries []*pb.CareEntry
	for _, entry := range care {
		if entry.GetDoneOn() <= today && !entry.GetRecordedAt().AsTime().After(at) {
			entries = append(entries, entry)
		}
	}
	slices.SortStableFunc(entries, func(a, b *pb.CareEntry) int {
		return a.GetRecordedAt().AsTime().Compare(b.GetRecordedAt().AsTime())
	})
	return entries
}

// standing are those of the entries known that were not struck out, in the order in which the work was done.
func standing(known []*pb.CareEntry, at time.Time) []*pb.CareEntry {
	struck := readiness.StruckOut(known, at)
	var counts []*pb.CareEntry
	for _, entry := range known {
		_, err := time.Parse(time.DateOnly, entry.GetDoneOn())
		if err == nil && entry.GetWork() != pb.CareEntry_STRUCK_OUT && !struck[entry.GetName()] {
			counts = append(counts, entry)
		}
	}
	slices.SortStableFunc(counts, func(a, b *pb.CareEntry) int { return cmp.Compare(a.GetDoneOn(), b.GetDoneOn()) })
	return counts
}

// measured is what the declaration or an entry tells of a part on a day: a reading, a renewal, or both.
type measured struct {
	on      string // YYYY-MM-DD
	at      time.Time
	value   float64
	read    bool
	renewed bool
}

// readings are those of a part since it was last renewed, declared or from the care log, in order.
func (w wearing) readings(declaration *pb.Declaration, known []*pb.CareEntry, at time.Time) []measured {
	var list []measured
	for _, one := range w.events(declaration, standing(known, at), at) {
		if one.renewed {
			list = nil
		}
		if one.read {
			list = append(list, one)
		}
	}
	return slices.CompactFunc(list, func(a, b measured) bool { return a.on == b.on && a.value == b.value })
}

// events are what the declaration and the entries that stand tell of a part, in order.
func (w wearing) events(declaration *pb.Declaration, standing []*pb.CareEntry, at time.Time) []measured {
	var list []measured
	if reading, ok := w.ofDeclaration(declaration, at); ok {
		list = append(list, reading)
	}
	for _, entry := range standing {
		if w.end != entry.GetEnd() && w.end != pb.End_END_UNSPECIFIED {
			continue
		}
		one := measured{on: entry.GetDoneOn(), at: entry.GetRecordedAt().AsTime(), renewed: entry.GetWork() == w.renewed}
		if value := w.ofEntry(entry); value != nil && (entry.GetWork() == w.measured || one.renewed) {
			one.value, one.read = *value, true
		}
		if one.read || one.renewed {
			list = append(list, one)
		}
	}
	slices.SortStableFunc(list, measured.compare)
	return list
}

func (m measured) compare(other measured) int {
	return cmp.Or(cmp.Compare(m.on, other.on), m.at.Compare(other.at))
}

// ofDeclaration is the reading that was declared. One without a date is of the day on which it was certified.
func (w wearing) ofDeclaration(declaration *pb.Declaration, at time.Time) (measured, bool) {
	value, on := w.declared(declaration.GetFacts())
	certified := declaration.GetCertifiedAt()
	if value == nil || !certified.IsValid() && on == "" {
		return measured{}, false
	}
	if on == "" {
		on = certified.AsTime().In(at.Location()).Format(time.DateOnly)
	}
	return measured{on: on, at: certified.AsTime(), value: *value, read: true}, on <= at.Format(time.DateOnly)
}
