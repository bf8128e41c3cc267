package render

import pb "gritward/proto/gritward/v1"

// spokenTitle stands above what a leader says aloud.
const spokenTitle = "Say at the start"

// spokenOf is what the leader of a group says aloud; nil in issues that do not tell it.
func (s *sheet) spokenOf(g *pb.RosterGroup) []string {
	for _, spoken := range s.GetBrief().GetSpoken() {
		if spoken.GetGroup() == g.GetGroup() {
			return spoken.GetSentences()
		}
	}
	return nil
}
