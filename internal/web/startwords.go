package web

import (
	"encoding/json"
	"strings"
	"sync"

	"gritward/internal/fault"
	"gritward/internal/phrase"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// rolled is where a rider is, short enough for a line of the start line.
func rolled(state pb.RiderRoll_State) string {
	switch state {
	case pb.RiderRoll_TURNED_BACK:
		return "turned back"
	case pb.RiderRoll_DID_NOT_COME:
		return "did not come"
	}
	return rollcall.Word(state)
}

// rollShapes go with the words of states, each told from the others without colour.
var rollShapes = map[pb.RiderRoll_State]string{
	pb.RiderRoll_NOT_SEEN: "?", pb.RiderRoll_SIGNED_ON: "✓", pb.RiderRoll_OUT: "➤", pb.RiderRoll_TURNED_BACK: "↩",
	pb.RiderRoll_HOME: "⌂", pb.RiderRoll_HANDED_OVER: "⇄", pb.RiderRoll_DID_NOT_COME: "–",
}

// markWords are what marks are called in lists.
var markWords = map[pb.Mark_What]string{
	pb.Mark_SIGNED_ON: "Signed on", pb.Mark_LOOKED_OVER: "Bike looked over", pb.Mark_NO_SHOW: "Did not come", pb.Mark_IN_GROUP: "In the group",
	pb.Mark_TURNED_BACK: "Turned back", pb.Mark_HOME: "Home", pb.Mark_SET_OFF: "Set off", pb.Mark_HANDED_OVER: "Handed over",
	pb.Mark_STRIKE: "Struck: a mistake",
}

// buttonWord is what the button is called that makes a mark: beside "not seen yet", "Signed on" reads like a state.
func buttonWord(what pb.Mark_What) string {
	if what == pb.Mark_SIGNED_ON {
		return "Sign on"
	}
	return markWords[what]
}

// inWords is what stands in the way, on one line for a person.
func inWords(problem *fault.Error) string {
	said := []string{problem.Message}
	if len(problem.Fields) > 0 && problem.Reason == pb.Reason_FIELD_INVALID {
		said = nil // the fields say it all
	}
	for _, field := range problem.Fields {
		said = append(said, field.What)
	}
	for _, limit := range problem.Limits {
		said = append(said, limit.What)
	}
	return phrase.Sentence(strings.Join(said, "; "))
}

// scriptWords are the words that the script of the start line has from here, as JSON.
var scriptWords = sync.OnceValues(func() (string, error) {
	said := map[string]map[string]string{"states": {}, "marks": {}, "buttons": {}, "standings": {}}
	for state, shape := range rollShapes {
		said["states"][state.String()] = shape + " " + rolled(state)
	}
	for what, word := range markWords {
		said["marks"][what.String()], said["buttons"][what.String()] = word, buttonWord(what)
	}
	for standing, name := range pb.Standing_name {
		said["standings"][name] = phrase.StandingShape(pb.Standing(standing)) + " " + phrase.Standing(pb.Standing(standing))
	}
	text, err := json.Marshal(said)
	return string(text), err
})
