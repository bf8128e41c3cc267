package daemon

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"gritward/internal/ledger"
	"gritward/internal/server"
	"gritward/internal/settings"
	"gritward/internal/transport"
	"gritward/internal/vitals"
)

const (
	// fresh is how long what was found is told again without looking anew: some readers ask every second.
	fresh = 10 * time.Second
	// lettersStuck is for how long a letter may wait before somebody should look: most mail servers that turn strangers away at
	// first take a letter within half an hour (common practice, no source).
	lettersStuck = time.Hour
	// unlooked is after how long without a look at who is overdue somebody should look: some looks must have failed.
	unlooked = 5 * overdueEvery
	// endsSoon is how long before its end a certificate should be renewed: that of an operator's own files, in days by hand.
	endsSoon = 14 * 24 * time.Hour
	day      = 24 * time.Hour
)

// etcdWell is what to do where etcd does not answer.
const etcdWell = "see with etcdctl endpoint health whether etcd is well"

// running is what a running server is asked about how it is.
type running struct {
	settings settings.Server
	ledger   *ledger.Ledger
	// whole ends when damage was come upon in the store, ending when the server is to stop.
	whole, ending context.Context
	way           *transport.Server
	watch         *server.RollWatch
	// clubsInTrouble are the clubs that cannot be read from etcd, and why; nil where the store is a file.
	clubsInTrouble func() map[string]error
	// duties are nil before they begin.
	duties *duties
	folder *server.PolicyFolder
	now    func() time.Time
	mails  bool
	began  time.Time

	mu       sync.Mutex
	surveyed time.Time
	survey   server.Survey
	failed   error
}

// board has the checks of a running server.
func (r *running) board() *vitals.Board {
	checks := []vitals.Check{r.serving, r.store, r.disk, r.certificate, r.policies, r.letters, r.overdue}
	if r.settings.Etcd.Used() {
		checks = append(checks, r.etcd)
	}
	return &vitals.Board{Fresh: fresh, Now: r.now, Checks: checks}
}

// look is what the records say, read anew at most every so often.
func (r *running) look(ctx context.Context) (server.Survey, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if now := r.now(); r.surveyed.IsZero() || now.Sub(r.surveyed) >= fresh || now.Before(r.surveyed) {
		r.survey, r.failed = server.TakeSurvey(ctx, r.ledger)
		r.surveyed = now
	}
	return r.survey, r.failed
}

// gauges are told beside the counters.
func (r *running) gauges(counters *server.Counters) {
	ctx := context.Background()
	counters.Gauge("gritward_letters_queued", func() float64 {
		seen, _ := r.look(ctx) // what cannot be read, health tells
		return float64(seen.Queued)
	})
	counters.Gauge("gritward_letters_oldest_seconds", func() float64 {
		if seen, _ := r.look(ctx); !seen.Oldest.IsZero() {
			return max(0, r.now().Sub(seen.Oldest).Seconds())
		}
		return 0
	})
	counters.Gauge("gritward_riders_overdue", func() float64 {
		riders, _ := r.watch.Overdue()
		return float64(riders)
	})
	for kind, ends := range r.way.Ends {
		counters.Gauge(fmt.Sprintf("gritward_certificate_left_days{kind=%q}", kind), func() float64 {
			if at := ends(); !at.IsZero() {
				return at.Sub(r.now()).Hours() / 24
			}
			return 0
		})
	}
}

// serving: calls are let in.
func (r *running) serving(context.Context) vitals.Finding {
	if r.ending.Err() != nil {
		return vitals.Finding{Check: "serving", State: vitals.Failing, Found: "the server is stopping", Means: "Calls under way are finished, and no new ones taken."}
	}
	return vitals.Well("serving", "calls are answered")
}

// store: the records can be read, and are as they were written.
func (r *running) store(ctx context.Context) vitals.Finding {
	if r.whole.Err() != nil {
		return vitals.Finding{Check: "store", State: vitals.Failing, Found: context.Cause(r.whole).Error(),
			Means: "Nothing is served from it any more, since nobody knows what else is wrong.",
			Next:  "stop the server, keep a copy of the file, and restore the newest backup that gritwardd verify finds sound, with gritwardd restore"}
	}
	seen, err := r.look(ctx)
	if err != nil {
		next := "run gritwardd verify on a copy of the store"
		if r.settings.Etcd.Used() {
			next = etcdWell
		}
		return vitals.Finding{Check: "store", State: vitals.Failing, Found: "records cannot be read: " + err.Error(), Means: "Calls that need them fail.", Next: next}
	}
	if seen.Clubs == 0 {
		return vitals.Finding{Check: "store", State: vitals.Warning, Found: "no club is founded in " + where(r.settings), Means: "Nobody can sign in.",
			Next: "stop the server and run gritwardd found --help; or point data at the store that has your club"}
	}
	return vitals.Well("store", "%s in %s", counted(seen.Clubs, "club"), where(r.settings))
}

