package server_test

import (
	"crypto/x509"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/forecast/endpoint"
	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

// forecastFile is the invented forecast of testdata/forecast, made on 11 December at 18:02.
func forecastFile(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("../../testdata/forecast/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func (w *world) readForecast(id, ride string, file []byte) (*pb.Ride, error) {
	return w.rides.ReadForecast(w.as(id), &pb.ReadForecastRequest{Name: ride, File: file, FileName: "sunday.json"})
}

func (w *world) plan(ride string) *pb.RidePlan {
	w.t.Helper()
	plan, err := w.rides.PlanRide(w.as("lea"), &pb.PlanRideRequest{Name: ride})
	if err != nil {
		w.t.Fatal(told(err))
	}
	return plan
}

func (w *world) change(id string, ride *pb.Ride, paths ...string) (*pb.Ride, error) {
	return w.rides.UpdateRide(w.as(id), &pb.UpdateRideRequest{Ride: ride, UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}})
}

// forecastRide is a ride led by "lea" without weather, with enough people to publish.
func forecastRide(t *testing.T, w *world) *pb.Ride {
	t.Helper()
	people(w)
	asked := sunday()
	asked.Conditions = nil
	ride := w.ride("lea", asked)
	for _, id := range []string{"lea", "ben"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	return ride
}

// TestForecast reads a forecast from a file; what the leader enters comes before it until it is taken out, and plan and
// brief say which is which.
func TestForecast(t *testing.T) {
	w := newWorld(t)
	ride := forecastRide(t, w)
	ride, err := w.readForecast("lea", ride.Name, forecastFile(t, "marrowdale.json"))
	if err != nil {
		t.Fatal(told(err))
	}
	if n := len(ride.Forecast.Hours); n != 33 || ride.Forecast.Origin != "file sunday.json" {
		t.Errorf("%d hours from %q", n, ride.Forecast.Origin)
	}
	plan := w.plan(ride.Name)
	if want := "Weather from the forecast of Friday 11 December 18:02 (file sunday.json), read 19:00"; plan.WeatherBasis != want {
		t.Errorf("basis %q, want %q", plan.WeatherBasis, want)
	}
	if age := plan.GetForecastAgeMin(); age < 57 || age >= 58 {
		t.Errorf("it is %v min old", age)
	}
	if want := []string{"Visibility: nothing says how far one will see"}; !slices.Equal(plan.NotJudged, want) {
		t.Errorf("not judged: %q", plan.NotJudged)
	}
	if !plan.Weather[0].FromAt.AsTime().Equal(ride.StartAt.AsTime()) || !plan.Weather[2].Weather.GetWet() || len(plan.Weather[0].Entered) != 0 {
		t.Errorf("the weather is %v", plan.Weather)
	}
	if notes := strings.Join(plan.Notes, "\n"); !strings.Contains(notes, "Fog is forecast over up to 35 % of the area, most from 10:30, but not how far one will see") {
		t.Errorf("notes: %s", notes)
	}

	// The leader sees fog come: that counts, and the rest stays the forecast's.
	own := &pb.Conditions{Start: &pb.Weather{VisibilityM: proto.Float64(8000)},
		Later: []*pb.HourWeather{{FromLocal: "2026-12-13T12:20", Weather: &pb.Weather{VisibilityM: proto.Float64(80), TemperatureC: proto.Float64(-1)}}}}
	if _, err := w.change("lea", &pb.Ride{Name: ride.Name, Conditions: own}, "conditions"); err != nil {
		t.Fatal(told(err))
	}
	plan = w.plan(ride.Name)
	if !strings.HasSuffix(plan.WeatherBasis, "; the ride leader's own figures before it: temperature from 12:20, visibility") {
		t.Errorf("basis %q", plan.WeatherBasis)
	}
	if len(plan.NotJudged) != 0 || !slices.ContainsFunc(plan.CallOff, func(s string) bool { return strings.Contains(s, "80 m") }) {
		t.Errorf("not judged %q, call-off %q", plan.NotJudged, plan.CallOff)
	}
	at := slices.IndexFunc(plan.Weather, func(p *pb.PlanWeather) bool { return p.Weather.GetVisibilityM() == 80 })
	mixed := plan.Weather[at]
	if got := mixed.FromAt.AsTime().Format("15:04"); got != "12:20" || mixed.Weather.GetTemperatureC() != -1 || !mixed.Weather.GetWet() ||
		mixed.Weather.HumidityPct != nil || mixed.Weather.GetDewPointC() > -1 || !slices.Equal(mixed.Entered, []string{"temperature_c", "visibility_m"}) {
		t.Errorf("from %s: %v", got, mixed)
	}

	// Without the forecast what was entered does not do: no temperature at the start.
	_, err = w.rides.DropForecast(w.as("lea"), &pb.DropForecastRequest{Name: ride.Name})
	if got := told(err); !strings.Contains(got, "FIELD_INVALID | ride.conditions.start.temperature_c: must be given where the ride has no forecast") {
		t.Errorf("dropped: %s", got)
	}
	if _, err := w.change("lea", &pb.Ride{Name: ride.Name}, "conditions"); err != nil {
		t.Fatal(told(err))
	}
	issue := w.publish("lea", ride.Name)
	brief := ""
	for _, section := range issue.Brief.Sections {
		brief += strings.Join(section.Lines, "\n") + "\n"
	}
	for _, want := range []string{
		"At the start: ", "From 12:00: ", "a wet road", "gusts ",
		"Not judged against the club's limits for calling off. Visibility: nothing says how far one will see.",
		"Weather from the forecast of Friday 11 December 18:02 (file sunday.json), read 19:00.",
		"The forecast was 57 min old when this was published.", "An official weather warning comes before any forecast",
	} {
		if !strings.Contains(brief, want) {
			t.Errorf("the brief does not say %q:\n%s", want, brief)
		}
	}
	dropped, err := w.rides.DropForecast(w.as("lea"), &pb.DropForecastRequest{Name: ride.Name})
	if err != nil || dropped.Forecast != nil {
		t.Errorf("%v, %s", dropped.GetForecast(), told(err))
	}
	newest, err := w.rides.GetRoster(w.as("lea"), &pb.GetRosterRequest{Name: ride.Name + "/rosters/-"})
	if err != nil || !slices.Contains(newest.Since, "The weather expected has changed.") {
		t.Errorf("since: %q %s", newest.GetSince(), told(err))
	}
	if _, err := w.rides.DropForecast(w.as("lea"), &pb.DropForecastRequest{Name: ride.Name}); !strings.Contains(told(err), "WRONG_STATE") {
		t.Errorf("dropped twice: %s", told(err))
	}
}

// TestShortForecast has no gusts and no dew point: the first is said; the humidity does for ice.
func TestShortForecast(t *testing.T) {
	w := newWorld(t)
	ride := forecastRide(t, w)
	if _, err := w.readForecast("lea", ride.Name, forecastFile(t, "compact.json")); err != nil {
		t.Fatal(told(err))
	}
	want := []string{"Gusts: none are told; the limit is held against the mean wind alone", "Visibility: nothing says how far one will see"}
	if got := w.plan(ride.Name).NotJudged; !slices.Equal(got, want) {
		t.Errorf("not judged: %q", got)
	}
}

// TestForecastGrowsOld refuses a stale forecast when it is read, and when the roster is published.
func TestForecastGrowsOld(t *testing.T) {
	w := newWorld(t)
	ride := forecastRide(t, w)
	file := forecastFile(t, "marrowdale.json")
	made := time.Date(2026, 12, 11, 18, 2, 11, 0, time.UTC)
	w.setClock(made.Add(12 * time.Hour))
	if _, err := w.readForecast("lea", ride.Name, file); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(made.Add(12*time.Hour + 6*time.Minute))
	notes := strings.Join(w.plan(ride.Name).Notes, "\n")
	if !strings.Contains(notes, "Too old to publish on: the ride's forecast was made 12.1 hours ago; one older than 12 hours is not relied on") {
		t.Errorf("the plan's notes: %s", notes)
	}
	_, err := w.rides.PublishRoster(w.as("lea"), &pb.PublishRosterRequest{Parent: ride.Name})
	if got := told(err); !strings.HasPrefix(got, "FailedPrecondition | FORECAST_STALE | the ride's forecast was made 12.1 hours ago") {
		t.Errorf("published on it: %s", got)
	}
	_, err = w.readForecast("lea", ride.Name, file)
	if got := told(err); !strings.HasPrefix(got, "FailedPrecondition | FORECAST_STALE | the forecast was made on Fri 11 Dec 18:02, 12.1 hours ago") {
		t.Errorf("read again: %s", got)
	}
	if _, err := w.rides.DropForecast(w.as("lea"), &pb.DropForecastRequest{Name: ride.Name}); err != nil {
		t.Fatal(told(err))
	}
	w.publish("lea", ride.Name)
}

func TestForecastRefused(t *testing.T) {
	w := newWorld(t)
	ride := forecastRide(t, w)
	file := string(forecastFile(t, "marrowdale.json"))
	for name, c := range map[string]struct{ file, want string }{
		"a page":   {"<html>", "InvalidArgument | FORECAST_INVALID | file: 1:1: is not JSON"},
		"cut":      {file[:5000], "FORECAST_INVALID | file: "},
		"far away": {strings.Replace(file, "[-2.285, 54.085", "[10.75, 59.91", 1), "FORECAST_INVALID | the forecast is for 59.9100, 10.7500, which is "},
		"to come":  {strings.Replace(file, "11T18:02:11Z", "11T19:11:00Z", 1), "FORECAST_INVALID | the forecast says that it was made on Fri 11 Dec 19:11, which is still to come"},
		"too late": {strings.ReplaceAll(file, "2026-12-1", "2027-01-1"), "FORECAST_INVALID | the forecast says that it was made"},
		"other days": {strings.NewReplacer(`"time": "2026-12-11`, `"time": "2026-11-11`, `"time": "2026-12-12`, `"time": "2026-11-12`,
			`"time": "2026-12-13`, `"time": "2026-11-13`, `"time": "2026-12-14`, `"time": "2026-11-14`, `"time": "2026-12-15`, `"time": "2026-11-15`).Replace(file),
			"FailedPrecondition | FORECAST_SHORT | the forecast reaches from Wed 11 Nov 18:00 to "},
		"huge":       {strings.Repeat(" ", 1<<20+1), "FIELD_INVALID | file: "},
		"no service": {"", "FailedPrecondition | NO_WEATHER_SERVICE | this server is not set up to ask a weather service"},
	} {
		if _, err := w.readForecast("lea", ride.Name, []byte(c.file)); !strings.Contains(told(err), c.want) {
			t.Errorf("%s: %s, want %q", name, told(err), c.want)
		}
	}
	if got, err := w.rides.GetRide(w.as("lea"), &pb.GetRideRequest{Name: ride.Name}); err != nil || got.Forecast != nil || got.Etag != ride.Etag {
		t.Errorf("something was kept of a forecast that was refused: %v %v", got, err)
	}
	_, err := w.rides.ReadForecast(w.as("lea"), &pb.ReadForecastRequest{Name: ride.Name, Etag: "old", File: []byte(file)})
	if !strings.Contains(told(err), "CHANGED_MEANWHILE") {
		t.Errorf("with an old etag: %s", told(err))
	}
	w.setClock(ride.StartAt.AsTime().Add(3 * time.Hour))
	if _, err := w.readForecast("lea", ride.Name, []byte(file)); !strings.Contains(told(err), "RIDE_OVER") {
		t.Errorf("under way: %s", told(err))
	}
}

// TestForecastFallsAway goes with another route and with a start that it does not reach; a reason goes with other hours.
func TestForecastFallsAway(t *testing.T) {
	w := newWorld(t)
	ride := forecastRide(t, w)
	file := forecastFile(t, "marrowdale.json")
	read := func() *pb.Ride {
		t.Helper()
		got, err := w.readForecast("lea", ride.Name, file)
		if err != nil {
			t.Fatal(told(err))
		}
		return got
	}
	must := func(got *pb.Ride, err error) *pb.Ride {
		t.Helper()
		if err != nil {
			t.Fatal(told(err))
		}
		return got
	}
	read()
	if got := must(w.change("lea", &pb.Ride{Name: ride.Name, StartLocal: "2026-12-13T11:00"}, "start_local")); got.Forecast == nil {
		t.Error("half an hour later it is gone")
	}
	read()
	must(w.change("lea", &pb.Ride{Name: ride.Name, Reason: "Sheltered."}, "reason"))
	w.setClock(friday.Add(time.Hour))
	if got := read(); got.Reason != "Sheltered." {
		t.Errorf("the same hours read again: reason %q", got.Reason)
	}
	if got := must(w.readForecast("lea", ride.Name, forecastFile(t, "compact.json"))); got.Reason != "" {
		t.Errorf("other weather: reason %q", got.Reason)
	}
	if got := must(w.change("lea", &pb.Ride{Name: ride.Name, StartLocal: "2026-12-19T11:00"}, "start_local")); got.Forecast != nil {
		t.Error("it stays for another day")
	}
	must(w.change("lea", &pb.Ride{Name: ride.Name, StartLocal: "2026-12-13T10:30"}, "start_local"))
	read()
	got := must(w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{Ride: &pb.Ride{Name: ride.Name}, RouteGpx: gpx(t)}))
	if got.Forecast != nil {
		t.Error("it stays for another route")
	}
}

// TestForecastOverHTTPS fetches it from a real HTTPS server on loopback.
func TestForecastOverHTTPS(t *testing.T) {
	var down atomic.Bool
	file := forecastFile(t, "marrowdale.json")
	service := httptest.NewTLSServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		if down.Load() {
			http.Error(rw, "busy", http.StatusServiceUnavailable)
			return
		}
		rw.Header().Set("Content-Type", "application/json")
		_, _ = rw.Write(file)
	}))
	t.Cleanup(service.Close)
	roots := x509.NewCertPool()
	roots.AddCert(service.Certificate())
	var w *world
	asks, err := endpoint.New(endpoint.Config{URL: service.URL, UserAgent: "club.example", Timeout: 10 * time.Second, Roots: roots,
		Now: func() time.Time { return w.clock() }})
	if err != nil {
		t.Fatal(err)
	}
	w = newWorldWith(t, server.Forecasts{Endpoint: asks, Name: "Fells Weather Office", MaxAge: 6 * time.Hour})
	ride := forecastRide(t, w)
	got, err := w.readForecast("lea", ride.Name, nil)
	if err != nil {
		t.Fatal(told(err))
	}
	if got.Forecast.Origin != "Fells Weather Office" || !got.Forecast.ReadAt.AsTime().Equal(friday) {
		t.Errorf("from %s, read %s", got.Forecast.Origin, got.Forecast.ReadAt.AsTime())
	}
	// The service is down: the copy does while it is fresh, with a word, and then no more.
	down.Store(true)
	w.setClock(friday.Add(time.Hour))
	if got, err = w.readForecast("lea", ride.Name, nil); err != nil {
		t.Fatal(told(err))
	}
	if notes := strings.Join(got.Forecast.Notes, "\n"); !strings.Contains(notes, "could not be asked for a newer one") || !got.Forecast.ReadAt.AsTime().Equal(friday) {
		t.Errorf("read %s, notes %q", got.Forecast.ReadAt.AsTime(), notes)
	}
	w.setClock(friday.Add(6 * time.Hour))
	if _, err = w.readForecast("lea", ride.Name, nil); !strings.Contains(told(err), "FORECAST_STALE") {
		t.Errorf("a stale copy: %s", told(err))
	}
	if !strings.Contains(told(err), "older than 6 hours is not relied on") {
		t.Errorf("%s", told(err))
	}
}
