package daemon

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"gritward/internal/settings"
	"gritward/internal/vitals"
)

func healthCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "health",
		Short: "Ask the running server how it is, and why",
		Long: "Ask the server that has the store open how it is, by the socket DATA.operator beside the store, which only the server's\n" +
			"own user may use. Exit code 0: calls are answered, with or without warnings; 1: it is failing, or there is none.\n" +
			"Where operator_listen is set, the same is told at http://ADDRESS/healthz.",
		Example: "  gritwardd health --data club.db",
		Args:    exactly(0),
	}
	file := serverFlags(command)
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, _ []string) error {
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		var report vitals.Report
		answer, err := askSocket(command.Context(), s.Data, "/healthz?json")
		if err != nil {
			return err
		}
		defer answer.Body.Close()
		if err := json.NewDecoder(answer.Body).Decode(&report); err != nil {
			return fmt.Errorf("the server's answer cannot be read: %w", err)
		}
		if *asJSON {
			err = json.NewEncoder(command.OutOrStdout()).Encode(report)
		} else {
			report.Write(command.OutOrStdout())
		}
		if report.State == vitals.Failing {
			err = errors.Join(err, errors.New("the server is failing"))
		}
		return err
	}
	return command
}
