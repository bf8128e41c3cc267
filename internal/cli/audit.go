package cli

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// mostAudit is the largest page of the audit log.
const mostAudit = 1000

func (a *app) audit() *cobra.Command {
	cmd := &cobra.Command{
		Use: "audit", Short: "Who did what, newest first (secretaries)",
		Long: "Who did what, when, to which record and from which device, newest first. The head at the end stands for all\n" +
			"entries up to it: note it elsewhere than on the server, and gritwardd audit verify --head shows later whether\n" +
			"any of them was removed or changed.",
		Example: "  gritward audit\n  gritward audit --member ida-holm --last 20", Args: cobra.NoArgs,
	}
	last := cmd.Flags().Int32("last", 50, "how many entries, 1 to 1000")
	before := cmd.Flags().Int64("before", 0, "only entries before the one of this number")
	member := cmd.Flags().String("member", "", "only what this member did, or what was done to their records")
	ride := cmd.Flags().String("ride", "", "only what was done to this ride, its sign-ups and rosters")
	cmd.MarkFlagsMutuallyExclusive("member", "ride")
	return a.online(cmd, func(s *session, _ []string) error {
		if *last < 1 || *last > mostAudit || *before < 0 {
			return usagef("--last takes 1 to %d, and --before the number of an entry", mostAudit)
		}
		about, err := s.auditAbout(*member, *ride)
		if err != nil {
			return err
		}
		answer, err := s.readAudit(about, *before, *last)
		if err != nil {
			return err
		}
		if a.json {
			return a.answer(answer, nil)
		}
		zone, err := s.zone()
		if err != nil {
			return err
		}
		who, err := s.people()
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) { layAudit(p, answer, who, zone) })
	})
}

// auditAbout is the name of the record that entries must be about; "" for all.
func (s *session) auditAbout(member, ride string) (string, error) {
	switch {
	case member != "":
		return s.memberName(member)
	case ride != "":
		return s.rideName(ride)
	}
	return "", nil
}

// readAudit reads pages until so many entries are there, or the log is at its end.
func (s *session) readAudit(about string, before int64, last int32) (*pb.ListAuditResponse, error) {
	all := &pb.ListAuditResponse{}
	if before > 0 {
		all.NextPageToken = strconv.FormatInt(before, 10)
	}
	for range maxPages {
		answer, err := s.clubs.ListAudit(s.ctx, &pb.ListAuditRequest{
			Parent: s.clubName(), About: about, PageToken: all.NextPageToken, PageSize: last - int32(len(all.Entries))})
		if err != nil {
			return nil, err
		}
		all.Entries = append(all.Entries, answer.GetEntries()...)
		all.NextPageToken, all.Head = answer.GetNextPageToken(), answer.GetHead()
		if all.NextPageToken == "" || int32(len(all.Entries)) >= last {
			return all, nil
		}
	}
	return nil, fmt.Errorf("the log has more than %d pages without enough entries; ask with --before", maxPages)
}

func layAudit(p *page, answer *pb.ListAuditResponse, who people, zone *time.Location) {
	var rows [][]string
	for _, entry := range answer.GetEntries() {
		rows = append(rows, []string{fmt.Sprint(entry.GetNumber()), when(entry.GetAt(), zone), who.name(entry.GetActor()), entry.GetWhat(),
			shortRecord(entry.GetResource(), who), names.Part(entry.GetDevice(), "devices")})
	}
	p.list("no entries", []string{"entry", "when", "who", "what", "record", "device"}, rows)
	if next := answer.GetNextPageToken(); next != "" {
		p.line("Older entries: add --before %s", next)
	}
	p.line("Head, to note elsewhere: %s", answer.GetHead())
}

// shortRecord is a resource name without the club, with its member by what to type.
func shortRecord(name string, who people) string {
	club, rest, below := strings.Cut(strings.TrimPrefix(name, "clubs/"), "/")
	if !below {
		return "the club"
	}
	parts := strings.Split(rest, "/")
	for i := 1; i < len(parts); i += 2 {
		if parts[i-1] == "members" || parts[i-1] == "signups" {
			parts[i] = who.ref(names.Member(club, parts[i]))
		}
	}
	return strings.Join(parts, "/")
}
