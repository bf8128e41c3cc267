package cli

import (
	"strconv"
	"strings"
	"time"

	"gritward/internal/civil"
	pb "gritward/proto/gritward/v1"
)

// none is what a repeated flag is given to empty a list.
const none = "none"

// localStart reads "2026-12-13 09:00", or the same with a T, and gives it as the protocol has it.
func localStart(text string) (string, error) {
	wall, err := time.Parse(civil.TimeLayout, strings.Replace(strings.TrimSpace(text), " ", "T", 1))
	if err != nil {
		return "", usagef(`--start %q is not a civil time; write it as "2026-12-13 09:00"`, text)
	}
	return wall.Format(civil.TimeLayout), nil
}

// groupOf reads ID:KMH[:TITLE].
func groupOf(text string) (*pb.Group, error) {
	id, rest, _ := strings.Cut(text, ":")
	paceText, title, _ := strings.Cut(rest, ":")
	pace, err := finite(paceText)
	if err != nil || id == "" {
		return nil, usagef("--group %q is not ID:KMH[:TITLE]; for example steady:24:Steady", text)
	}
	return &pb.Group{Id: id, PaceKmh: pace, Title: title}, nil
}

// stopOf reads KM:MIN:TITLE.
func stopOf(text string) (*pb.Stop, error) {
	kmText, rest, _ := strings.Cut(text, ":")
	minText, title, _ := strings.Cut(rest, ":")
	atM, kmErr := metresOf(kmText)
	minutes, minErr := strconv.ParseInt(minText, 10, 32)
	if kmErr != nil || minErr != nil || title == "" {
		return nil, usagef("--stop %q is not KM:MIN:TITLE; for example 32.5:30:Mill cafe", text)
	}
	return &pb.Stop{AtDistanceM: atM, Minutes: int32(minutes), Title: title}, nil
}

// placeOf reads KM:TEXT.
func placeOf(flag, text string) (*pb.PlaceNote, error) {
	kmText, what, _ := strings.Cut(text, ":")
	atM, err := metresOf(kmText)
	if err != nil || what == "" {
		return nil, usagef("--%s %q is not KM:TEXT; for example 12.4:Ford under water", flag, text)
	}
	return &pb.PlaceNote{AtDistanceM: atM, What: what}, nil
}

// parseAll reads every value of a repeated flag; the word none alone is an empty list.
func parseAll[T any](values []string, parse func(string) (T, error)) ([]T, error) {
	if len(values) == 1 && values[0] == none {
		return nil, nil
	}
	list := make([]T, 0, len(values))
	for _, value := range values {
		parsed, err := parse(value)
		if err != nil {
			return nil, err
		}
		list = append(list, parsed)
	}
	return list, nil
}

// keepSettings gives the groups that were there already what their flag does not say: size, leader, pace settings.
func keepSettings(groups, before []*pb.Group) []*pb.Group {
	for _, group := range groups {
		for _, old := range before {
			if old.GetId() != group.GetId() {
				continue
			}
			if group.Title == "" {
				group.Title = old.GetTitle()
			}
			group.MinSize, group.MaxSize, group.StartOffsetMin = old.GetMinSize(), old.GetMaxSize(), old.GetStartOffsetMin()
			group.Leader, group.BackMarker = old.GetLeader(), old.GetBackMarker()
			group.Settings, group.OverrideReason = old.GetSettings(), old.GetOverrideReason()
		}
	}
	return groups
}
