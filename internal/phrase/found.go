package phrase

import (
	"fmt"
	"strings"
	"time"

	pb "gritward/proto/gritward/v1"
)

// LookedOver says what was found, when and by whom: "looked over 08:52 by Osric Penhale: rear light dead".
func LookedOver(looks []*pb.LookOver, zone *time.Location) string {
	var parts []string
	last := ""
	for _, one := range looks {
		head := fmt.Sprintf("looked over %s by %s: ", one.GetAt().AsTime().In(zone).Format("15:04"), one.GetByName())
		if head == last {
			head = ""
		} else {
			last = head
		}
		for _, fact := range one.GetFound() {
			parts = append(parts, head+Found(fact))
			head = ""
		}
	}
	return strings.Join(parts, ", ")
}

// Found says what was found in words: "rear light dead".
func Found(fact *pb.Found) string {
	end := map[pb.End]string{pb.End_FRONT: "front", pb.End_REAR: "rear"}[fact.GetEnd()]
	words := map[pb.Found_What]string{
		pb.Found_LIGHT_DEAD: "%s light dead", pb.Found_LIGHT_LENT: "a %s light lent", pb.Found_GUARD_MISSING: "no %s guard",
		pb.Found_GUARD_LOOSE: "%s guard loose", pb.Found_PADS_WORN: "%s brake pads worn", pb.Found_BRAKE_OILY: "oil or dirt on the %s brake",
		pb.Found_BRAKE_DEAD: "%s brake does not hold", pb.Found_TYRE_CUT: "%s tyre cut deep", pb.Found_TYRE_WORN: "%s tyre worn out",
		pb.Found_RIM_WORN: "%s rim worn out",
	}[fact.GetWhat()]
	text := fmt.Sprintf(words, end)
	switch {
	case fact.GetLabel() != "":
		text += " (" + fact.GetLabel() + ")"
	case fact.RuntimeMin != nil:
		text += fmt.Sprintf(" for %.0f min", fact.GetRuntimeMin())
	case fact.PadMm != nil:
		text += fmt.Sprintf(", %.1f mm left", fact.GetPadMm())
	}
	return text
}
