package cli

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/pace"
	pb "gritward/proto/gritward/v1"
)

// groupForm is how a group is written.
const groupForm = "ID:KMH[:TITLE][,min=4][,max=8][,after=10][,leader=ID][,back-marker=ID][,FIGURE=N]"

// groupOptions are the words that may follow a group.
var groupOptions = []string{"min", "max", "after", "leader", "back-marker"}

// groupFlag is a group as it was written: leader and back marker are ids still, given has the options that were said,
// and figures are those of its pace.
type groupFlag struct {
	group   *pb.Group
	given   map[string]bool
	figures pace.Params
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
	kmh, err := finite(paceText)
	if err != nil || id == "" {
		return groupFlag{}, usagef("--group %q is not %s; for example steady:24:Steady,max=10", text, groupForm)
	}
	flag := groupFlag{&pb.Group{Id: id, PaceKmh: kmh, Title: title}, map[string]bool{}, pace.Defaults()}
	for _, option := range parts[first:] {
		key, value, _ := strings.Cut(option, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		figure := figureCalled(key)
		if figure == nil && !slices.Contains(groupOptions, key) || flag.given[key] {
			return groupFlag{}, usagef("--group %q: %q is none of %s, or stands twice; nor is it a figure of its pace (gritward pace lists them)",
				text, key, strings.Join(groupOptions, ", "))
		}
		flag.given[key] = true
		if figure != nil {
			if err := flag.setFigure(figure, value); err != nil {
				return groupFlag{}, usagef("--group %q: %v", text, err)
			}
			continue
		}
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

// figureCalled finds a figure of the power balance by its name; nil when none is called so.
func figureCalled(name string) protoreflect.FieldDescriptor {
	return (*pb.PaceSettings)(nil).ProtoReflect().Descriptor().Fields().ByName(protoreflect.Name(name))
}

// setFigure sets one figure of the group's pace; none leaves it at its default.
func (f *groupFlag) setFigure(figure protoreflect.FieldDescriptor, value string) error {
	if value == none {
		return nil
	}
	n, err := finite(value)
	if err != nil {
		return fmt.Errorf("%s=%q is not a number; none takes it back to its default", figure.Name(), value)
	}
	if err := f.figures.Set(string(figure.Name()), n); err != nil {
		return err
	}
	if f.group.Settings == nil {
		f.group.Settings = &pb.PaceSettings{}
	}
	f.group.Settings.ProtoReflect().Set(figure, protoreflect.ValueOfFloat64(n))
	return nil
}

// keepFigures keeps the figures that were set before and of which nothing is said.
func (f groupFlag) keepFigures(before *pb.PaceSettings) {
	if before == nil {
		return
	}
	kept := proto.CloneOf(before)
	kept.ProtoReflect().Range(func(figure protoreflect.FieldDescriptor, _ protoreflect.Value) bool {
		if f.given[string(figure.Name())] {
			kept.ProtoReflect().Clear(figure)
		}
		return true
	})
	proto.Merge(kept, f.group.GetSettings())
	f.group.Settings = kept
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
	f.keepFigures(old.GetSettings())
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
