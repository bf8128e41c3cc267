package daemon

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"buf.build/go/protovalidate"
	"github.com/spf13/cobra"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/server"
	"gritward/internal/settings"
	"gritward/internal/transport"
	pb "gritward/proto/gritward/v1"
)

func foundCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "found CLUB",
		Short: "Found a club in the store and invite its first secretary",
		Long: "Found a club in the store and print the invite code of its first secretary.\n" +
			"CLUB is a short id: lower-case letters, digits and hyphens. Run it while no server uses the store.",
		Example: `  gritwardd found marrowdale --data club.db --title "Marrowdale Road Club" \
    --secretary "Imke Vard" --zone Europe/London --at 54.08,-2.28`,
		Args: exactly(1),
	}
	file := serverFlags(command)
	title := command.Flags().String("title", "", "what the club calls itself")
	secretary := command.Flags().String("secretary", "", "name of the first secretary")
	zone := command.Flags().String("zone", "", "IANA time zone, for example Europe/London")
	at := command.Flags().String("at", "", "where rides usually meet, LAT,LON in degrees")
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, args []string) error {
		club, err := clubFrom(args[0], *title, *secretary, *zone, *at)
		if err != nil {
			return err
		}
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		l, shut, err := openLedger(command.Context(), s, command.ErrOrStderr())
		if err != nil {
			return err
		}
		defer shut()
		handed, err := handing(s)
		if err != nil {
			return err
		}
		code, err := server.Found(command.Context(), l, args[0], club, *secretary)
		if err != nil {
			return err
		}
		if *asJSON {
			return json.NewEncoder(command.OutOrStdout()).Encode(map[string]string{
				"club": club.Name, "invite_code": code, "invite": handed(code), "store": s.Data})
		}
		fmt.Fprintf(command.OutOrStdout(), "Founded %s (%s) in %s.\n\nStart the server, then %s becomes secretary with\n\n  gritward accept %s\n\n"+
			"The code works once, for 14 days.\n", club.Title, args[0], where(s), *secretary, transport.ForShell(handed(code)))
		return nil
	}
	return command
}

// named refuses a name that is empty or too long; most is in characters.
func named(flag, value string, most int) error {
	if n := utf8.RuneCountInString(value); strings.TrimSpace(value) == "" || n > most {
		return usageError{fmt.Errorf("%s is needed, 1 to %d characters", flag, most)}
	}
	return nil
}

// clubFrom reads what the flags say; each error names the flag.
func clubFrom(id, title, secretary, zone, at string) (*pb.Club, error) {
	if !names.ValidClub(id) {
		return nil, usageError{fmt.Errorf("%q cannot be a club's id: use lower-case letters, digits and hyphens, up to 40", id)}
	}
	if err := named("--title", title, 100); err != nil {
		return nil, err
	}
	if err := named("--secretary", secretary, 60); err != nil {
		return nil, err
	}
	if _, err := civil.Zone("--zone", zone); err != nil {
		var wrong *fault.Error
		if errors.As(err, &wrong) && len(wrong.Fields) > 0 {
			err = fmt.Errorf("%s %s", wrong.Fields[0].Path, wrong.Fields[0].What)
		}
		return nil, usageError{err}
	}
	lat, lon, ok := strings.Cut(at, ",")
	latDeg, latErr := strconv.ParseFloat(strings.TrimSpace(lat), 64)
	lonDeg, lonErr := strconv.ParseFloat(strings.TrimSpace(lon), 64)
	if !ok || latErr != nil || lonErr != nil || !(math.Abs(latDeg) <= 90) || !(math.Abs(lonDeg) <= 180) {
		return nil, usageError{fmt.Errorf("--at %q is not LAT,LON in degrees north and east, from -90 to 90 and from -180 to 180, for example 54.08,-2.28", at)}
	}
	club := &pb.Club{Title: title, Zone: zone, LatitudeDeg: latDeg, LongitudeDeg: lonDeg}
	if err := protovalidate.Validate(club); err != nil {
		return nil, usageError{err}
	}
	return club, nil
}
