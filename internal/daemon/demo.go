package daemon

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"

	"gritward/internal/demo"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/render"
	"gritward/internal/seal"
	"gritward/internal/server"
	"gritward/internal/settings"
	"gritward/internal/store/bolt"
	"gritward/internal/web"
	pb "gritward/proto/gritward/v1"
)

func demoCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "demo",
		Short: "Play an invented club through a Sunday in December and show its roster",
		Long: "Start a server on a store in a temporary folder, play an invented club through a Sunday in December over\n" +
			"the wire, print the roster and the brief, and stay until interrupted, so that the client can be tried on it.",
		Example: "  gritwardd demo --once",
		Args:    exactly(0),
	}
	once := command.Flags().Bool("once", false, "end when the roster is printed")
	asJSON := command.Flags().Bool("json", false, "print the roster as JSON")
	listen := command.Flags().String("listen", "127.0.0.1:0", "loopback address to listen on; port 0 takes a free one")
	command.RunE = func(command *cobra.Command, _ []string) error {
		if !settings.IsLoopback(*listen) {
			return usageError{fmt.Errorf("--listen %s: the demo listens on this machine only, for example 127.0.0.1:0", *listen)}
		}
		return runDemo(command, *listen, *once, *asJSON)
	}
	return command
}

// runDemo plays the demo, shows what came of it, and serves on until the context ends. Without --once its folder stays
// for as long as the server does; with it only the page stays.
func runDemo(command *cobra.Command, listen string, once, asJSON bool) error {
	folder, err := os.MkdirTemp("", "gritward-demo-")
	if err != nil {
		return err
	}
	clock, store := demo.NewClock(), filepath.Join(folder, "club.db")
	opened, err := bolt.Open(bolt.Options{Path: store, Now: clock.Now})
	if err != nil {
		return err
	}
	defer func() { _ = opened.Close() }()
	l := ledger.New(opened, clock.Now)
	keys, err := seal.New() // the demo's store goes when it ends, and its key with it
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(command.Context())
	defer stop()
	config := server.Config{Ledger: l, Keys: keys, Log: slog.New(slog.DiscardHandler), MemberID: demo.MemberIDs(), Ending: ctx}
	answering, err := server.New(config)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", listen)
	if err != nil {
		return err
	}
	seen, err := demoPages(config)
	if err != nil {
		return err
	}
	seen.serve(answering)
	served := make(chan error, 1)
	go func() { served <- answering.Serve(listener) }()
	context.AfterFunc(ctx, func() {
		seen.end()
		finish(answering)
	})
	story, err := play(ctx, l, listener.Addr().String(), clock)
	if err != nil {
		return err
	}
	out := command.OutOrStdout()
	if err := showDemo(out, story, folder, listener.Addr().String(), once, asJSON); err != nil {
		return err
	}
	if !once && !asJSON {
		if err := showPages(ctx, out, story, seen); err != nil {
			return err
		}
	}
	if once {
		stop()
	} else if !asJSON {
		fmt.Fprintln(out, "\nServing until Ctrl-C.")
	}
	if err := <-served; err != nil {
		return err
	}
	if once {
		return os.Remove(store) // the page stays
	}
	return os.RemoveAll(folder)
}

// play dials the server and plays the story.
func play(ctx context.Context, l *ledger.Ledger, address string, clock *demo.Clock) (*demo.Story, error) {
	conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		return nil, err
	}
	defer func() { _ = conn.Close() }()
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	return demo.Play(ctx, l, conn, clock)
}

