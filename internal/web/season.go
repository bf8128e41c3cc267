package web

import (
	"bytes"
	"html/template"
	"time"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (s *site) seasonRoutes() {
	s.show("GET /clubs/{club}/season", (*visit).season)
	s.show("GET /clubs/{club}/season/page", (*visit).seasonPage)
	s.show("GET /clubs/{club}/season/data", (*visit).seasonData)
}

// seasonView is the report of a season's rides.
type seasonView struct {
	From, To string
	Report   *pb.SeasonReport
	// Body is the report as drawn.
	Body template.HTML
}

func (s seasonView) filled(form *Form) {
	form.with(map[string][]string{"from": {s.From}, "to": {s.To}})
}

// Span are the days as the end of an address.
func (s seasonView) Span() string { return "?" + query("from", s.From, "to", s.To) }

// seasonAsked are the days that the address names: without any, from the last 1 October to the 31 March after it.
func (v *visit) seasonAsked() seasonView {
	asked := v.r.URL.Query()
	shown := seasonView{From: asked.Get("from"), To: asked.Get("to")}
	if shown.From == "" && shown.To == "" {
		year := v.watch().Local(v.Now()).AddDate(0, -9, 0).Year() // the year in which it began
		shown.From = time.Date(year, time.October, 1, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
		shown.To = time.Date(year+1, time.March, 31, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
	}
	return shown
}

func (v *visit) seasonReport(shown seasonView) (*pb.SeasonReport, error) {
	return v.seasons.GetSeasonReport(v.ctx, &pb.GetSeasonReportRequest{Parent: v.club(), From: shown.From, To: shown.To})
}

// season shows the report of a season.
func (v *visit) season() error {
	shown := v.seasonAsked()
	var err error
	if shown.Report, err = v.seasonReport(shown); err != nil {
		v.refuse(err, "season", "The season’s rides", shown)
		return nil
	}
	if shown.Body, err = v.seasonBody(shown.Report); err != nil {
		return err
	}
	return v.view("season", "The season’s rides", shown)
}

// seasonBody is the report as a part of a page, which does not say when it was made.
func (v *visit) seasonBody(report *pb.SeasonReport) (template.HTML, error) {
	made := report.MadeAt
	report.MadeAt = nil // the outermost message of an answer is one's own
	body, err := drawn(&v.drawings, func() (template.HTML, error) {
		var body bytes.Buffer
		err := render.SeasonBody(&body, report)
		return template.HTML(body.String()), err // made of templates that escape what they are given
	}, func(body template.HTML) int { return len(body) }, "season", report)
	report.MadeAt = made
	return body, err
}

// seasonPage gives the report as a page complete in itself.
func (v *visit) seasonPage() error {
	report, err := v.seasonReport(v.seasonAsked())
	if err != nil {
		return err
	}
	var page bytes.Buffer
	if err := render.SeasonHTML(&page, report); err != nil {
		return err
	}
	v.download("season.html", "text/html; charset=utf-8", page.Bytes())
	return nil
}

// seasonData gives the report for other programs.
func (v *visit) seasonData() error {
	report, err := v.seasonReport(v.seasonAsked())
	if err != nil {
		return err
	}
	var data bytes.Buffer
	if err := render.JSON(&data, report); err != nil {
		return err
	}
	v.download("season.json", "application/json", data.Bytes())
	return nil
}
