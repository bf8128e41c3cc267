package render

import (
	"strconv"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// calledOff is what stands before everything else where the ride is called off; empty where it is not. The issue that
// says so is published by whoever called the ride off.
func (s *sheet) calledOff() string {
	if s.GetRide().GetState() != pb.Ride_CALLED_OFF {
		return ""
	}
	words := "CALLED OFF"
	if by := s.names[s.GetPublishedBy()]; by != "" {
		words += " by " + by
	}
	return words + ": " + strings.TrimRight(phrase.FirstOf(s.GetRide().GetCallOffReason(), "no reason is given"), ". ") + ". Do not go."
}

// issue is the number of the issue, when it was published and by whom; a roster without a number is none yet.
func (s *sheet) issue() string {
	if s.draft() {
		words := "Draft, not published"
		if s.GetRide() != nil {
			words += "; would be issue " + strconv.Itoa(int(s.GetRide().GetRosterNumber())+1)
		}
		return words
	}
	words := "Issue " + strconv.Itoa(int(s.GetNumber()))
	if at := s.watch.Stamp(s.GetPublishedAt()); at != "" {
		words += ", published " + at
	}
	if by := s.person(s.GetPublishedBy()); by != "" {
		words += " by " + by
	}
	return words
}

func (s *sheet) draft() bool { return s.GetNumber() == 0 }

// policy names the policy of an issue; empty where its title is not known.
func (s *sheet) policy() string {
	if s.GetPolicyTitle() == "" {
		return ""
	}
	words := s.GetPolicyTitle() + ", number " + strconv.Itoa(int(s.GetPolicyNumber()))
	if d := s.GetPolicyDigest(); d != "" {
		words += ", digest " + short(d)
	}
	return words
}

// running is the head of each sheet on paper after the first.
func (s *sheet) running() string {
	words := s.club() + " · " + s.title() + " · " + phrase.FirstOf(s.watch.Date(s.start()), "no date")
	if s.draft() {
		words += " · draft"
	} else {
		words += " · issue " + strconv.Itoa(int(s.GetNumber()))
	}
	if s.calledOff() != "" {
		return "CALLED OFF · " + words
	}
	return words
}