// disk: what is written finds room.
func (r *running) disk(context.Context) vitals.Finding { return vitals.Disk(r.settings.Data) }

// certificate: clients can trust the server tomorrow too.
func (r *running) certificate(context.Context) vitals.Finding {
	found := []string{}
	for kind, ends := range r.way.Ends {
		at := ends()
		if at.IsZero() {
			continue // none was asked for yet
		}
		left := at.Sub(r.now())
		what := fmt.Sprintf("the %s ends %s", certificateWords[kind], at.UTC().Format("2006-01-02 15:04 UTC"))
		if left <= 0 {
			return vitals.Finding{Check: "certificate", State: vitals.Failing, Found: strings.Replace(what, " ends ", " ended ", 1), Means: "Clients and browsers refuse to connect.", Next: renewal(r.settings)}
		}
		if kind == transport.LeafEnds && left < endsSoon || kind == transport.AuthorityEnds && left < 365*day {
			return vitals.Finding{Check: "certificate", State: vitals.Warning, Found: what, Means: fmt.Sprintf("In %.0f days clients refuse to connect.", left.Hours()/24), Next: renewal(r.settings)}
		}
		found = append(found, what)
	}
	if len(found) == 0 {
		return vitals.Well("certificate", "none in use yet")
	}
	return vitals.Well("certificate", "%s", strings.Join(found, ", "))
}

var certificateWords = map[string]string{transport.LeafEnds: "server's certificate", transport.AuthorityEnds: "certificate of the server's own authority"}

func renewal(s settings.Server) string {
	switch s.Way() {
	case transport.Own:
		return "change the authority: gritwardd authority --help"
	case transport.ACME:
		return "see in the log why the authority gives none: the name must lead to this machine, port 443"
	}
	return "renew " + s.TLSCert + "; it is read again when it changes"
}

// policies: each club has one in force, and edited files are in order.
func (r *running) policies(ctx context.Context) vitals.Finding {
	seen, _ := r.look(ctx) // the store's own check says so where it fails
	switch refused := r.folder.Refused(); {
	case len(seen.NoPolicy) > 0:
		return vitals.Finding{Check: "policy", State: vitals.Warning, Found: "no policy is in force in " + strings.Join(firstOf(seen.NoPolicy, 5), ", "),
			Means: "No bike can be judged and no ride placed there.", Next: "a secretary adopts one: gritward policy adopt FILE"}
	case len(refused) > 0:
		return notAdopted(refused)
	}
	return vitals.Well("policy", "one in force in each club")
}

// notAdopted tells of clubs whose edited file in the policy folder is not in force.
func notAdopted(clubs []string) vitals.Finding {
	return vitals.Finding{Check: "policy", State: vitals.Warning, Found: "the edited policy file was not adopted for " + strings.Join(firstOf(clubs, 5), ", "),
		Means: "The policy before it stays in force.", Next: "gritward policy check FILE shows each mistake with its line"}
}

// firstOf is the beginning of a list, and how many more there are.
func firstOf(all []string, n int) []string {
	if len(all) <= n {
		return all
	}
	return append(append([]string{}, all[:n]...), fmt.Sprintf("and %d more", len(all)-n))
}

// letters: e-mail goes out.
func (r *running) letters(ctx context.Context) vitals.Finding {
	if !r.mails {
		return vitals.Well("letters", "no mail server is set up, and none is sent")
	}
	seen, _ := r.look(ctx)
	if waiting := r.now().Sub(seen.Oldest); seen.Queued > 0 && waiting > lettersStuck {
		return vitals.Finding{Check: "letters", State: vitals.Warning, Found: fmt.Sprintf("%s waiting, the oldest for %s", counted(seen.Queued, "letter"), waiting.Round(time.Minute)),
			Means: "Members do not hear of rosters by e-mail, nor secretaries of riders who are overdue.", Next: "gritwardd doctor asks the mail server " + r.settings.SMTPServer + " what is wrong"}
	}
	return vitals.Well("letters", "%s waiting", counted(seen.Queued, "letter"))
}

// overdue: riders who do not come home are noticed.
func (r *running) overdue(context.Context) vitals.Finding {
	riders, looked := r.watch.Overdue()
	if looked.Before(r.began) {
		looked = r.began
	}
	if r.duties != nil {
		if !r.duties.on.Load() {
			return vitals.Well("overdue", "another server of the same store looks for them")
		}
		if since := time.Unix(r.duties.since.Load(), 0); looked.Before(since) {
			looked = since
		}
	}
	if r.now().Sub(looked) > unlooked {
		return vitals.Finding{Check: "overdue", State: vitals.Failing, Found: "who is overdue could not be looked at since " + looked.UTC().Format("2006-01-02 15:04 UTC"),
			Means: "Nobody is told of riders who do not come home.", Next: "see in the log what is wrong, and call the leaders of rides that are out"}
	}
	return vitals.Well("overdue", "%s overdue", counted(riders, "rider"))
}
