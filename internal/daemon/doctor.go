package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/settings"
	"gritward/internal/vitals"
)

func doctorCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "doctor",
		Short: "Look at all that the server stands on, and say what to do",
		Long: "Look at the settings, addresses, certificates, key file, disk, etcd, store, backups, clock, time-zone data, policy files, mail server,\n" +
			"receiver of traces and limits of the system, and say of each what was found, what it means, and what to do. Run it as the\n" +
			"user that the server runs as, while the server runs or not. It changes nothing, and sends no mail; beside the store it\n" +
			"writes a small file and removes it. Exit code 0: all is well, or there are warnings; 1: something keeps the server from its work.",
		Example: "  gritwardd doctor --settings server.yaml",
		Args:    exactly(0),
	}
	file := serverFlags(command)
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, _ []string) error {
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		told := newProgress(command.ErrOrStderr())
		report := examination(command.Context(), s, err, told)
		told.end()
		if *asJSON {
			err = json.NewEncoder(command.OutOrStdout()).Encode(report)
		} else {
			report.Write(command.OutOrStdout())
			err = nil
		}
		if report.State == vitals.Failing {
			err = errors.Join(err, errors.New("what is failing keeps the server from its work"))
		}
		return err
	}
	return command
}

// examination looks at all. Where the settings are wrong nothing that hangs on them is looked at.
func examination(ctx context.Context, s settings.Server, wrong error, told *progress) vitals.Report {
	began := time.Now()
	findings := settingsFound(wrong)
	if wrong == nil {
		d := &doctor{settings: s, now: time.Now, told: told}
		d.ask(ctx)
		for _, look := range []func(context.Context) []vitals.Finding{d.addresses, d.reached, d.certificates, d.keyFile, d.disk, d.members, d.store, d.backups, d.mail, d.traces, d.tiles} {
			findings = append(findings, look(ctx)...)
		}
		findings = append(findings, policyFiles(s.PolicyFolder)...)
	}
	findings = append(findings, zoneData()...)
	findings = append(findings, clock(began)...)
	return vitals.Sum(append(findings, limitsOfSystem(ctx)...))
}

// doctor looks at what a server stands on.
type doctor struct {
	settings settings.Server
	now      func() time.Time
	told     *progress
	// served is what the running server says of itself; nil: none has the store open.
	served *served
	// health is how it says it is.
	health vitals.Report
	// noEtcd: etcd cannot be used, which is told.
	noEtcd bool
}

// ask asks the server that has the store open.
func (d *doctor) ask(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, operatorTimeout)
	defer cancel()
	d.served = &served{}
	if d.read(ctx, "/listening", d.served) != nil || d.read(ctx, "/healthz?json", &d.health) != nil {
		d.served = nil
	}
}

func (d *doctor) read(ctx context.Context, path string, into any) error {
	answer, err := askSocket(ctx, d.settings.Data, path)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	return json.NewDecoder(answer.Body).Decode(into)
}

// failing, warning and well are findings of one check.
func failing(check, found, means, next string) []vitals.Finding {
	return []vitals.Finding{{Check: check, State: vitals.Failing, Found: found, Means: means, Next: next}}
}

func warning(check, found, means, next string) []vitals.Finding {
	return []vitals.Finding{{Check: check, State: vitals.Warning, Found: found, Means: means, Next: next}}
}

func well(check, format string, args ...any) []vitals.Finding {
	return []vitals.Finding{vitals.Well(check, format, args...)}
}

// settingsFound tells each mistake in the settings with its place.
func settingsFound(err error) (findings []vitals.Finding) {
	var problems settings.Problems
	switch {
	case err == nil:
		return well("settings", "in order")
	case !errors.As(err, &problems):
		return failing("settings", err.Error(), "The server does not start.", "put that right")
	}
	for _, problem := range problems {
		findings = append(findings, failing("settings", problem.Where+": "+problem.What, "The server does not start.", "put that right; gritwardd serve --help lists the settings as flags")...)
	}
	return findings
}

// served is what a running server says of itself on the operator's socket.
type served struct {
	Pid     int    `json:"pid"`
	Version string `json:"version"`
	// Listening are its addresses, by the name of the setting.
	Listening map[string]string `json:"listening"`
}

func (s *served) String() string { return fmt.Sprintf("process %d, version %s", s.Pid, s.Version) }