// showDemo prints the roster and the brief, writes the page, and says what can be tried.
func showDemo(out io.Writer, story *demo.Story, folder, address string, once, asJSON bool) error {
	page := filepath.Join(folder, "roster.html")
	if err := writeTo(page, func(w io.Writer) error { return render.HTML(w, story.Issue) }); err != nil {
		return err
	}
	if asJSON {
		return render.JSON(out, story.Issue)
	}
	fmt.Fprintf(out, "An invented club of %d members and %d bikes, on Friday 11 December 2026. Nobody in it is real.\n\n",
		story.Members, story.Bikes)
	if err := render.Text(out, story.Issue, textOptions(out)); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nWhy, as Hetty Marlock may ask who wished for Easy (gritward ride why %s):\n\n", names.Last(story.Ride.Name))
	if err := render.ExplanationText(out, story.Why, textOptions(out)); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nThe same roster as a page to look at or print: %s\n", page)
	if once {
		return nil
	}
	return showCommands(out, story, folder, address)
}

// showCommands writes a client's settings for three people and says what they could try.
func showCommands(out io.Writer, story *demo.Story, folder, address string) error {
	ride := names.Last(story.Ride.Name)
	tries := []struct{ who, id, file, does string }{
		{"the secretary", demo.Secretary, "secretary.yaml", "member list"},
		{"the secretary", demo.Secretary, "secretary.yaml", "season report --from 2026-11-01 --to 2026-12-31"},
		{"the ride leader", demo.Leader, "leader.yaml", "ride plan " + ride},
		{"the ride leader", demo.Leader, "leader.yaml", "ride times steady"},
		{"the ride leader", demo.Leader, "leader.yaml", "ride roster " + ride},
		{"the ride leader", demo.Leader, "leader.yaml", "ride why " + ride + " silas-whinfell"},
		{"a member", demo.Member, "member.yaml", "ride why " + ride},
		{"a member", demo.Member, "member.yaml", "bike standing mint-winter-bike --ride " + ride},
		{"a member", demo.Member, "member.yaml", "ride brief " + ride},
	}
	fmt.Fprintln(out, "\nTry the client on it, in another terminal, as")
	for _, try := range tries {
		path := filepath.Join(folder, try.file)
		if err := settings.SaveClient(path, settings.Client{Server: address, Token: settings.Secret(story.Tokens[try.id])}); err != nil {
			return err
		}
		fmt.Fprintf(out, "  %-16s go run ./cmd/gritward --settings %s %s\n", try.who, path, try.does)
	}
	return nil
}

// demoPages serves the pages on a free port of this machine.
func demoPages(config server.Config) (*pages, error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	return openPages(listener, nil, web.Config{Address: "http://" + listener.Addr().String()}, config)
}

// showPages prints a link for each of three people, which signs a browser in as them.
func showPages(ctx context.Context, out io.Writer, story *demo.Story, seen *pages) error {
	fmt.Fprintln(out, "\nOr open the pages in a browser, one person at a time, as")
	clubs := pb.NewClubServiceClient(seen.conn)
	ctx = metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+story.Tokens[demo.Secretary])
	for _, who := range []struct{ is, name string }{
		{"the secretary", demo.Secretary}, {"the ride leader", demo.Leader}, {"a member", demo.Member},
	} {
		member := story.Names[who.name]
		made, err := clubs.CreateInvite(ctx, &pb.CreateInviteRequest{Parent: names.Club(names.Part(member, "clubs")), Invite: &pb.Invite{ForMember: member}})
		if err != nil {
			return err
		}
		fmt.Fprintf(out, "  %-16s %s/join/%s\n", who.is, seen.address, made.Code)
	}
	return nil
}

// textOptions fits the text to a terminal; elsewhere it is 80 wide and plain.
func textOptions(out io.Writer) render.TextOptions {
	options := render.TextOptions{Width: 80, Part: render.Both}
	if file, ok := out.(*os.File); ok && term.IsTerminal(int(file.Fd())) {
		if width, _, err := term.GetSize(int(file.Fd())); err == nil {
			options.Width = min(max(width, 40), 120)
		}
		options.Colour = os.Getenv("NO_COLOR") == "" && !strings.EqualFold(os.Getenv("TERM"), "dumb")
	}
	return options
}

// writeTo writes a file whole or not at all.
func writeTo(path string, write func(io.Writer) error) error {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := write(file); err != nil {
		_ = file.Close()
		return err
	}
	return file.Close()
}
