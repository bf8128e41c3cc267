package web

import (
	"html/template"

	"gritward/internal/names"
	"gritward/internal/phrase"
)

// wording has the words that templates share with briefs and commands.
var wording = template.FuncMap{
	"last":     names.Last,
	"number":   phrase.Number,
	"km":       phrase.Km,
	"span":     phrase.Span,
	"sentence": phrase.Sentence,
	"stopped":  phrase.Stopped,
	"counted":  phrase.Counted,
	"list":     phrase.List,
	"standing": phrase.Standing,
	"shape":    phrase.StandingShape,
	"day":      phrase.Day,
}
