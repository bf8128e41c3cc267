package render

import (
	"crypto/sha256"
	"strconv"

	"google.golang.org/protobuf/proto"
)

// RosterPart is a part of an issue as its reader sees it, which is much the same for most readers.
type RosterPart struct {
	*RosterView
	// At is the place of the group among those that run; -1: the brief.
	At int
}

// Roads are the groups that run.
func (v *RosterView) Roads() []RosterPart {
	parts := make([]RosterPart, len(v.Groups))
	for i := range parts {
		parts[i] = RosterPart{v, i}
	}
	return parts
}

// Briefing is the brief.
func (v *RosterView) Briefing() RosterPart { return RosterPart{v, -1} }

// Whole tells apart all that a part shows: the issue, and the reader where it tells of them.
func (p RosterPart) Whole() (string, error) {
	about := p.digest + " " + strconv.Itoa(p.At)
	switch {
	case p.digestErr != nil || p.Mine == nil:
	case p.At < 0:
		about += " mine " + strconv.FormatBool(p.Mine.Seat.Leads)
	case p.Mine.GroupID == p.Groups[p.At].ID:
		about += " mine " + p.me
	}
	return about, p.digestErr
}

// digestOf tells one message from another.
func digestOf(m proto.Message) (string, error) {
	data, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	sum := sha256.Sum256(data)
	return string(sum[:]), err
}
