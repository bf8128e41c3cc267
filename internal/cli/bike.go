package cli

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) bike() *cobra.Command {
	group := &cobra.Command{
		Use: "bike", Short: "Declare bikes and see where they stand",
		Example: "  gritward bike example > bike.yaml\n  gritward bike declare bike.yaml",
	}
	group.AddCommand(a.bikeExample(), a.bikeDeclare(), a.bikeAgain(), a.bikeList(), a.bikeShow(), a.bikeHistory(),
		a.bikeStanding(), a.bikeLift(), a.bikeRetire())
	return a.asGroup(group)
}

func (a *app) bikeList() *cobra.Command {
	cmd := &cobra.Command{
		Use: "list", Short: "Your bikes, or with --all those of the club",
		Example: "  gritward bike list\n  gritward bike list --all", Args: cobra.NoArgs,
	}
	all := cmd.Flags().Bool("all", false, "every member's bikes (leaders and secretaries)")
	return a.online(cmd, func(s *session, _ []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		parent := s.who.GetMember().GetName()
		if *all {
			parent = names.Member(s.set.Club(), names.Any)
		}
		bikes, err := s.allBikes(parent)
		if err != nil {
			return err
		}
		return a.answer(&pb.ListBikesResponse{Bikes: bikes}, func(p *page) {
			var rows [][]string
			for _, bike := range bikes {
				state := "in use"
				if bike.GetRetiredAt() != nil {
					state = "retired " + day(bike.GetRetiredAt(), zone)
				}
				declared := bike.GetDeclaration()
				rows = append(rows, []string{s.shortBike(bike.GetName()), declared.GetFacts().GetTitle(),
					fmt.Sprint(declared.GetRevision()), day(declared.GetCertifiedAt(), zone),
					age(declared.GetCertifiedAt(), s.now()), state})
			}
			p.list("no bikes yet: gritward bike example > bike.yaml, fill it in, gritward bike declare bike.yaml",
				[]string{"bike", "title", "revision", "certified", "age", "state"}, rows)
		})
	})
}

// allBikes reads every page of a list of bikes.
func (s *session) allBikes(parent string) ([]*pb.Bike, error) {
	bikes, err := allPages(func(token string) ([]*pb.Bike, string, error) {
		answer, err := s.bikes.ListBikes(s.ctx, &pb.ListBikesRequest{Parent: parent, PageSize: pageSize, PageToken: token})
		return answer.GetBikes(), answer.GetNextPageToken(), err
	})
	for _, bike := range bikes {
		s.noteTitle(bike)
	}
	return bikes, err
}

// noteTitle remembers what a bike is called.
func (s *session) noteTitle(bike *pb.Bike) {
	if s.bikeTitles == nil {
		s.bikeTitles = map[string]string{}
	}
	s.bikeTitles[bike.GetName()] = bike.GetDeclaration().GetFacts().GetTitle()
}

func (a *app) bikeShow() *cobra.Command {
	cmd := &cobra.Command{
		Use: "show BIKE", Short: "A bike as it was last declared, in the form of a bike file",
		Long:    "Prints what was certified as a bike file, to be changed and declared again.",
		Example: "  gritward bike show blue-winter-bike > bike.yaml", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		bike, zone, err := s.getBike(args[0])
		if err != nil {
			return err
		}
		return a.answer(bike, func(p *page) { s.layBike(p, bike, zone) })
	})
}

// getBike reads a bike; when there is none of that id it names those that there are.
func (s *session) getBike(ref string) (*pb.Bike, *time.Location, error) {
	zone, err := s.zone()
	if err != nil {
		return nil, nil, err
	}
	name, err := s.bikeName(ref, "")
	if err != nil {
		return nil, nil, err
	}
	bike, err := s.bikes.GetBike(s.ctx, &pb.GetBikeRequest{Name: name})
	return bike, zone, s.withBikes(err, name)
}

func (s *session) layBike(p *page, bike *pb.Bike, zone *time.Location) {
	declared := bike.GetDeclaration()
	p.line("# %s, revision %d, certified %s by %s", s.shortBike(bike.GetName()), declared.GetRevision(), when(declared.GetCertifiedAt(), zone),
		s.ref(declared.GetCertifiedBy()))
	if bike.GetRiddenKm() > 0 {
		p.line("# ridden on club rides: %.0f km", bike.GetRiddenKm())
	}
	if bike.GetRetiredAt() != nil {
		p.line("# retired %s", when(bike.GetRetiredAt(), zone))
	}
	layDoubts(p, bike, zone)
	p.text(bikeFile(declared.GetFacts()))
}

func (a *app) bikeHistory() *cobra.Command {
	cmd := &cobra.Command{
		Use: "history BIKE", Short: "Every declaration of a bike, oldest first",
		Example: "  gritward bike history blue-winter-bike", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		name, err := s.bikeName(args[0], "")
		if err != nil {
			return err
		}
		answer := &pb.ListDeclarationsResponse{}
		answer.Declarations, err = allPages(func(token string) ([]*pb.Declaration, string, error) {
			page, err := s.bikes.ListDeclarations(s.ctx,
				&pb.ListDeclarationsRequest{Parent: name, PageSize: pageSize, PageToken: token})
			return page.GetDeclarations(), page.GetNextPageToken(), err
		})
		if err != nil {
			return s.withBikes(err, name)
		}
		return a.answer(answer, func(p *page) {
			var rows [][]string
			var before *pb.BikeFacts
			for _, declared := range answer.GetDeclarations() {
				rows = append(rows, []string{fmt.Sprint(declared.GetRevision()), when(declared.GetCertifiedAt(), zone),
					s.ref(declared.GetCertifiedBy()), changedFacts(before, declared.GetFacts())})
				before = declared.GetFacts()
			}
			p.list("never declared", []string{"revision", "certified", "by", "changed"}, rows)
		})
	})
}

func (a *app) bikeRetire() *cobra.Command {
	cmd := &cobra.Command{
		Use: "retire BIKE", Short: "Take a bike out of use, for ever",
		Example: "  gritward bike retire blue-winter-bike", Args: cobra.ExactArgs(1),
	}
	sure := cmd.Flags().Bool("yes", false, "do not ask")
	return a.online(cmd, func(s *session, args []string) error {
		bike, _, err := s.getBike(args[0])
		if err != nil {
			return err
		}
		ref := s.shortBike(bike.GetName())
		if !*sure {
			question := fmt.Sprintf("Take %s (%s) out of use for ever?", ref, bike.GetDeclaration().GetFacts().GetTitle())
			if err := a.confirm(question); err != nil {
				return err
			}
		}
		answer, err := s.bikes.RetireBike(s.ctx, &pb.RetireBikeRequest{Name: bike.GetName()})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) { p.line("%s is retired and can join no more rides.", ref) })
	})
}
