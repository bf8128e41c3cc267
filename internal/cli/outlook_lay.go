package cli

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"time"

	"gritward/internal/daylight"
)

func layOutlook(p *page, s *outlook) {
	p.para(0, "%s", outlookSubject(s))
	p.para(0, "%s", outlookRule(s))
	p.line("")
	var rows [][]string
	for _, group := range s.groups {
		rows = append(rows, []string{group.id, group.title, number(group.paceKmh) + " km/h", takesWords(group.takes)})
	}
	p.table([]string{"group", "title", "pace", "takes"}, rows)
	p.line("")
	p.table([]string{"date", "group", "home", "dark begins", "margin", "lights", "start by"}, outlookRows(s))
	p.line("")
	for _, day := range s.days {
		if day.problem != "" {
			p.para(0, "! %s is not reckoned: %s.", day.date.Format("Mon 2 Jan 2006"), day.problem)
		}
	}
	for _, note := range s.line.Notes {
		p.para(0, "Note: %s", note)
	}
	p.para(0, "%s %s", outlookAssumed, strings.ReplaceAll(outlookCaution, "\n", " "))
}

func outlookRows(s *outlook) [][]string {
	var rows [][]string
	for _, day := range s.days {
		date := day.date.Format("2006-01-02 Mon")
		if day.problem != "" {
			rows = append(rows, []string{date, "all", "not reckoned"})
			continue
		}
		for g, o := range day.outings {
			rows = append(rows, []string{date, s.groups[g].id, clockOn(o.Home, day.date), darkWords(o, day.date), marginWords(o),
				litWords(o), latestWords(o, day.date)})
		}
	}
	return rows
}

// outlookColumns are the columns of the CSV table. Instants are RFC 3339 with the zone's offset.
func outlookColumns() []string {
	return []string{"date", "weekday", "group", "title", "pace_kmh", "start_at", "home_at", "dark_begins_at", "sunset_at",
		"margin_to_dark_min", "lights_needed", "lit_min", "dark_min", "latest_start_at", "problem"}
}

// outlookCSV writes a row for each date and group (RFC 4180). What there is not is empty.
func outlookCSV(w io.Writer, s *outlook) error {
	table := csv.NewWriter(w)
	rows := [][]string{outlookColumns()}
	for _, day := range s.days {
		for g, group := range s.groups {
			row := []string{day.date.Format(time.DateOnly), strings.ToLower(day.date.Weekday().String()), clean(group.id), clean(group.title),
				number(group.paceKmh)}
			if day.problem != "" {
				row = append(row, "", "", "", "", "", "", "", "", "", day.problem)
			} else {
				row = append(row, outingCells(day.outings[g])...)
			}
			rows = append(rows, row)
		}
	}
	return table.WriteAll(rows)
}

func outingCells(o daylight.Outing) []string {
	facts := outingFactsOf(o)
	margin := ""
	if facts.MarginToDarkMin != nil {
		margin = number(*facts.MarginToDarkMin)
	}
	return []string{facts.StartAt, facts.HomeAt, orEmpty(facts.DarkBeginsAt), orEmpty(facts.SunsetAt), margin,
		strconv.FormatBool(facts.LightsNeeded), number(facts.LitMin), number(facts.DarkMin), orEmpty(facts.LatestStartAt), ""}
}

func orEmpty(text *string) string {
	if text == nil {
		return ""
	}
	return *text
}
