package cli

import (
	"strings"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// layFolder tells why the club's file in the server's policy folder is not adopted, each line after the prefix.
func layFolder(p *page, prefix string, problems []*pb.Problem) {
	if len(problems) == 0 {
		return
	}
	p.line("%sThe file in the server's policy folder is not adopted:", prefix)
	for line := range strings.Lines(strictyaml.Format(problems)) {
		p.line("%s  %s", prefix, strings.TrimRight(line, "\n"))
	}
}
