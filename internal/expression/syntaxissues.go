package expression

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"sync"

	"cel.dev/cel-go/cel"
)

const syntaxHint = "check brackets, quotes, and the signs between the parts: && || ! == != < <= > >="

// quoted finds what a message of the parser says about a piece of the text.
var quoted = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?s)(?:input|at:|at) '(.*?)'(?: expecting.*)?$`) })

// syntaxIssues tells the first fault of syntax: those after it are mostly its consequences.
func syntaxIssues(text string, errors []*cel.Error) []Issue {
	first := errors[0]
	issue := Issue{max(first.Location.Line(), 1), max(first.Location.Column(), 0) + 1, "", syntaxHint}
	message := strings.TrimPrefix(first.Message, "Syntax error: ")
	piece := ""
	if found := quoted().FindStringSubmatch(message); found != nil {
		piece = strings.TrimSpace(found[1])
	}
	switch {
	case strings.TrimSpace(text) == "":
		issue.Message, issue.Hint = "the expression is empty", "write what must be true, for example bike.carry.pump"
	case strings.Contains(message, "recursion"):
		issue.Message, issue.Hint = "the expression is nested too deeply", "take out brackets, or split the rule"
	case message == "argument must be a simple name":
		issue.Message = "a loop begins with a name for the entries of its list"
		issue.Hint = "for example exists(l, l.end == REAR)"
	case message == "invalid argument to has() macro":
		issue.Message, issue.Hint = "has( ) asks for a field", "for example has(bike.chain.wear_pct)"
	case strings.HasPrefix(message, "invalid ") && strings.HasSuffix(message, " literal"):
		issue.Message, issue.Hint = "this number is too large, or not written as a number is", "write it as 28 or 0.75"
	case strings.HasPrefix(message, "unsupported syntax "):
		issue.Message = show(between(message, "'", "'")) + " does not belong here"
	case piece == "<EOF>":
		issue.Message = "the expression ends too early"
	case piece == "":
		issue.Message = message
	default:
		issue.Message = show(piece) + " does not belong here"
		issue.Hint = signHint(piece, text, issue.Column)
	}
	return []Issue{issue}
}

// signHint knows the signs that are often written for others.
func signHint(piece, text string, column int) string {
	before := strings.TrimRight(string([]rune(text)[:min(column-1, len([]rune(text)))]), " \n")
	for _, c := range []struct{ wrong, right string }{{"and", "&&"}, {"or", "||"}, {"=", "=="}, {"<>", "!="}, {"&", "&&"}, {"|", "||"}} {
		if piece == c.wrong {
			return "write " + c.right + " for " + c.wrong
		}
	}
	switch {
	case before == "not" || strings.HasSuffix(before, " not"):
		return "write ! for not"
	case strings.ContainsAny(piece[:1], "\"'"):
		return "a text that begins with a quote ends with the same quote, on the same line"
	case piece[0] == '`':
		return "write texts between ' and ', or between \" and \""
	}
	return syntaxHint
}

// show quotes a piece of the text so that it fits a message.
func show(piece string) string {
	runes := []rune(strings.ReplaceAll(piece, "\n", " "))
	if len(runes) > 40 {
		runes = append(slices.Clip(runes[:40]), '…')
	}
	return `"` + string(runes) + `"`
}

func sortIssues(issues []Issue) {
	slices.SortStableFunc(issues, func(a, b Issue) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
}
