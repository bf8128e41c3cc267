package daemon

import (
	"context"
	"fmt"
	"net"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	"gritward/internal/forecast/endpoint"
	"gritward/internal/ledger"
	"gritward/internal/post"
	"gritward/internal/release"
	"gritward/internal/server"
	"gritward/internal/settings"
	"gritward/internal/tracing"
)

// drain is how long calls under way may take when the server stops.
const drain = 10 * time.Second

func serveCommand() *cobra.Command {
	command := &cobra.Command{
		Use:     "serve",
		Short:   "Serve the clubs in the store until interrupted",
		Example: "  gritwardd serve --data club.db",
		Args:    exactly(0),
	}
	file := serverFlags(command)
	folder := command.Flags().String("policy-folder", "", "folder with a policy file for each club, CLUB.yaml, adopted when edited")
	command.RunE = func(command *cobra.Command, _ []string) error {
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		return serve(command, s, *folder)
	}
	return command
}

// serve opens the store, listens, and answers calls until the context ends.
func serve(command *cobra.Command, s settings.Server, folder string) error {
	letGo := holdCollector()
	defer letGo()
	log := logger(command.ErrOrStderr(), s)
	var counters *server.Counters
	if s.OperatorListen != "" {
		counters = server.NewCounters()
	}
	opened, err := openStore(command.Context(), s, command.ErrOrStderr(), counters.Observer())
	if err != nil {
		return err
	}
	defer func() { _ = opened.Close() }()
	l := ledger.New(opened, time.Now)
	clubs, err := l.Clubs(command.Context())
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancelCause(command.Context())
	defer stop(nil)
	config := server.Config{Ledger: l, Counters: counters, Damaged: opened.Whole(), Log: log, Limits: limits(s), Calls: new(atomic.Int64), Ending: ctx, Erasures: server.NewErasures(s.Data+".erased", l, log)}
	if done, err := l.Index(ctx); err != nil {
		return err
	} else if len(done) > 0 {
		log.Info("the records of an older store were put into the indexes of this program", "clubs", strings.Join(done, ", "))
	}
	if err := config.Erasures.Settle(ctx); err != nil {
		return err
	}
	if config.Keys, err = openKeys(command.Context(), l, s.KeyFile, command.ErrOrStderr()); err != nil {
		return err
	}
	way, err := secured(s, log)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", s.Listen)
	if err != nil {
		return fmt.Errorf("cannot listen on %s: %w; another server may be running there", s.Listen, err)
	}
	defer func() { _ = listener.Close() }() // closed already where it served
	config.TLS, config.Entrance = way.TLS, entrance(s, way, listener.Addr().String())
	if folder != "" {
		config.Folder = server.NewPolicyFolder(folder)
	}
	config.RollWatch = server.NewRollWatch()
	seen, err := pagesAt(s, way.TLS, &config)
	if err != nil {
		return err
	}
	if config.Forecasts, err = forecasts(s); err != nil {
		return err
	}
	mailer, err := mailerOf(s)
	if err != nil {
		return err
	}
	config.Mail = mailer != nil
	traces, err := tracing.New(command.Context(), release.Number(), log)
	if err != nil {
		return err
	}
	defer traces.Stop()
	config.Options = traces.Options()
	answering, err := server.New(config)
	if err != nil {
		return err
	}
	known := &running{settings: s, ledger: l, whole: config.Damaged, ending: ctx, way: way, watch: config.RollWatch, folder: config.Folder, now: time.Now, mails: config.Mail, began: time.Now()}
	board := known.board()
	defer serveOperator(ctx, s.Data, opened, board, log)()
	defer seen.serve(answering)()
	listener = config.Limits.Listener(listener, config.Counters)
	known.duties = &duties{watch: config.RollWatch, kept: server.NewRetention(l, config.Erasures, log), mailer: mailer, log: log,
		letters: &server.Post{Ledger: l, Log: log, PagesAddress: config.PagesAddress}}
	defer known.duties.begin(ctx, opened)() // ends before the store is closed
	fmt.Fprintf(command.OutOrStdout(), "Serving %s on %s from %s\n", counted(len(clubs), "club"), listener.Addr(), where(s))
	fmt.Fprintln(command.OutOrStdout(), security(s, way))
	if way.Warm != nil {
		go way.Warm()
	}
	if seen != nil {
		fmt.Fprintf(command.OutOrStdout(), "Pages: %s\n", seen.address)
	}
	told, err := operatorListener(s.OperatorListen)
	if err != nil {
		return err
	}
	if told != nil {
		known.gauges(counters)
		counters.Gauge("gritward_store_waiting", func() float64 { return float64(opened.Waiting()) })
		serveOperatorPages(command.Context(), told, counters, board)
		fmt.Fprintf(command.OutOrStdout(), "Operator: http://%s/\n", told.Addr())
	}
	if len(clubs) == 0 {
		fmt.Fprintln(command.OutOrStdout(), "No club is founded yet: stop the server and run gritwardd found --help")
	}
	go resting(ctx, config.Calls, letGo, giveBack)
	err = watching(ctx, stop, config.Folder, answering, listener)
	stop(nil)
	return err
}

