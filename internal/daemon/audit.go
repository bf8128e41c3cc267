package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/settings"
)

func auditCommand() *cobra.Command {
	group := &cobra.Command{Use: "audit", Short: "The record of who did what", Args: exactly(0)}
	group.RunE = func(command *cobra.Command, _ []string) error { return command.Help() }
	group.AddCommand(auditVerifyCommand())
	return group
}

func auditVerifyCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "verify",
		Short: "Look whether any entry of the audit logs was removed or changed",
		Long: "Follow every club's audit log in the store and name the first entry that was removed, changed or moved.\n" +
			"The exit code is 1 when there is one. Nothing is written to the store; run it while no server uses the\n" +
			"store, or on a copy.\n\n" +
			"Whoever can write to the store can also cut entries off its end, change the last one, or write the whole\n" +
			"log anew, and the log alone does not show it. So note the head that is printed, elsewhere than on the\n" +
			"server, and give it with --head the next time: every entry up to it is then held against it.",
		Example: "  gritwardd audit verify --data club.db",
		Args:    exactly(0),
	}
	file := serverFlags(command)
	heads := command.Flags().StringArray("head", nil, "head noted before, CLUB/NUMBER:SHA256 (repeat)")
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, _ []string) error {
		noted, err := headsOf(*heads)
		if err != nil {
			return err
		}
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		opened, err := openToRead(command.Context(), s)
		if err != nil {
			return err
		}
		defer func() { _ = opened.Close() }()
		logs, err := verified(command.Context(), ledger.New(opened, time.Now), noted)
		if err != nil {
			return err
		}
		return tellLogs(command.OutOrStdout(), logs, *asJSON)
	}
	return command
}

func headsOf(flags []string) (heads []ledger.AuditHead, err error) {
	for _, text := range flags {
		head, err := ledger.ParseAuditHead(text)
		if err != nil {
			return nil, usageError{fmt.Errorf("--head %w", err)}
		}
		heads = append(heads, head)
	}
	return heads, nil
}

// auditLog is what was found of one club's log.
type auditLog struct {
	Club string `json:"club"`
	// Entries is how many follow one another unbroken from the first, and Head the last of these.
	Entries int64  `json:"entries"`
	Head    string `json:"head,omitempty"`
	// Noted is how far the log was held against noted heads: the number of an entry.
	Noted  int64  `json:"noted,omitempty"`
	Broken int64  `json:"broken_entry,omitempty"`
	What   string `json:"what,omitempty"`
}

// verified follows the log of every club in the store, and of every club of which a head was noted.
func verified(ctx context.Context, l *ledger.Ledger, noted []ledger.AuditHead) ([]auditLog, error) {
	clubs, err := l.Clubs(ctx)
	if err != nil {
		return nil, err
	}
	for _, head := range noted {
		clubs = append(clubs, head.Club)
	}
	slices.Sort(clubs)
	var logs []auditLog
	for _, club := range slices.Compact(clubs) {
		log := auditLog{Club: names.Club(club)}
		err := l.View(ctx, club, func(tx *ledger.Tx) error {
			head, err := tx.VerifyAudit(noted)
			if log.Entries = head.Number; head.Number > 0 {
				log.Head = head.String()
			}
			return err
		})
		var broken *ledger.AuditBroken
		if errors.As(err, &broken) {
			log.Broken, log.What = broken.Number, broken.What
		} else if err != nil {
			return nil, err
		}
		for _, head := range noted {
			if head.Club == club && log.Broken == 0 {
				log.Noted = max(log.Noted, head.Number)
			}
		}
		logs = append(logs, log)
	}
	return logs, nil
}

// tellLogs prints what was found. The error is about the logs that are broken.
func tellLogs(out io.Writer, logs []auditLog, asJSON bool) error {
	broken := 0
	for _, log := range logs {
		if log.Broken > 0 {
			broken++
		}
	}
	if asJSON {
		if err := json.NewEncoder(out).Encode(map[string]any{"unbroken": broken == 0, "logs": logs}); err != nil {
			return err
		}
	} else {
		tellEach(out, logs)
	}
	if broken > 0 {
		return fmt.Errorf("%s broken: keep this store as it is, and compare it with a backup from before", counted(broken, "audit log"))
	}
	return nil
}

func tellEach(out io.Writer, logs []auditLog) {
	if len(logs) == 0 {
		fmt.Fprintln(out, "No club is founded in this store yet.")
	}
	loose := false
	for _, log := range logs {
		club := names.Last(log.Club)
		if log.Broken > 0 {
			fmt.Fprintf(out, "%s: BROKEN: entry %d %s\n", club, log.Broken, log.What)
			continue
		}
		fmt.Fprintf(out, "%s: unbroken, entries 1 to %d", club, log.Entries)
		if log.Noted > 0 {
			fmt.Fprintf(out, ", and as noted up to entry %d", log.Noted)
		}
		fmt.Fprintf(out, "\n  head %s\n", log.Head)
		loose = loose || log.Noted == 0
	}
	if loose {
		fmt.Fprintln(out, "Not held against a noted head: entries cut off the end, or a log written anew, would not show.\n"+
			"Note the head elsewhere, and give it with --head the next time.")
	}
}
