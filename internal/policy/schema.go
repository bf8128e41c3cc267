package policy

import (
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// Schema writes a JSON Schema (draft 2020-12) of policy files, for editors. describe gives what is known of a message, a
// field or an enum's value of the protocol; empty: nothing.
func Schema(describe func(protoreflect.Descriptor) string) ([]byte, error) {
	day := dayPattern()
	return strictyaml.Schema((&pb.Policy{}).ProtoReflect().Descriptor(), options(), describe, map[protoreflect.FullName]string{
		"gritward.v1.Season.from": day,
		"gritward.v1.Season.to":   day,
	})
}

// dayPattern is an end of the season as readEnd reads it: a day that its month has, or a change of the clocks.
func dayPattern() string {
	parts := []string{"clocks-back", "clocks-forward"}
	for month := time.January; month <= time.December; month++ {
		days := map[int]string{29: "[1-9]|[12][0-9]", 30: "[1-9]|[12][0-9]|30", 31: "[1-9]|[12][0-9]|3[01]"}
		longest := time.Date(2000, month+1, 0, 0, 0, 0, 0, time.UTC).Day()
		name := month.String()
		parts = append(parts, fmt.Sprintf("(%s) %s(%s)?", days[longest], anyCase(name[:3]), anyCase(name[3:])))
	}
	return "^(" + strings.Join(parts, "|") + ")$"
}

// anyCase matches letters in either case. JSON Schema has no flag for it.
func anyCase(letters string) string {
	var b strings.Builder
	for _, c := range letters {
		b.WriteString("[" + strings.ToUpper(string(c)) + strings.ToLower(string(c)) + "]")
	}
	return b.String()
}
