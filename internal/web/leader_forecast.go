package web

import pb "gritward/proto/gritward/v1"

const (
	// maxForecast is the most that a file of a forecast may have, in bytes.
	maxForecast = 1 << 20
	// maxFileName is the longest name of a file that is handed on.
	maxFileName = 90
)

// forecastView is the page of a ride's forecast.
type forecastView struct {
	led
	// Asks: there is a weather service to ask.
	Asks bool
}

func (v *visit) forecast() error {
	head, err := v.ledRide()
	if err != nil {
		return err
	}
	return v.view("leader-forecast", "Forecast", forecastView{head, v.WeatherService})
}

// readForecast reads a forecast from the file that came, or has the server ask its weather service.
func (v *visit) readForecast() error {
	head, err := v.ledRide()
	if err != nil {
		return err
	}
	request := &pb.ReadForecastRequest{Name: head.Ride.Name, Etag: v.form().Get("etag")}
	file, err := v.file("file", maxForecast)
	if err == nil && file != nil {
		request.FileName = string([]rune(file.Name)[:min(len([]rune(file.Name)), maxFileName)])
		request.File, err = file.Bytes()
	}
	if err == nil {
		_, err = v.rides.ReadForecast(v.ctx, request)
	}
	if err != nil {
		v.refuse(err, "leader-forecast", "Forecast", forecastView{head, v.WeatherService})
		return nil
	}
	return v.to(v.below("plan"), "forecast-read")
}

// dropForecast takes the forecast out of the ride.
func (v *visit) dropForecast() error {
	head, err := v.ledRide()
	if err != nil {
		return err
	}
	if _, err := v.rides.DropForecast(v.ctx, &pb.DropForecastRequest{Name: head.Ride.Name, Etag: v.form().Get("etag")}); err != nil {
		v.refuse(err, "leader-forecast", "Forecast", forecastView{head, v.WeatherService})
		return nil
	}
	return v.to(v.below("plan"), "forecast-dropped")
}
