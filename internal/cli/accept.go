package cli

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	"gritward/internal/settings"
	"gritward/internal/transport"
	pb "gritward/proto/gritward/v1"
)

func (a *app) accept() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "accept CODE",
		Short: "Use an invite: lets this device in",
		Long: "Uses the code that the club's secretary handed over, and keeps this device's token in the settings file,\n" +
			"readable by you alone. Give the whole of it: it may hold the server's address, and the pin of the one\n" +
			"authority that this device will trust. It is good once. With - it is read from standard input, so that it\n" +
			"does not stay in the shell's history.",
		Example: "  gritward accept CODE --device \"kitchen laptop\"",
		Args:    cobra.ExactArgs(1),
	}
	device := cmd.Flags().String("device", hostname(), "what this device is to be called")
	replace := cmd.Flags().Bool("replace", false, "take the place of the token that the settings file holds")
	return a.offline(cmd, func(args []string) error {
		invite, err := a.invite(args[0])
		if err != nil {
			return err
		}
		return a.useInvite(invite, *device, *replace)
	})
}

func (a *app) useInvite(invite transport.Invite, device string, replace bool) error {
	path := a.settingsPath()
	set, err := settings.LoadClient(settings.Source{File: a.settingsFile, New: true, Flags: a.cmd.Flags()})
	if err != nil {
		return err
	}
	if set.Token != "" && !replace {
		return fmt.Errorf("this device is signed in to the club %q already\n  next: add --replace to give up that token, "+
			"or --settings FILE to keep both", set.Club())
	}
	if err := settings.CheckWritable(path); err != nil { // before the code is used up
		return err
	}
	set.Token = ""
	if invite.Address != "" { // it says whom to trust; what was trusted before counts no more
		set.ServerPins = pinsOf(invite.Pins)
		if !a.cmd.Flags().Changed("server") {
			set.Server = invite.Address
		}
		if set.ServerPins != "" && !a.cmd.Flags().Changed("ca-file") {
			set.CAFile = ""
		}
	}
	s, err := a.connect(a.cmd.Context(), set)
	if err != nil {
		return err
	}
	defer s.close()
	answer, err := s.clubs.AcceptInvite(s.ctx, &pb.AcceptInviteRequest{Code: invite.Code, DeviceTitle: device})
	if err != nil {
		return err
	}
	set.Token = settings.Secret(answer.GetToken())
	if err := settings.SaveClient(path, set); err != nil {
		return fmt.Errorf("the invite was used, but the token could not be kept: %w\n  next: ask the secretary for a new "+
			"code, and to shut out the device %q", err, names.Last(answer.GetDevice().GetName()))
	}
	shown := proto.CloneOf(answer)
	shown.Token = "" // never printed
	return a.answer(shown, func(p *page) {
		p.line("Welcome, %s. This device (%s) is let in; its token is kept in %s.", answer.GetMember().GetDisplayName(),
			answer.GetDevice().GetTitle(), path)
		if os.Getenv("GRITWARD_TOKEN") != "" {
			p.line("Note: GRITWARD_TOKEN is set and counts more than the file.")
		}
		layFirstSteps(p, answer.GetMember())
	})
}

// layFirstSteps says what somebody new does next, by role.
func layFirstSteps(p *page, member *pb.Member) {
	if slices.Contains(member.GetRoles(), pb.Role_SECRETARY) {
		p.line("Next, as secretary: gritward policy example > policy.yaml, edit it, gritward policy adopt policy.yaml, gritward member invite NAME")
	}
	if slices.Contains(member.GetRoles(), pb.Role_LEADER) {
		p.line("Next, as ride leader: gritward route FILE.gpx, gritward ride create --help")
	}
	p.line("Next: gritward bike example > bike.yaml, fill it in, then gritward bike declare bike.yaml")
}

// invite reads the invite as given, or from standard input.
func (a *app) invite(given string) (transport.Invite, error) {
	if given == "-" {
		content, err := a.readFile("-", 1<<20)
		if err != nil {
			return transport.Invite{}, err
		}
		given = string(content)
	}
	if strings.TrimSpace(given) == "" {
		return transport.Invite{}, errors.New("there is no code\n  next: gritward accept CODE")
	}
	invite, err := transport.ParseInvite(given)
	if err != nil {
		return transport.Invite{}, fmt.Errorf("the invite %w", err)
	}
	return invite, nil
}

func hostname() string {
	name, err := os.Hostname()
	if err != nil || name == "" {
		return "computer"
	}
	if len(name) > 60 { // the protocol's limit
		return strings.ToValidUTF8(name[:60], "")
	}
	return name
}

func (a *app) whoami() *cobra.Command {
	cmd := &cobra.Command{
		Use: "whoami", Short: "Who this device belongs to, and what they may do",
		Example: "  gritward whoami", Args: cobra.NoArgs,
	}
	return a.online(cmd, func(s *session, _ []string) error {
		who, err := s.me()
		if err != nil {
			return err
		}
		return a.answer(who, func(p *page) {
			p.fields(
				[2]string{"member", who.GetMember().GetDisplayName() + " (" + s.ref(who.GetMember().GetName()) + ")"},
				[2]string{"roles", words(who.GetMember().GetRoles())},
				[2]string{"club", who.GetClub().GetTitle() + " (" + names.Last(who.GetClub().GetName()) + ")"},
				[2]string{"zone", who.GetClub().GetZone()},
				[2]string{"device", who.GetDevice().GetTitle() + " (" + names.Last(who.GetDevice().GetName()) + ")"},
				[2]string{"server", s.set.Server},
			)
		})
	})
}
