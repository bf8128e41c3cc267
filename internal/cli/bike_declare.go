package cli

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	"gritward/internal/render"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

func (a *app) bikeExample() *cobra.Command {
	cmd := &cobra.Command{
		Use: "example", Short: "Print a complete bike file with comments (no server needed)",
		Example: "  gritward bike example > bike.yaml", Args: cobra.NoArgs,
	}
	return a.offline(cmd, func([]string) error {
		if !a.json {
			_, err := io.WriteString(a.io.Out, exampleBike)
			return err
		}
		facts, problems := readBike("example", []byte(exampleBike))
		if len(problems) > 0 {
			return fmt.Errorf("the example is not as it must be:\n%s", strictyaml.Format(problems))
		}
		return a.answer(facts, nil)
	})
}

func (a *app) bikeDeclare() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "declare FILE.yaml",
		Short: "Certify a bike as of now, and see where it stands",
		Long: "Certifies what the file says about your bike, as of now and under your name. It is the next revision of your\n" +
			"bike of that title, or of the one that --id names; otherwise it is a new bike. - reads standard input.\n" +
			"The answer tells where the bike stands by day and after dark, and what would make it stand better.\n" +
			"A declaration is your word; it does not replace a mechanic's inspection.",
		Example: "  gritward bike declare bike.yaml --id blue-winter-bike", Args: cobra.ExactArgs(1),
	}
	id := cmd.Flags().String("id", "", "your bike that it is, by title or id (default: that of the title in the file)")
	member := cmd.Flags().String("member", "", "guest whose bike you looked over: you certify it (leaders)")
	return a.online(cmd, func(s *session, args []string) error {
		facts, err := a.factsIn(args[0])
		if err != nil {
			return err
		}
		parent, err := s.memberName(*member)
		if err != nil {
			return err
		}
		bike := ""
		if *id != "" {
			if bike, err = s.bikeName(*id, parent); err != nil {
				return err
			}
		}
		return s.declare(&pb.DeclareBikeRequest{Parent: parent, BikeId: names.Part(bike, "bikes"), Facts: facts, RequestId: requestID()})
	})
}

// factsIn reads a bike file that is to be certified.
func (a *app) factsIn(path string) (*pb.BikeFacts, error) {
	content, err := a.readFile(path, maxPolicyBytes)
	if err != nil {
		return nil, err
	}
	if string(content) == exampleBike {
		return nil, fmt.Errorf("%s is the example as it was printed\n  next: make it say what is true of your own bike", path)
	}
	facts, problems := readBike(path, content)
	if len(problems) > 0 {
		return nil, a.fileProblems(path, problems)
	}
	return facts, nil
}

// fileProblems tells what is wrong with a file.
func (a *app) fileProblems(path string, problems []*pb.Problem) error {
	fmt.Fprint(a.io.Err, cleanLines(strictyaml.Format(problems)))
	fmt.Fprintf(a.io.Err, "gritward: %s was not sent: %s\n", clean(path), count(len(problems), "problem", "problems"))
	return silentError{}
}

// declare certifies, and shows where the bike stands.
func (s *session) declare(request *pb.DeclareBikeRequest) error {
	answer, err := s.bikes.DeclareBike(s.ctx, request)
	if err != nil {
		return err
	}
	s.noteTitle(answer.GetBike())
	return s.answer(answer, func(p *page) {
		bike := answer.GetBike()
		p.line("Certified: %s (%s), revision %d.", s.shortBike(bike.GetName()),
			bike.GetDeclaration().GetFacts().GetTitle(), bike.GetDeclaration().GetRevision())
		if answer.GetByDay() == nil && answer.GetAfterDark() == nil {
			p.line("The club has no policy in force, so it stands nowhere yet.")
			return
		}
		titles := render.Titles{Bikes: map[string]string{bike.GetName(): bike.GetDeclaration().GetFacts().GetTitle()}}
		p.line("")
		p.line("By day, on a dry road")
		day, dark := proto.CloneOf(answer.GetByDay()), moreThan(answer.GetByDay(), answer.GetAfterDark())
		more := slices.ContainsFunc(dark.GetFindings(), unmet)
		if more {
			day.DeclarationRevision = 0 // told below
		}
		p.assessments([]*pb.Assessment{day}, titles, false)
		p.line("")
		if !more {
			p.line("After dark, with lights needed for two hours: nothing beyond what is above.")
			return
		}
		p.line("After dark, with lights needed for two hours: what is above, and")
		p.assessments([]*pb.Assessment{dark}, titles, false)
	})
}

func unmet(f *pb.Finding) bool { return f.GetStanding() != pb.Standing_CLEAR }

// moreThan is an assessment without the findings that another has, too.
func moreThan(told, assessment *pb.Assessment) *pb.Assessment {
	rest := proto.CloneOf(assessment)
	rest.Findings = slices.DeleteFunc(rest.Findings, func(f *pb.Finding) bool {
		return slices.ContainsFunc(told.GetFindings(), func(other *pb.Finding) bool { return proto.Equal(f, other) })
	})
	return rest
}

func (a *app) bikeAgain() *cobra.Command {
	cmd := &cobra.Command{
		Use: "again BIKE", Short: "Certify a bike again as it was last declared, with its care log",
		Long: "Shows what was last declared, with what the care log says since, and asks whether it is true today. If not, use\n" +
			"gritward bike show BIKE > bike.yaml, change the file, and declare it.",
		Example: "  gritward bike again blue-winter-bike", Args: cobra.ExactArgs(1),
	}
	sure := cmd.Flags().Bool("yes", false, "do not ask: all of it is still true")
	return a.online(cmd, func(s *session, args []string) error {
		bike, zone, err := s.getBike(args[0])
		if err != nil {
			return err
		}
		if bike.InEffect != nil && bike.Declaration != nil {
			bike.Declaration.Facts = bike.InEffect // with what the care log says since
		}
		if !*sure {
			p := &page{}
			s.layBike(p, bike, zone)
			fmt.Fprint(a.io.Err, p.b.String())
			if err := a.confirm("You certify under your name that all of this is true today?"); err != nil {
				return err
			}
		}
		return s.declare(&pb.DeclareBikeRequest{
			Parent: strings.TrimSuffix(bike.GetName(), "/bikes/"+names.Part(bike.GetName(), "bikes")),
			BikeId: names.Part(bike.GetName(), "bikes"), Facts: bike.GetDeclaration().GetFacts(),
			RequestId: requestID(), Etag: bike.GetEtag(),
		})
	})
}
