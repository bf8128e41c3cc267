package cli

import (
	"slices"
	"strconv"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// groupForm is how a group is written.
const groupForm = "ID:KMH[:TITLE][,min=4][,max=8][,after=10][,leader=ID][,back-marker=ID]"

// groupOptions are the words that may follow a group.
var groupOptions = []string{"min", "max", "after", "leader", "back-marker"}

// groupFlag is a group as it was written: leader and back marker are ids still, and given has the options that were said.
type groupFlag struct {
	group *pb.Group
	given map[string]bool
}

// groupOf reads a group. Options stand at its end, so that a title may have commas.
func groupOf(text string) (groupFlag, error) {
	parts := strings.Split(text, ",")
	first := len(parts)
	for first > 1 && strings.Contains(parts[first-1], "=") {
		first--
	}
	id, rest, _ := strings.Cut(strings.Join(parts[:first], ","), ":")
	paceText, title, _ := strings.Cut(rest, ":")
	pace, err := finite(paceText)
	if err != nil || id == "" {
		return groupFlag{}, usagef("--group %q is not %s; for example steady:24:Steady,max=10", text, groupForm)
	}
	flag := groupFlag{&pb.Group{Id: id, PaceKmh: pace, Title: title}, map[string]bool{}}
	for _, option := range parts[first:] {
		key, value, _ := strings.Cut(option, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		if !slices.Contains(groupOptions, key) || flag.given[key] {
			return groupFlag{}, usagef("--group %q: %q is none of %s, or stands twice", text, key, strings.Join(groupOptions, ", "))
		}
		flag.given[key] = true
		if !flag.set(key, value) {
			return groupFlag{}, usagef("--group %q: %s=%q is not a whole number, or the id of a member; none takes a person out",
				text, key, value)
		}
	}
	return flag, nil
}

// set takes one option.
func (f groupFlag) set(key, value string) bool {
	id := value
	if value == none {
		id = ""
	}
	switch key {
	case "leader":
		f.group.Leader = id
		return value != ""
	case "back-marker":
		f.group.BackMarker = id
		return value != ""
	}
	n, err := strconv.ParseInt(value, 10, 32)
	switch key {
	case "min":
		f.group.MinSize = int32(n)
	case "max":
		f.group.MaxSize = int32(n)
	case "after":
		f.group.StartOffsetMin = int32(n)
	}
	return err == nil
}

// keepSettings gives a group that was there already what is not said of it anew: size, leader, pace settings.
func keepSettings(flags []groupFlag, before []*pb.Group) []*pb.Group {
	var groups []*pb.Group
	for _, flag := range flags {
		for _, old := range before {
			if old.GetId() == flag.group.GetId() {
				flag.keep(old)
			}
		}
		groups = append(groups, flag.group)
	}
	return groups
}

func (f groupFlag) keep(old *pb.Group) {
	group := f.group
	if group.Title == "" {
		group.Title = old.GetTitle()
	}
	if !f.given["min"] {
		group.MinSize = old.GetMinSize()
	}
	if !f.given["max"] {
		group.MaxSize = old.GetMaxSize()
	}
	if !f.given["after"] {
		group.StartOffsetMin = old.GetStartOffsetMin()
	}
	if !f.given["leader"] {
		group.Leader = old.GetLeader()
	}
	if !f.given["back-marker"] {
		group.BackMarker = old.GetBackMarker()
	}
	group.Settings = old.GetSettings()
}

// readGroups reads the groups of the flag, and finds the members that they name.
func (f *rideFlags) readGroups(s *session, before []*pb.Group) ([]*pb.Group, error) {
	flags, err := parseAll(f.groups, groupOf)
	if err != nil {
		return nil, err
	}
	for _, flag := range flags {
		for _, person := range []*string{&flag.group.Leader, &flag.group.BackMarker} {
			if *person == "" {
				continue
			}
			if *person, err = s.memberName(*person); err != nil {
				return nil, err
			}
		}
	}
	return keepSettings(flags, before), nil
}
