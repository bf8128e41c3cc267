package web_test

import (
	"bytes"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"gritward/internal/demo"
)

// filledForm is what a browser would send for the form of a page that is sent to a path: all its fields as they stand.
func (b *browser) filledForm(action string) url.Values {
	b.w.t.Helper()
	for _, form := range postedForms.FindAllStringSubmatch(b.page, -1) {
		to := b.at
		if found := attributeOf(form[1], "action"); found != "" {
			to = found
		}
		if to != action || attributeOf(form[1], "method") != "post" {
			continue
		}
		values := url.Values{}
		for _, input := range formInputs.FindAllString(form[2], -1) {
			name, kind := attributeOf(input, "name"), attributeOf(input, "type")
			checked := strings.Contains(input, " checked")
			if name == "" || kind == "file" || (kind == "checkbox" || kind == "radio") && !checked {
				continue
			}
			values.Set(name, attributeOf(input, "value"))
		}
		for _, area := range formAreas.FindAllStringSubmatch(form[2], -1) {
			values.Set(attributeOf(area[1], "name"), html.UnescapeString(strings.TrimPrefix(area[2], "\n")))
		}
		for _, pulled := range formSelects.FindAllStringSubmatch(form[2], -1) {
			for i, option := range formOptions.FindAllString(pulled[2], -1) {
				if i == 0 || strings.Contains(option, " selected") {
					values.Set(attributeOf(pulled[1], "name"), attributeOf(option, "value"))
				}
			}
		}
		return values
	}
	b.w.t.Fatalf("%s has no form that is sent to %s:\n%s", b.at, action, b.page)
	return nil
}

var (
	postedForms = regexp.MustCompile(`(?s)<form([^>]*)>(.*?)</form>`)
	formInputs  = regexp.MustCompile(`<input[^>]*>`)
	formAreas   = regexp.MustCompile(`(?s)<textarea([^>]*)>(.*?)</textarea>`)
	formSelects = regexp.MustCompile(`(?s)<select([^>]*)>(.*?)</select>`)
	formOptions = regexp.MustCompile(`<option[^>]*>`)
)

func attributeOf(element, name string) string {
	found := regexp.MustCompile(` ` + name + `="([^"]*)"`).FindStringSubmatch(element)
	if found == nil {
		return ""
	}
	return html.UnescapeString(found[1])
}

// sendRoute sends a form with a file, as browsers do.
func (b *browser) sendRoute(path string, form url.Values, field, name string, content io.Reader) *browser {
	b.w.t.Helper()
	read, write := io.Pipe()
	parts := multipart.NewWriter(write)
	go func() {
		err := func() error {
			file, err := parts.CreateFormFile(field, name)
			if err == nil {
				_, err = io.Copy(file, content)
			}
			for key, values := range form {
				for _, value := range values {
					if err == nil {
						err = parts.WriteField(key, value)
					}
				}
			}
			if err == nil {
				err = parts.Close()
			}
			return err
		}()
		write.CloseWithError(err)
	}()
	return b.post(path, parts.FormDataContentType(), read)
}

// zeros is a file of so many bytes.
func zeros(n int64) io.Reader { return io.LimitReader(endless{}, n) }

type endless struct{}

func (endless) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}

// hostile is a name that is no element, though it looks like one, with letters from right to left and a picture of three
// characters.
const hostile = `"><script>alert(1)</script> ' & שלום ` + "\U0001F469\u200D\U0001F680"

// TestNewRide makes rides of a GPX file, with all that can go wrong on the way.
func TestNewRide(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	at := "/" + w.club() + "/rides/new"
	w.signIn(demo.Member).open(at).is(http.StatusForbidden).says("Rides are made by leaders")
	b := w.signIn(demo.Leader).open(at).is(http.StatusOK).says("New ride", "As an earlier ride")
	form := b.filledForm(at)
	if form.Get("ride.groups[1].pace_kmh") != "23.5" || form.Get("waypoints") != "true" {
		t.Fatalf("begins with %v", form)
	}
	form.Set("ride.title", hostile)
	form.Set("ride.start_local", "2026-12-20T09:00")
	form.Set("ride.meeting_point", "By the <old> weighbridge")
	form.Set("ride.groups[0].title", "")
	form.Set("ride.groups[0].pace_kmh", "")
	form.Set("ride.groups[3].title", "Very easy")
	form.Set("ride.groups[3].pace_kmh", "15,5")
	form.Set("ride.hazards[1].what", "Ford")
	form.Set("ride.hazards[1].at_distance_m", "46.7")

	turned := b.filledForm(at)
	turned.Set("ride.title", "Four \u202Eskceb")
	b.sendRoute(at, turned, "route_gpx", "four.gpx", bytes.NewReader(demo.Route)).is(http.StatusUnprocessableEntity).says("U+202E, which does not belong in text")
	b.send(at, form).is(http.StatusUnprocessableEntity).says("choose the route: a GPX file")
	b.sendRoute(at, form, "route_gpx", "page.gpx", strings.NewReader("<html></html>")).is(http.StatusUnprocessableEntity)
	if b.filledForm(at).Get("ride.title") != hostile || b.filledForm(at).Get("ride.groups[2].pace_kmh") != "15,5" {
		t.Errorf("what was typed is lost: %v", b.filledForm(at))
	}
	wrong := b.filledForm(at)
	wrong.Set("ride.start_local", "2027-03-28T01:30")
	wrong.Set("ride.hazards[0].at_distance_m", "far")
	b.sendRoute(at, wrong, "route_gpx", "four.gpx", bytes.NewReader(demo.Route)).is(http.StatusUnprocessableEntity)
	b.says("01:30 does not exist in Europe/London", `"far" is not a distance from the start`)

	once := form.Get("once")
	b.sendRoute(at, form, "route_gpx", "four.gpx", bytes.NewReader(demo.Route)).is(http.StatusOK).says("The ride is made", "Very easy", hostile)
	made := b.at
	form.Set("once", once)
	if b.sendRoute(at, form, "route_gpx", "four.gpx", bytes.NewReader(demo.Route)); b.at != made {
		t.Errorf("sent twice, it made %s and %s", made, b.at)
	}
	if strings.Contains(b.page, "<script>alert") {
		t.Error("a name became an element")
	}
}
