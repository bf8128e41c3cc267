package cli

import (
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideLook() *cobra.Command {
	cmd := &cobra.Command{
		Use: "look RIDE MEMBER [FOUND]...", Short: "Record what a look over a bike at the start found",
		Long: "FOUND is an end and one of these, as in rear-light-dead or front-tyre-cut:\n" + strings.Join(wrap(strings.Join(foundWords(), ", "), 100), "\n") + "\n" +
			"Say how long a lent lamp lasts, rear-light-lent=240 (minutes); what is left of pads,\n" +
			"rear-pads-worn=0.8 (mm); which lamp is dead, by its label, rear-light-dead=saddle. fixed takes back all that was found,\n" +
			"fixed:rear-light-dead one thing. Nothing found: the bike is as declared.\n" +
			"It stands beside the declaration, counts for this ride only, and changes the standing at once.\n" +
			"A look-over is no mechanic's inspection: what it does not find may still be wrong.",
		Example: "  gritward ride look 2026-12-13-moors ida-holm rear-light-dead\n" +
			"  gritward ride look 2026-12-13-moors ida-holm rear-light-lent=240 --note \"Osric's spare\"\n" +
			"  gritward ride look 2026-12-13-moors ida-holm fixed",
		Args: cobra.MinimumNArgs(2),
	}
	note := cmd.Flags().String("note", "", "in words, up to 200 characters")
	return a.online(cmd, func(s *session, args []string) error {
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		member, err := s.memberName(args[1])
		if err != nil {
			return err
		}
		request := &pb.RecordLookOverRequest{Parent: ride, Member: member, Note: *note, RequestId: requestID()}
		for _, arg := range args[2:] {
			if err := readFound(request, arg); err != nil {
				return err
			}
		}
		answer, err := s.starts.RecordLookOver(s.ctx, request)
		if err != nil {
			return s.withRides(err)
		}
		return a.answer(answer, func(p *page) { layLook(p, answer, names.Last(ride)) })
	})
}

// foundWords are the words of what can be found.
func foundWords() []string { return strictyaml.Words(pb.Found_What(0).Descriptor()) }

// readFound reads one FOUND.
func readFound(request *pb.RecordLookOverRequest, arg string) error {
	if arg == "fixed" {
		request.AllFixed = true
		return nil
	}
	text, fixed := strings.CutPrefix(arg, "fixed:")
	text, value, valued := strings.Cut(text, "=")
	end, what, _ := strings.Cut(text, "-")
	ends := map[string]pb.End{"front": pb.End_FRONT, "rear": pb.End_REAR}
	if ends[end] == pb.End_END_UNSPECIFIED || !slices.Contains(foundWords(), what) {
		return usagef("FOUND %q is not front- or rear- and one of %s; nor is it fixed", arg, strings.Join(foundWords(), ", "))
	}
	number, err := choiceOf("FOUND", what, pb.Found_What(0).Descriptor())
	if err != nil {
		return err
	}
	fact := &pb.Found{What: pb.Found_What(number), End: ends[end]}
	if fixed {
		if valued {
			return usagef("FOUND %q: fixed:%s takes no value", arg, text)
		}
		request.Fixed = append(request.Fixed, fact)
		return nil
	}
	if err := foundValue(fact, arg, value, valued); err != nil {
		return err
	}
	request.Found = append(request.Found, fact)
	return nil
}

// foundValue reads what stands behind the sign of equality.
func foundValue(fact *pb.Found, arg, value string, valued bool) error {
	switch {
	case fact.GetWhat() == pb.Found_LIGHT_LENT:
		minutes, err := finite(value)
		if err != nil || minutes < 1 || minutes > 60_000 {
			return usagef("FOUND %q: say for how many minutes the lamp lasts, 1 to 60000, as %s=240", arg, strings.TrimSuffix(arg, "="+value))
		}
		fact.RuntimeMin = proto.Float64(minutes)
	case !valued:
	case fact.GetWhat() == pb.Found_PADS_WORN:
		left, err := finite(value)
		if err != nil || left < 0 || left > 20 {
			return usagef("FOUND %q: say how much is left of the pads, 0 to 20 mm, as 0.8", arg)
		}
		fact.PadMm = proto.Float64(left)
	case fact.GetWhat() == pb.Found_LIGHT_DEAD:
		fact.Label = value
	default:
		return usagef("FOUND %q takes no value", arg)
	}
	return nil
}

// layLook tells what a look-over changes.
func layLook(p *page, answer *pb.RecordLookOverResponse, ride string) {
	p.line("%s: looked over.", answer.GetDisplayName())
	for i, after := range answer.GetAfter() {
		mine := ""
		if after.GetGroup() == answer.GetGroup() {
			mine = ", rides here"
		}
		p.line("  %s: %s%s", after.GetGroup(), fromTo(word(answer.GetBefore()[i].GetStanding()), word(after.GetStanding())), mine)
	}
	told := map[string]bool{}
	for _, after := range answer.GetAfter() {
		for _, finding := range after.GetFindings() {
			if finding.GetStanding() == pb.Standing_CLEAR || told[finding.GetRule()] || !strings.HasPrefix(finding.GetDeclared(), "looked over") {
				continue
			}
			told[finding.GetRule()] = true
			p.para(2, "%s: needs %s; %s", finding.GetRule(), finding.GetNeeded(), finding.GetDeclared())
			p.para(2, "do: %s", finding.GetRemedy())
		}
	}
	if answer.GetPlaceAnew() {
		p.line("Next: gritward ride place %s, then gritward ride publish %s", ride, ride)
	}
}

// layDoubts tells, in the comments of a bike file, what look-overs found since the bike was certified.
func layDoubts(p *page, bike *pb.Bike, zone *time.Location) {
	for _, doubt := range bike.GetDoubts() {
		p.line("# doubt: %s, %s", doubt.GetAt().AsTime().In(zone).Format("Mon 2 Jan 2006"), phrase.LookedOver([]*pb.LookOver{doubt}, zone))
	}
	if len(bike.GetDoubts()) > 0 {
		p.line("# Put it right and declare the bike again.")
	}
}
