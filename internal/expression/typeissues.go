package expression

import (
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/types"
)

// teller words the errors of the type checker.
type teller struct {
	*environment
	text   string
	nodes  map[int64]ast.Expr
	owners map[string]string // by a field's name that was looked up in vain, the message that lacks it
}

// typeIssues tells what the type checker found, in order of place. A name that is only unknown because the macro around
// it is misspelt is left out.
func (e *environment) typeIssues(text string, parsed *cel.Ast, errors []*cel.Error) []Issue {
	t := &teller{environment: e, text: text, nodes: map[int64]ast.Expr{}, owners: e.lacking(parsed)}
	ast.PostOrderVisit(parsed.NativeRep().Expr(), ast.NewExprVisitor(func(n ast.Expr) { t.nodes[n.ID()] = n }))
	excused := map[string]bool{}
	var issues []Issue
	for _, err := range errors {
		name := between(err.Message, "undeclared reference to '", "'")
		if excused[name] && name != "" {
			continue
		}
		if node := t.nodes[err.ExprID]; name != "" && node != nil && node.Kind() == ast.CallKind {
			for _, arg := range node.AsCall().Args() {
				if arg.Kind() == ast.IdentKind && !isVariable(arg.AsIdent()) {
					excused[arg.AsIdent()] = true
				}
			}
		}
		issues = append(issues, t.issue(err))
	}
	sortIssues(issues)
	return issues[:min(len(issues), maxIssues)]
}

// recorder notes the fields that are looked up in vain.
type recorder struct {
	provider
	lacking map[string]string
}

func (r recorder) FindStructFieldType(name, field string) (found *types.FieldType, ok bool) {
	if found, ok = r.provider.FindStructFieldType(name, field); !ok && r.lacking[field] == "" {
		r.lacking[field] = name
	}
	return found, ok
}

// lacking checks the tree once more to learn which message each unknown field was looked for in.
func (e *environment) lacking(parsed *cel.Ast) map[string]string {
	r := recorder{provider{e.vocabulary}, map[string]string{}}
	if watched, err := newCEL(e.vocabulary, r); err == nil {
		watched.Check(parsed)
	}
	return r.lacking
}

func (t *teller) issue(err *cel.Error) Issue {
	issue := Issue{Line: max(err.Location.Line(), 1), Column: max(err.Location.Column(), 0) + 1}
	name := between(err.Message, "'", "'")
	switch {
	case strings.HasPrefix(err.Message, "undefined field "):
		t.field(&issue, name)
	case strings.HasPrefix(err.Message, "undeclared reference to "):
		t.name(&issue, name, t.nodes[err.ExprID])
	case strings.HasPrefix(err.Message, noOverload):
		t.operands(&issue, name, between(err.Message, "applied to '", "'"))
	case strings.HasPrefix(name, "type("):
		issue.Column = t.afterPoint(issue.Line, issue.Column)
		t.name(&issue, strings.TrimSuffix(strings.TrimPrefix(name, "type("), ")"), nil)
	case strings.HasSuffix(err.Message, "does not support field selection"):
		issue.Message, issue.Hint = "there is nothing beneath "+kindWord(name)+" to name", "take away what stands after the point"
	case strings.HasPrefix(err.Message, "expression of type "):
		issue.Message, issue.Hint = "a loop goes over a list, not over "+kindWord(name), "lists are bike.lights, group.circumstances, group.light and group.points"
	case strings.HasPrefix(err.Message, "expected type "):
		other := between(err.Message, "found '", "'")
		issue.Message, issue.Hint = "this is "+kindWord(other)+" and should be "+kindWord(name), "everything in a list is of one kind; each side of && and || is true or false"
	default:
		issue.Message, issue.Hint = err.Message, "see the language's own description of what may stand here"
	}
	return issue
}

// field tells an unknown field. The place given is that of the point before it.
func (t *teller) field(issue *Issue, name string) {
	issue.Column = t.afterPoint(issue.Line, issue.Column)
	owner := t.owners[name]
	issue.Message = kindWord(owner) + " has no field " + show(name)
	issue.Hint = didYouMean(name, slices.Sorted(maps.Keys(t.messages[owner])))
}

// afterPoint is the column of the name after the point at a column.
func (t *teller) afterPoint(line, column int) int {
	runes := []rune(strings.Split(t.text, "\n")[line-1])
	for at := column - 1; at < len(runes) && (runes[at] == '.' || runes[at] == ' '); at++ {
		column = at + 2
	}
	return column
}

