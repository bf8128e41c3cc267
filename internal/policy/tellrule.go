package policy

import (
	"strings"

	"gritward/internal/phrase"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// tellRule says when a rule applies, what it asks, and what breaking it costs.
func (p *Policy) tellRule(rule readiness.Rule) []string {
	when := phrase.Either(circumstances(rule.GetWhen()))
	if unless := circumstances(rule.GetUnless()); len(unless) > 0 {
		when += ", but not " + phrase.Either(unless) + ","
	}
	when = phrase.Bare(phrase.Sentence(when))
	if rule.GetCheck() == pb.Check_EXPRESSION {
		return []string{when + " this must be true: " + strings.Join(strings.Fields(rule.GetExpression()), " "), costs[rule.GetOtherwise()]}
	}
	asks, before := rule.Asks(p.book), ": "
	if strings.Contains(asks, ": ") {
		before = " – "
	}
	return []string{when + " the club asks of " + subjects[rule.GetCheck()] + before + asks + ".", costs[rule.GetOtherwise()]}
}

// costs say what breaking a rule costs.
var costs = map[pb.Rule_Consequence]string{
	pb.Rule_ADVISE: "A bike that does not meet it rides anywhere, with advice.",
	pb.Rule_BACK:   "A bike that does not meet it rides at the back.",
	pb.Rule_HOLD:   "A bike that does not meet it is held: it does not start until that is put right.",
}

// subjects are what each check looks at, in words.
var subjects = map[pb.Check]string{
	pb.Check_GUARDS:      "the mudguards",
	pb.Check_LIGHTS:      "the lights",
	pb.Check_REFLECTORS:  "the reflectors",
	pb.Check_BRAKES:      "the brakes",
	pb.Check_TYRES:       "the tyres",
	pb.Check_CHAIN:       "the chain",
	pb.Check_BEARINGS:    "the bearings",
	pb.Check_CONTACT:     "bars, saddle and pedals",
	pb.Check_FRAME:       "the frame",
	pb.Check_CLEAN:       "cleaning and looking over",
	pb.Check_CARRY:       "what is carried",
	pb.Check_DECLARATION: "the declaration",
	pb.Check_EXPRESSION:  "the bike",
}

// circumstances are those of a rule in words.
func circumstances(all []pb.Circumstance) []string {
	words := map[pb.Circumstance]string{
		pb.Circumstance_ALWAYS:          "on every ride",
		pb.Circumstance_SEASON:          "in the season",
		pb.Circumstance_DARK:            "in the dark",
		pb.Circumstance_POOR_VISIBILITY: "in poor visibility",
		pb.Circumstance_WET:             "on a wet road",
		pb.Circumstance_DRY:             "on a dry road",
		pb.Circumstance_ICE:             "when ice is possible",
	}
	var told []string
	for _, one := range all {
		told = append(told, words[one])
	}
	return told
}
