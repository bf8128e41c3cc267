package web

import (
	"html/template"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/render"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
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
	"means":    meansOf,
	"heldIn":   heldIn,
	"amiss":    amiss,
	"int":      func(n int32) int { return int(n) },
	"standing": phrase.Standing,
	"shape":    phrase.StandingShape,
	"day":      phrase.Day,
	// Of the start line: where riders are, what is marked.
	"rolled":    rolled,
	"rollShape": func(state pb.RiderRoll_State) string { return rollShapes[state] },
	"named":     func(name string) bool { return name != unnamed },
	"marked":    func(what pb.Mark_What) string { return markWords[what] },
	"toMark":    buttonWord,
	"actionsOn": actionsOn,
	"lineWords": scriptWords,
	"inSheet":   inSheet,
	"atLeast":   phrase.AtLeast,
	"pair":      func(from, to string) [2]string { return [2]string{from, to} },
	"emergency": func() string { return rollcall.Emergency },
	// tidy keeps numbers with their units, outline is the shape of a mark on a route, ridestate how far a ride has come.
	"tidy":      render.Tidy,
	"outline":   render.MarkOutline,
	"ridestate": rideState,

	"letter": letterWords,
	"dial":   dialled,
	"proof":  phrase.Proof,
}
