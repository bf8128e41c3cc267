package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/server"
	"gritward/internal/settings"
)

func retentionCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "retention",
		Short: "Show what is kept no longer, and would be removed next",
		Long: "Show what the server would remove from every club's records if it looked now: rides, invites, devices and records\n" +
			"of incidents that are older than the policy keeps them (privacy: rides_kept, invites_kept, devices_kept; incidents:\n" +
			"kept). Nothing is written to the store; run it while no server uses the store, or on a copy. The server looks once a day.",
		Example: "  gritwardd retention --data club.db",
		Args:    exactly(0),
	}
	file := serverFlags(command)
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, _ []string) error {
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		opened, err := openToRead(command.Context(), s)
		if err != nil {
			return err
		}
		defer func() { _ = opened.Close() }()
		clubs, err := keptNoLonger(command.Context(), server.NewRetention(ledger.New(opened, time.Now), nil, logger(command.ErrOrStderr(), s)), opened.Clubs)
		if err != nil {
			return err
		}
		if *asJSON {
			return json.NewEncoder(command.OutOrStdout()).Encode(map[string]any{"clubs": clubs})
		}
		tellKept(command.OutOrStdout(), clubs)
		return nil
	}
	return command
}

// keptClub is what of one club would be removed.
type keptClub struct {
	Club string `json:"club"`
	// Policy is empty where none is in force.
	Policy    string     `json:"policy,omitempty"`
	Rides     []keptRide `json:"rides"`
	Invites   int        `json:"invites"`
	Devices   int        `json:"devices"`
	Incidents int        `json:"incidents"`
	words     string
}

type keptRide struct {
	Name  string `json:"name"`
	Start string `json:"start_local"`
	Title string `json:"title"`
}

func keptNoLonger(ctx context.Context, kept *server.Retention, list func(context.Context) ([]string, error)) (clubs []keptClub, err error) {
	ids, err := list(ctx)
	for _, id := range ids {
		gone, err := kept.Expired(ctx, id)
		if err != nil {
			return nil, err
		}
		club := keptClub{Club: names.Club(id), Policy: gone.Policy, Rides: []keptRide{}, Invites: gone.Invites, Devices: gone.Devices, Incidents: len(gone.Incidents), words: gone.Words()}
		for _, ride := range gone.Rides {
			club.Rides = append(club.Rides, keptRide{Name: ride.Name, Start: ride.StartLocal, Title: ride.Title})
		}
		clubs = append(clubs, club)
	}
	return clubs, err
}

func tellKept(out io.Writer, clubs []keptClub) {
	if len(clubs) == 0 {
		fmt.Fprintln(out, "No club is founded in this store yet.")
	}
	for _, club := range clubs {
		id := names.Last(club.Club)
		switch {
		case club.Policy == "":
			fmt.Fprintf(out, "%s: no policy is in force, and nothing is removed\n", id)
		case club.words == "":
			fmt.Fprintf(out, "%s: nothing to remove, by policy %s\n", id, names.Last(club.Policy))
		default:
			fmt.Fprintf(out, "%s: to be removed, by policy %s: %s\n", id, names.Last(club.Policy), club.words)
		}
		for _, ride := range club.Rides {
			fmt.Fprintf(out, "  %s  %s\n", ride.Start, ride.Title)
		}
	}
}