// name tells a name or a function that is not known.
func (t *teller) name(issue *Issue, name string, node ast.Expr) {
	if node != nil && node.Kind() == ast.CallKind {
		issue.Message = "there is no function " + show(name)
		issue.Hint = didYouMean(name, functions())
		if name == "matches" {
			issue.Hint = "patterns are not used here; use startsWith, endsWith or contains"
		}
		return
	}
	issue.Message = "unknown word " + show(name)
	if full := t.unclear[name]; full != nil {
		issue.Message = show(name) + " is a word of several kinds"
		issue.Hint = "write one of " + strings.Join(full, ", ")
		return
	}
	all := []string{"bike", "group"}
	for _, c := range circumstances() {
		all = append(all, c.word)
	}
	words := slices.Sorted(maps.Keys(t.words))
	owned := slices.DeleteFunc(slices.Clone(words), func(w string) bool { return !strings.HasPrefix(w, name+".") })
	near := nearest(name, append(all, words...))
	switch {
	case len(owned) > 0:
		issue.Message, issue.Hint = show(name)+" has no such word", "write one of "+strings.Join(owned, ", ")
	case near != "":
		issue.Hint = "did you mean " + near + "?"
	default:
		issue.Hint = "begin with one of " + strings.Join(all, ", ") + "; texts stand between quotes"
	}
}

// functions lists the functions and macros that a rule is likely to want.
func functions() []string {
	return []string{"all", "contains", "double", "duration", "endsWith", "exists", "exists_one", "filter", "has", "int", "map",
		"size", "startsWith", "string", "timestamp"}
}

// operator finds the sign in the language's name of an operator: _==_, !_, @in.
var operator = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^_?([^_a-z]+)_?$`) })

// operands tells a call whose operands do not fit.
func (t *teller) operands(issue *Issue, function, signature string) {
	target, list, method := strings.Cut(strings.TrimSuffix(signature, ")"), ".(")
	if !method {
		target, list = "", strings.TrimPrefix(target, "(")
	}
	var kinds []string
	for _, kind := range split(list) {
		kinds = append(kinds, kindWord(kind))
	}
	sign := function
	if found := operator().FindStringSubmatch(function); found != nil {
		sign = found[1]
	}
	switch {
	case function == "_[_]" && len(kinds) == 2:
		issue.Message, issue.Hint = kinds[0]+" has no entry that is called by "+kinds[1], "write the name of a field after a point; entries of lists are [0], [1] and so on"
		return
	case function == "@in":
		sign = "in"
		fallthrough
	case sign != function && len(kinds) == 2:
		issue.Message = sign + " does not go between " + kinds[0] + " and " + kinds[1]
	case function == "_?_:_":
		issue.Message = "? : does not go with " + strings.Join(kinds, ", ")
	case sign != function:
		issue.Message = sign + " does not go before " + strings.Join(kinds, ", ")
	case method:
		issue.Message = function + " does not go with " + strings.Join(append([]string{kindWord(target)}, kinds...), ", ")
	default:
		issue.Message = function + " does not go with " + strings.Join(kinds, ", ")
	}
	issue.Hint = "it takes other kinds of values"
	if sign != function || function == "@in" {
		issue.Hint = t.operandHint(sign, split(list))
	}
}

func (t *teller) operandHint(sign string, kinds []string) string {
	for _, kind := range kinds {
		words := t.wordsOf(strings.TrimSuffix(strings.TrimPrefix(kind, "list("), ")"))
		switch {
		case len(words) == 0:
		case strings.ContainsAny(sign, "<>"):
			return kind + " has no order; use == or in, with " + strings.Join(words, ", ")
		default:
			return "words of " + kind + " are " + strings.Join(words, ", ")
		}
	}
	switch {
	case sign == "&&" || sign == "||" || sign == "!":
		return "what is joined is true or false; compare first, for example with >="
	case slices.Contains(kinds, "double") && slices.Contains(kinds, "int"):
		return "write double( ) around the whole number, for example double(size(bike.lights))"
	case len(kinds) == 2:
		return "both sides must be of one kind"
	default:
		return "it takes other kinds of values"
	}
}

// wordsOf lists the words of an enum, each as short as it is clear.
func (t *teller) wordsOf(enum string) []string {
	var words []string
	for _, name := range slices.Sorted(maps.Keys(t.words)) {
		_, bare, owned := strings.Cut(name, ".")
		if t.words[name].enum.TypeName() != enum || owned && t.unclear[bare] == nil {
			continue
		}
		words = append(words, name)
	}
	return words
}
