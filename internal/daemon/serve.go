package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	"gritward/internal/forecast/endpoint"
	"gritward/internal/ledger"
	"gritward/internal/lull"
	"gritward/internal/post"
	"gritward/internal/release"
	"gritward/internal/server"
	"gritward/internal/settings"
	"gritward/internal/store/etcd"
	"gritward/internal/tracing"
	"gritward/internal/transport"
)

// drain is how long calls under way may take when the server stops.
const drain = 10 * time.Second

func serveCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "serve",
		Short: "Serve the clubs in the store until interrupted",
		Long: "Serve the clubs in the store until interrupted. With SIGUSR2 the server makes room for the program that lies in its place by now,\n" +
			"in the same process: it finishes the calls under way, closes the store, and hands its sockets over. Who calls meanwhile waits,\n" +
			"and nobody is refused. Where the new program or its settings do not start, the server goes on as it is, and its log says why.",
		Example: "  gritwardd serve --data club.db",
		Args:    exactly(0),
	}
	file := serverFlags(command)
	check := command.Flags().Bool("only-check", false, "read the settings, and end")
	command.RunE = func(command *cobra.Command, _ []string) error {
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil || *check {
			return err
		}
		log := logger(command.ErrOrStderr(), s)
		sockets, err := takeSockets(log)
		if err != nil {
			return err
		}
		defer sockets.close()
		v := &service{settings: s, log: log, sockets: sockets, out: command.OutOrStdout(), errOut: command.ErrOrStderr()}
		if err = v.serve(command.Context()); errors.Is(err, errRestart) {
			err = sockets.restart()
		}
		return err
	}
	return command
}

// service is a server with all that it works with.
type service struct {
	settings    settings.Server
	log         *slog.Logger
	sockets     *sockets
	out, errOut io.Writer
	// started lets the collector of memory run as it is set.
	started func()

	store                     engine
	ledger                    *ledger.Ledger
	clubs                     int
	counters                  *server.Counters
	pauses                    *lull.Pauses
	ahead                     *server.Ahead
	config                    server.Config
	way                       *transport.Server
	calls, browsers, operator net.Listener
	pages                     *pages
	mailer                    *post.SMTP
	answering                 *grpc.Server
}

// serve opens the store, listens, and answers calls until the context ends, or errRestart ends it for the next server.
func (v *service) serve(ctx context.Context) error {
	v.started = holdCollector(v.settings.Etcd.Keeps())
	defer v.started()
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	if v.settings.OperatorListen != "" {
		v.counters = server.NewCounters()
	}
	v.ahead = server.NewAhead()
	v.pauses = lull.New(v.ahead.Do)
	go server.ReadProtocol()
	var err error
	observer := v.counters.Observer()
	observer.Trouble = v.trouble
	if v.store, err = openStore(ctx, v.settings, v.errOut, observer); err != nil {
		return err
	}
	defer func() { _ = v.store.Close() }()
	defer v.pauses.Stop()
	traces, err := tracing.New(ctx, release.Number(), v.log)
	if err != nil {
		return err
	}
	defer traces.Stop()
	if err := v.prepare(ctx); err != nil {
		return err
	}
	v.config.Options = traces.Options()
	if err := v.listen(); err != nil {
		return err
	}
	defer v.shut()
	if err := v.make(); err != nil {
		return err
	}
	return v.run(ctx, stop)
}

// trouble is told when a club cannot be read from where it is kept, and with nil when it can again.
func (v *service) trouble(club string, err error) {
	if err == nil {
		v.log.Info("a club can be read from etcd again", "club", club)
		return
	}
	v.log.Error("a club cannot be read from etcd, and calls for it fail; it is tried again until it can", "club", club, "error", err, "next", etcdWell)
}

// prepare brings the records into the order that this program needs, and reads what they are sealed with.
func (v *service) prepare(ctx context.Context) error {
	v.ledger = ledger.New(v.store, time.Now)
	clubs, err := v.ledger.Clubs(ctx)
	if err != nil {
		return err
	}
	v.clubs = len(clubs)
	v.config = server.Config{Ledger: v.ledger, Counters: v.counters, Damaged: v.store.Whole(), Log: v.log, Limits: limits(v.settings), Called: v.pauses.Called, Ahead: v.ahead, Ending: ctx,
		Erasures: server.NewErasures(v.settings.Data+".erased", v.ledger, v.log), RollWatch: server.NewRollWatch()}
	if done, err := v.ledger.Index(ctx); err != nil {
		return err
	} else if len(done) > 0 {
		v.log.Info("the records of an older store were put into the indexes of this program", "clubs", strings.Join(done, ", "))
	}
	if err := v.config.Erasures.Settle(ctx); err != nil {
		return err
	}
	v.config.Keys, err = openKeys(ctx, v.ledger, v.settings.KeyFile, v.errOut)
	return err
}

// listen takes or makes the sockets. Nobody is answered yet.
func (v *service) listen() (err error) {
	s := v.settings
	if v.way, err = secured(s, v.log); err != nil {
		return err
	}
	if v.calls, err = v.sockets.listen("listen", s.Listen, ""); err != nil {
		return err
	}
	if v.browsers, err = v.sockets.listen("pages_listen", s.PagesListen, " for the pages"); err != nil {
		return err
	}
	v.operator, err = v.sockets.listen("operator_listen", s.OperatorListen, " for the operator")
	return err
}