// watching answers until the context ends, and adopts edited policies meanwhile, when there is a folder of them.
func watching(ctx context.Context, stop context.CancelCauseFunc, folder *server.PolicyFolder, answering *grpc.Server, listener net.Listener) error {
	if folder == nil {
		return answer(ctx, answering, listener)
	}
	watched := make(chan error, 1)
	go func() {
		err := folder.Watch(ctx)
		stop(err) // a folder that cannot be watched ends the server: its policy would silently stay
		watched <- err
	}()
	if err := answer(ctx, answering, listener); err != nil {
		return err
	}
	stop(nil)
	return <-watched
}

// limits says how much the server takes of whom.
func limits(s settings.Server) server.Limits {
	return server.Limits{
		DeviceCallsMin: s.DeviceCallsMin, AddressCallsMin: s.AddressCallsMin, FailedSignInsMin: s.FailedSignInsMin,
		AddressConnections: s.AddressConnections, Handshake: s.HandshakeTimeout,
	}
}

// forecasts says where the server's forecasts come from.
func forecasts(s settings.Server) (server.Forecasts, error) {
	from := server.Forecasts{Name: s.ForecastName, MaxAge: s.ForecastMaxAge}
	if s.ForecastURL == "" {
		return from, nil
	}
	made, err := endpoint.New(endpoint.Config{
		URL: s.ForecastURL, UserAgent: s.ForecastUserAgent, Timeout: s.ForecastTimeout, Now: time.Now})
	if err != nil {
		return from, fmt.Errorf("forecast_url: %w", err)
	}
	from.Endpoint = made
	return from, nil
}

// mailerOf is the mail server that takes letters; nil: there is none.
func mailerOf(s settings.Server) (*post.SMTP, error) {
	if s.SMTPServer == "" {
		return nil, nil
	}
	host, number, err := net.SplitHostPort(s.SMTPServer)
	if err != nil {
		return nil, fmt.Errorf("smtp_server: %w", err)
	}
	port, err := strconv.Atoi(number)
	if err != nil {
		return nil, fmt.Errorf("smtp_server: %w", err)
	}
	made, err := post.New(post.Config{Host: host, Port: port, Security: post.Security(s.SMTPSecurity), From: s.SMTPFrom,
		User: s.SMTPUser, Password: s.SMTPPassword.Reveal(), Timeout: s.SMTPTimeout})
	if err != nil {
		return nil, fmt.Errorf("smtp: %w", err)
	}
	return made, nil
}

// answer serves until the context ends, then lets calls under way finish.
func answer(ctx context.Context, answering *grpc.Server, listener net.Listener) error {
	ended := make(chan error, 1)
	go func() { ended <- answering.Serve(listener) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	stop := time.AfterFunc(drain, answering.Stop)
	defer stop.Stop()
	answering.GracefulStop()
	return <-ended
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
