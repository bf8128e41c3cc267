package cli

import (
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/civil"
	"gritward/internal/sun"
)

// sunTimes is the answer of "sun --json": RFC 3339 with the zone's offset, or null for what does not happen that day.
type sunTimes struct {
	Sunrise   *string `json:"sunrise"`
	Sunset    *string `json:"sunset"`
	CivilDawn *string `json:"civil_dawn"`
	CivilDusk *string `json:"civil_dusk"`
	SolarNoon *string `json:"solar_noon"`
}

func (a *app) sun() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "sun --at LAT,LON --date YYYY-MM-DD --zone IANA",
		Short: "Sunrise, sunset and twilight of a day (no server needed)",
		Long: "Times for a sea-level horizon and the usual refraction: hills, trees and cloud make it dark earlier.\n" +
			"Civil twilight is while the sun is less than 6 degrees down.",
		Example: "  gritward sun --at 53.8,-1.55 --date 2026-12-13 --zone Europe/London",
		Args:    cobra.NoArgs,
	}
	at := cmd.Flags().String("at", "", "latitude,longitude in decimal degrees, north and east positive")
	date := cmd.Flags().String("date", "", "civil date")
	zone := cmd.Flags().String("zone", "", "time zone, for example Europe/London")
	needs(cmd, "at", "date", "zone")
	return a.offline(cmd, func([]string) error {
		day, err := sunDay(*at, *date, *zone)
		if err != nil {
			return err
		}
		rfc := sunTimes{stamp(day.Sunrise), stamp(day.Sunset), stamp(day.CivilDawn), stamp(day.CivilDusk), stamp(&day.SolarNoon)}
		return a.answerJSON(rfc, func(p *page) { laySun(p, day) })
	})
}

func sunDay(at, date, zoneName string) (sun.Day, error) {
	latText, lonText, ok := strings.Cut(at, ",")
	lat, latErr := finite(strings.TrimSpace(latText))
	lon, lonErr := finite(strings.TrimSpace(lonText))
	if !ok || latErr != nil || lonErr != nil {
		return sun.Day{}, usagef("--at %q is not LAT,LON; write decimal degrees, for example 53.8,-1.55", at)
	}
	place := sun.Place{LatDeg: lat, LonDeg: lon}
	if err := place.Validate(); err != nil {
		return sun.Day{}, usagef("--at: %v", err)
	}
	on, err := dateOf("date", date)
	if err != nil {
		return sun.Day{}, err
	}
	zone, err := civil.Zone("--zone", zoneName)
	if err != nil {
		return sun.Day{}, usagef("--zone: %q is not a time zone; write one of the IANA names, for example Europe/London", zoneName)
	}
	day, err := sun.On(on.Year(), on.Month(), on.Day(), zone, place)
	if err != nil {
		return sun.Day{}, usagef("%v", err)
	}
	return day, nil
}

// stamp is an instant to the second, nil when there is none.
func stamp(at *time.Time) *string {
	if at == nil {
		return nil
	}
	text := at.Round(time.Second).Format(time.RFC3339)
	return &text
}

func laySun(p *page, day sun.Day) {
	tell := func(at *time.Time) string {
		if at == nil {
			return "does not happen that day"
		}
		return at.Round(time.Second).Format("2 Jan 15:04:05 MST")
	}
	p.fields(
		[2]string{"civil dawn", tell(day.CivilDawn)},
		[2]string{"sunrise", tell(day.Sunrise)},
		[2]string{"solar noon", tell(&day.SolarNoon)},
		[2]string{"sunset", tell(day.Sunset)},
		[2]string{"civil dusk", tell(day.CivilDusk)},
	)
	switch {
	case day.AlwaysUp():
		p.line("The sun stays up all day.")
	case day.NeverUp():
		p.line("The sun stays down all day.")
	}
}
