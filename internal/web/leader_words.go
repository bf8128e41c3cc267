package web

import (
	"fmt"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// letterWords say what a letter is about.
func letterWords(letter *pb.Letter) string {
	switch letter.GetKind() {
	case pb.Letter_ROSTER:
		return fmt.Sprintf("issue %d of the roster", letter.GetIssue())
	case pb.Letter_CALLED_OFF:
		return "called off"
	case pb.Letter_PLACE_CAME_FREE:
		return "a place came free"
	case pb.Letter_OVERDUE:
		return "riders are overdue"
	}
	return ""
}

// dialled is a telephone number as a link has it (RFC 3966): digits, and a plus sign before them.
func dialled(number string) string {
	var digits strings.Builder
	for _, c := range number {
		if c >= '0' && c <= '9' || c == '+' && digits.Len() == 0 {
			digits.WriteRune(c)
		}
	}
	return digits.String()
}