// shut closes what listens.
func (v *service) shut() {
	for _, listener := range []net.Listener{v.calls, v.browsers, v.operator} {
		if listener != nil {
			_ = listener.Close() // closed already where it served
		}
	}
}

// make makes the server of the settings.
func (v *service) make() (err error) {
	s := v.settings
	v.config.TLS, v.config.Entrance = v.way.TLS, entrance(s, v.way, v.calls.Addr().String())
	if v.settings.PolicyFolder != "" {
		v.config.Folder = server.NewPolicyFolder(v.settings.PolicyFolder)
	}
	if v.pages, err = pagesAt(s, v.browsers, v.way.TLS, &v.config); err != nil {
		return err
	}
	if v.config.Forecasts, err = forecasts(s); err != nil {
		return err
	}
	if v.mailer, err = mailerOf(s); err != nil {
		return err
	}
	v.config.Mail = v.mailer != nil
	v.answering, err = server.New(v.config)
	return err
}

// run answers until the context ends.
func (v *service) run(ctx context.Context, stop context.CancelCauseFunc) error {
	known := &running{settings: v.settings, ledger: v.ledger, whole: v.config.Damaged, ending: ctx, way: v.way, watch: v.config.RollWatch, folder: v.config.Folder, now: time.Now,
		mails: v.config.Mail, began: time.Now()}
	if under, is := v.store.(*etcd.Store); is {
		known.clubsInTrouble = under.Troubles
	}
	board, systemd := known.board(), theManager()
	defer serveOperator(ctx, v.settings.Data, v.store, board, v.sockets.listening(), v.log)()
	known.duties = &duties{watch: v.config.RollWatch, kept: server.NewRetention(v.ledger, v.config.Erasures, v.log), mailer: v.mailer, log: v.log,
		letters: &server.Post{Ledger: v.ledger, Log: v.log, PagesAddress: v.config.PagesAddress}}
	defer known.duties.begin(ctx, v.store)() // ends before the store is closed
	if v.operator != nil {
		known.gauges(v.counters)
		v.counters.Gauge("gritward_store_waiting", func() float64 { return float64(v.store.Waiting()) })
		serveOperatorPages(ctx, v.operator, v.counters, board)
	}
	defer restartOn(ctx, v.log, stop)()
	v.tell()
	if v.way.Warm != nil {
		go v.way.Warm()
	}
	go resting(ctx, &v.pauses.Calls, v.started, giveBack)
	var alive sync.WaitGroup
	alive.Go(func() { systemd.watchdog(ctx, v.ledger) })
	v.pages.serve(v.answering)
	systemd.tell("READY=1")
	alive.Go(func() { <-ctx.Done(); systemd.stopping(context.Cause(ctx)) })
	err := v.watching(ctx, stop)
	stop(nil)
	alive.Wait()
	if err == nil && errors.Is(context.Cause(ctx), errRestart) {
		err = errRestart
	}
	return err
}

// tell says where the server listens, and how.
func (v *service) tell() {
	fmt.Fprintf(v.out, "Serving %s on %s from %s\n", counted(v.clubs, "club"), v.calls.Addr(), where(v.settings))
	fmt.Fprintln(v.out, security(v.settings, v.way))
	if v.pages != nil {
		fmt.Fprintf(v.out, "Pages: %s\n", v.pages.address)
	}
	if v.operator != nil {
		fmt.Fprintf(v.out, "Operator: http://%s/\n", v.operator.Addr())
	}
	if v.clubs == 0 {
		fmt.Fprintln(v.out, "No club is founded yet: stop the server and run gritwardd found --help")
	}
}

// watching answers until the context ends, and adopts edited policies meanwhile, when there is a folder of them.
func (v *service) watching(ctx context.Context, stop context.CancelCauseFunc) error {
	if v.config.Folder == nil {
		return v.answer(ctx)
	}
	watched := make(chan error, 1)
	go func() {
		err := v.config.Folder.Watch(ctx)
		stop(err) // a folder that cannot be watched ends the server: its policy would silently stay
		watched <- err
	}()
	if err := v.answer(ctx); err != nil {
		return err
	}
	stop(nil)
	return <-watched
}

// answer serves until the context ends, then lets calls under way finish, those of browsers first, which make calls themselves: until
// they are done calls of others are taken, too. For the next server the sockets stay open.
func (v *service) answer(ctx context.Context) error {
	ended := make(chan error, 1)
	go func() { ended <- v.answering.Serve(v.config.Limits.Listener(v.calls, v.counters)) }()
	select {
	case err := <-ended:
		v.pages.end()
		return err
	case <-ctx.Done():
	}
	if errors.Is(context.Cause(ctx), errRestart) {
		v.sockets.leave()
	} else {
		v.sockets.close()
	}
	v.pages.end()
	finish(v.answering)
	return <-ended
}

// finish lets calls under way finish, for so long.
func finish(answering *grpc.Server) {
	stop := time.AfterFunc(drain, answering.Stop)
	defer stop.Stop()
	answering.GracefulStop()
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

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
