package render

import (
	"math"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// againstDark tells how far home lies from dark; empty where that is not known.
func againstDark(p *pb.GroupPlan) string {
	switch margin := p.GetMarginMin(); {
	case !p.GetHomeAt().IsValid():
		return ""
	case p.MarginMin == nil && phrase.HomeInDark(p):
		return "in the dark"
	case p.MarginMin == nil && p.GetDarkMin() > 0:
		return ""
	case p.MarginMin == nil:
		return "in the light"
	case margin < 0:
		return phrase.AfterDark(p) + " after dark begins"
	default:
		return phrase.Span(math.Floor(margin)) + " before dark"
	}
}

// lightWords tells the minutes in the dark and with lights.
func lightWords(p *pb.GroupPlan) string {
	if p.GetLitMin() <= 0 && p.GetDarkMin() <= 0 {
		return "no lights needed if on time"
	}
	return "lights for " + amount(p)
}

// amount is the time with lights, and how much of it is dark.
func amount(p *pb.GroupPlan) string {
	words := phrase.AtLeast(p.GetLitMin())
	switch dark, lit := phrase.AtLeast(phrase.DarkMin(p)), phrase.AtLeast(p.GetLitMin()); {
	case p.GetDarkMin() <= 0:
	case dark == lit:
		words += ", all of it dark"
	default:
		words += ", " + dark + " of it dark"
	}
	return words
}

// last is the last part of a resource name, for people.
func last(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

// short is the head of a digest, enough to compare by eye.
func short(digest string) string {
	if runes := []rune(digest); len(runes) > 12 {
		return string(runes[:12])
	}
	return digest
}
