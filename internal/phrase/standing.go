package phrase

import pb "gritward/proto/gritward/v1"

// Standing is a standing in one word.
func Standing(s pb.Standing) string {
	switch s {
	case pb.Standing_CLEAR:
		return "clear"
	case pb.Standing_ADVISED:
		return "advice"
	case pb.Standing_BACK:
		return "back"
	case pb.Standing_HELD:
		return "held"
	}
	return "not assessed"
}

// StandingShape is the shape that goes with the word: each is told from the others without colour.
func StandingShape(s pb.Standing) string {
	switch s {
	case pb.Standing_CLEAR:
		return "○"
	case pb.Standing_ADVISED:
		return "△"
	case pb.Standing_BACK:
		return "▼"
	case pb.Standing_HELD:
		return "■"
	}
	return "?"
}
