package policy

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	pb "gritward/proto/gritward/v1"
)

// Tell says in words what the file says, from its first line to its last, each line in one passage. What is asked of a bike
// is told in the words of the findings.
func (p *Policy) Tell() []*pb.PolicyPassage {
	lines, parts := p.positions.Lines(), p.parts()
	var told []*pb.PolicyPassage
	from := 1
	if len(parts) > 0 {
		if n := preamble(lines[:parts[0].line-1]); n > 0 {
			passage := &pb.PolicyPassage{FirstLine: 1, LastLine: int32(n), Told: []string{"About the file itself, for those who edit it."}}
			passage.Heading, passage.Notes = comments(lines[:n])
			told, from = append(told, passage), n+1
		}
	}
	for i, one := range parts {
		before := len(lines) + 1
		if i+1 < len(parts) {
			before = parts[i+1].line
		}
		last := max(endBefore(lines, before), one.line, from)
		passage := &pb.PolicyPassage{FirstLine: int32(from), LastLine: int32(last)}
		passage.Heading, passage.Notes = comments(lines[from-1 : max(one.line-1, from-1)])
		one.tell(passage)
		told, from = append(told, passage), last+1
	}
	if rest := lines[min(from-1, len(lines)):]; strings.TrimSpace(strings.Join(rest, "")) != "" {
		passage := &pb.PolicyPassage{FirstLine: int32(from), LastLine: int32(len(lines)), Told: []string{"The program passes over what stands here."}}
		passage.Heading, _ = comments(rest)
		told = append(told, passage)
	}
	return told
}

// part is a setting or a rule of the file, with the line on which it begins.
type part struct {
	line int
	tell func(*pb.PolicyPassage)
}

// parts are the settings and rules that the file has, in its order.
func (p *Policy) parts() []part {
	var all []part
	for key, tell := range settings {
		if p.positions.Has(key) {
			all = append(all, part{p.positions.Line(key), func(passage *pb.PolicyPassage) {
				passage.Key, passage.Told = key, tell(p.message)
			}})
		}
	}
	for i, rule := range p.book.Rules {
		all = append(all, part{p.positions.Line(rulePath(i)), func(passage *pb.PolicyPassage) {
			passage.Rule, passage.Told, passage.Because = rule.GetId(), p.tellRule(rule), rule.GetBecause()
		}})
	}
	slices.SortStableFunc(all, func(a, b part) int { return cmp.Compare(a.line, b.line) })
	return all
}

// endBefore is the last line before a line that is neither blank nor a comment: what is between them belongs to the latter.
// So does the lone dash of an entry of a list.
func endBefore(lines []string, line int) int {
	for n := min(line-1, len(lines)); n > 0; n-- {
		switch text := strings.TrimSpace(lines[n-1]); {
		case text == "" || text == "-" || strings.HasPrefix(text, "#"):
		default:
			return n
		}
	}
	return 0
}

// preamble is how many lines before the first part are about the whole file: those before the last blank line, where there
// are comments among them.
func preamble(lines []string) int {
	for n := len(lines); n > 0; n-- {
		if strings.TrimSpace(lines[n-1]) == "" {
			if _, notes := comments(lines[:n]); len(notes) > 0 {
				return n
			}
			return 0
		}
	}
	return 0
}

// ruled is a comment that is a heading between dashes.
var ruled = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^-{3,} *([^-].*?) *-{3,}$`) })

// entry is a line of a list, or of a table of words, in a comment.
var entry = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^\s*(- |\S+ {2,}\S)`) })

// comments are what stands in comments: the last heading, and the paragraphs. An entry of a list begins a paragraph of its
// own, and so does a line that is indented otherwise than the paragraph, but for one that goes on with an entry. What is meant
// for editors of files is left out.
func comments(lines []string) (heading string, notes []string) {
	const closed, plain = -1, 0
	at := closed // how far the open paragraph is indented
	for _, line := range lines {
		text := strings.TrimSpace(line)
		if !strings.HasPrefix(text, "#") {
			at = closed
			continue
		}
		text = strings.TrimPrefix(text[1:], " ")
		bare := strings.Join(strings.Fields(text), " ")
		indent := len(text) - len(strings.TrimLeft(text, " \t"))
		switch found := ruled().FindStringSubmatch(bare); {
		case found != nil:
			heading, at = found[1], closed
		case bare == "" || strings.HasPrefix(bare, "yaml-language-server:"):
			at = closed
		case at >= plain && !entry().MatchString(text) && (indent == at || at > plain && indent > at):
			notes[len(notes)-1] += " " + bare
		default:
			notes, at = append(notes, bare), indent
		}
	}
	return heading, notes
}

// rulesFollow tells how many rules there are.
func rulesFollow(p *pb.Policy) []string {
	n := len(p.GetRules())
	if n == 1 {
		return []string{"One rule follows. What a member has not declared counts as not there."}
	}
	return []string{fmt.Sprintf("%d rules follow, in the order in which a member is told of them. What a member has not declared counts as not there.", n)}
}
