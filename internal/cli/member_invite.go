package cli

import (
	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/transport"
	pb "gritward/proto/gritward/v1"
)

func (a *app) memberInvite() *cobra.Command {
	cmd := &cobra.Command{
		Use: "invite NAME", Short: "Invite a person; prints the code, this once",
		Long: "Makes an invite for a person, or with --device-for a further device of a member: anybody for themselves, good for an\n" +
			"hour, and a secretary for everybody. With --ride it is for a guest of that ride, under your name; the ride's leader may\n" +
			"make it. The guest's device is let in until the ride is closed, or the day after it has ended, and for that ride only.\n" +
			"The code is shown once; hand it over where nobody else reads it.",
		Example: "  gritward member invite \"Ida Holm\" --role leader\n  gritward member invite --device-for ida-holm\n" +
			"  gritward member invite \"Per Lund\" --ride 2026-12-13-moors",
		Args: cobra.MaximumNArgs(1),
	}
	roles := cmd.Flags().StringArray("role", nil, "role beside member: leader, secretary (repeat)")
	ride := cmd.Flags().String("ride", "", "ride that a guest is invited to")
	device := cmd.Flags().String("device-for", "", "member who gets a further device: you, or as secretary anybody")
	return a.online(cmd, func(s *session, args []string) error {
		invite := &pb.Invite{}
		switch {
		case len(args) == 1 && *device == "":
			invite.DisplayName = args[0]
		case len(args) == 0 && *device != "":
			member, err := s.getMember(*device)
			if err != nil {
				return err
			}
			invite.ForMember, invite.DisplayName = member.GetName(), member.GetDisplayName()
		default:
			return usagef("give the person's NAME, or --device-for MEMBER")
		}
		var err error
		if *ride != "" {
			if invite.ForRide, err = s.rideName(*ride); err != nil {
				return err
			}
		}
		if invite.Roles, err = rolesOf("--role", *roles); err != nil {
			return err
		}
		zone, err := s.zone()
		if err != nil {
			return err
		}
		answer, err := s.invite(invite)
		if err != nil {
			return err
		}
		if _, err := s.people(); err != nil { // the note may name some
			return err
		}
		return a.answer(answer, func(p *page) {
			p.line("Invite for %s, good once, until %s:", answer.GetDisplayName(), when(answer.GetExpiresAt(), zone))
			p.line("")
			p.line("  gritward accept %s", transport.ForShell(s.handover(answer)))
			p.line("")
			p.line("The code is not shown again.")
			if note := answer.GetNote(); note != "" {
				p.para(0, "Note: %s", s.named(told(note)))
			}
		})
	})
}

// invite asks for an invite. Members let a further device of their own in without a secretary.
func (s *session) invite(asked *pb.Invite) (*pb.Invite, error) {
	me, err := s.me()
	if err != nil {
		return nil, err
	}
	own := asked.GetForMember() != "" && asked.GetForMember() == me.GetMember().GetName()
	if !own || s.may(pb.Role_SECRETARY) || len(asked.GetRoles()) > 0 || asked.GetForRide() != "" {
		return s.clubs.CreateInvite(s.ctx, &pb.CreateInviteRequest{Parent: s.clubName(), Invite: asked})
	}
	made, err := s.clubs.InviteDevice(s.ctx, &pb.InviteDeviceRequest{Parent: asked.GetForMember()})
	if made != nil && made.GetDisplayName() == "" {
		made.DisplayName = asked.GetDisplayName()
	}
	return made, err
}

// handover is the one word that a person pastes. A server that does not know how it is reached leaves it to this client,
// which reached it.
func (s *session) handover(made *pb.Invite) string {
	if made.GetHandover() != "" {
		return made.GetHandover()
	}
	pins, _ := s.set.Pins() // read before, to get here
	return transport.Invite{Address: s.set.Server, Code: made.GetCode(), Pins: pins}.String()
}

func (a *app) memberDevice() *cobra.Command {
	group := &cobra.Command{
		Use: "device", Short: "Devices that are let in",
		Example: "  gritward member device list\n  gritward member device revoke xqg4wpzaeqgr",
	}
	group.AddCommand(a.deviceList(), a.deviceRevoke())
	return a.asGroup(group)
}

func (a *app) deviceList() *cobra.Command {
	cmd := &cobra.Command{
		Use: "list", Short: "Your devices, or those of --member",
		Example: "  gritward member device list", Args: cobra.NoArgs,
	}
	member := cmd.Flags().String("member", "", "whose (secretaries)")
	return a.online(cmd, func(s *session, _ []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		parent, err := s.memberName(*member)
		if err != nil {
			return err
		}
		answer, err := s.clubs.ListDevices(s.ctx, &pb.ListDevicesRequest{Parent: parent})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			var rows [][]string
			for _, device := range answer.GetDevices() {
				state := "let in"
				if device.GetRevokedAt() != nil {
					state = "shut out " + day(device.GetRevokedAt(), zone)
				}
				if device.GetName() == s.who.GetDevice().GetName() {
					state += ", this one"
				}
				rows = append(rows, []string{names.Last(device.GetName()), device.GetTitle(), day(device.GetCreatedAt(), zone),
					device.GetLastUsedOn(), state})
			}
			p.list("no devices", []string{"device", "title", "since", "last used", "state"}, rows)
		})
	})
}

func (a *app) deviceRevoke() *cobra.Command {
	cmd := &cobra.Command{
		Use: "revoke DEVICE", Short: "Shut a device out at once",
		Example: "  gritward member device revoke xqg4wpzaeqgr", Args: cobra.ExactArgs(1),
	}
	member := cmd.Flags().String("member", "", "whose (secretaries)")
	return a.online(cmd, func(s *session, args []string) error {
		if !names.ValidID(args[0]) {
			return usagef("%q is not the id of a device; gritward member device list shows them", args[0])
		}
		parent, err := s.memberName(*member)
		if err != nil {
			return err
		}
		answer, err := s.clubs.RevokeDevice(s.ctx, &pb.RevokeDeviceRequest{Name: parent + "/devices/" + args[0]})
		if err != nil {
			return s.withOwner(err, *member)
		}
		return a.answer(answer, func(p *page) {
			p.line("The device %s (%s) is shut out.", args[0], answer.GetTitle())
		})
	})
}

// withOwner adds to a NOT_FOUND of a secretary's that the device may be another member's.
func (s *session) withOwner(err error, member string) error {
	if member != "" || !isReason(err, pb.Reason_NOT_FOUND) {
		return err
	}
	if _, meErr := s.me(); meErr != nil || !s.may(pb.Role_SECRETARY) {
		return err
	}
	return hinted{"next: if it is another member's device, add --member MEMBER; gritward member device list --member MEMBER " +
		"shows them", err}
}
