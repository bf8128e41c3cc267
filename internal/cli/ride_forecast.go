package cli

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideForecast() *cobra.Command {
	cmd := &cobra.Command{
		Use: "forecast RIDE", Short: "Read a forecast for the ride, from the weather service or a file",
		Long: "Lets the server ask the weather service that it is set up with for a forecast at the start of the route, or reads\n" +
			"one from a file in the open point-forecast JSON format of national weather services. What you entered yourself\n" +
			"stays, and counts before the forecast; gritward ride change RIDE --weather none takes it out. An official weather\n" +
			"warning comes before any forecast.",
		Example: "  gritward ride forecast 2026-12-13-moors\n  gritward ride forecast 2026-12-13-moors --file sunday.json\n" +
			"  gritward ride forecast 2026-12-13-moors --drop",
		Args: cobra.ExactArgs(1),
	}
	file := cmd.Flags().String("file", "", "forecast file; - is standard input")
	drop := cmd.Flags().Bool("drop", false, "take the forecast out of the ride")
	return a.online(cmd, func(s *session, args []string) error {
		if *drop && *file != "" {
			return usagef("--drop goes without --file")
		}
		zone, err := s.zone()
		if err != nil {
			return err
		}
		name, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		ride, err := s.changeForecast(name, *file, *drop)
		if isReason(err, pb.Reason_FORECAST_STALE) { // what the ride has is not in question
			return hinted{"next: read a newer one, or enter the weather by hand: gritward ride change " + names.Last(name) + " --temperature C", err}
		}
		if err != nil {
			return s.withRides(err)
		}
		stale, err := s.stale(name)
		if err != nil {
			return err
		}
		return a.answer(ride, func(p *page) {
			layForecast(p, ride, zone)
			stale(p)
		})
	})
}

// changeForecast reads a forecast for a ride, or takes it out.
func (s *session) changeForecast(ride, file string, drop bool) (*pb.Ride, error) {
	if drop {
		return s.rides.DropForecast(s.ctx, &pb.DropForecastRequest{Name: ride})
	}
	request := &pb.ReadForecastRequest{Name: ride}
	waits := "asking the weather service"
	if file != "" {
		content, err := s.readFile(file, maxForecast)
		if err != nil {
			return nil, err
		}
		if len(content) == 0 {
			return nil, fmt.Errorf("%s: is empty\n  next: save the forecast again", file)
		}
		request.File, request.FileName, waits = content, cut(baseName(file), maxFileName), "sending "+file
	}
	done := s.progress(waits)
	defer done()
	return s.rides.ReadForecast(s.ctx, request)
}

// maxFileName is the longest name of a forecast's file, as the protocol has it.
const maxFileName = 90

func cut(text string, most int) string {
	if runes := []rune(text); len(runes) > most {
		return string(runes[:most])
	}
	return text
}

// layForecast tells the hours of a ride's forecast from its start on.
func layForecast(p *page, ride *pb.Ride, zone *time.Location) {
	id := names.Last(ride.GetName())
	forecast := ride.GetForecast()
	if forecast == nil {
		p.line("%s has no forecast any more.", id)
		p.line("Next: enter the weather with gritward ride change %s --temperature C, or read another forecast", id)
		return
	}
	p.line("%s", forecastWords(forecast, zone))
	p.line("")
	var rows [][]string
	for _, hour := range forecast.GetHours() {
		if hour.GetToAt().AsTime().After(ride.GetStartAt().AsTime()) && len(rows) < forecastRows {
			rain := "?"
			if hour.PrecipitationMm != nil {
				rain = number(hour.GetPrecipitationMm()) + " mm"
			}
			rows = append(rows, []string{when(hour.GetFromAt(), zone), rain, weatherWords(hour.GetWeather())})
		}
	}
	p.table([]string{"from", "falls", "weather"}, rows)
	for _, note := range forecast.GetNotes() {
		p.line("Note: %s", note)
	}
	if ride.GetConditions() != nil {
		p.line("What was entered for the ride by hand comes before it; gritward ride change %s --weather none takes that out.", id)
	}
	p.line("It does not tell the visibility: enter that with gritward ride change %s --visibility M.", id)
	p.line("An official weather warning comes before any forecast.")
	p.line("Next: gritward ride plan %s", id)
}

// forecastRows is how many hours from the start on are told: a winter's day.
const forecastRows = 12

// forecastWords tells where a forecast comes from, and how old it is.
func forecastWords(forecast *pb.Forecast, zone *time.Location) string {
	if forecast == nil {
		return ""
	}
	return fmt.Sprintf("made %s, read %s, from %s; good until %s", when(forecast.GetIssuedAt(), zone), when(forecast.GetReadAt(), zone),
		forecast.GetOrigin(), when(forecast.GetStaleAt(), zone))
}
