package expression

import (
	"cmp"
	"slices"
	"strings"

	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/types"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// fact is a field that an expression reads of bike or group itself, not of an entry of a list.
type fact struct {
	path   string // as the text has it
	file   string // as a bike file has it; see inFile
	root   string // bike or group
	fields []protoreflect.FieldDescriptor
}

// list is a list that an expression reads, with the length that the bound on its cost holds for.
type list struct {
	root  string
	field protoreflect.FieldDescriptor
	most  int
}

// look walks the typed tree: it refuses what a rule should not do, and notes what the expression reads.
func (p *Program) look() []Issue {
	l := &looker{Program: p, tree: p.ast.NativeRep(), loops: map[string]string{}, file: map[string]string{"bike": ""}}
	ast.PostOrderVisit(l.tree.Expr(), ast.NewExprVisitor(l.node))
	l.entries()
	p.text = textInFile(p.text, l.file)
	if len(l.issues) == 0 && !l.named {
		l.issues = []Issue{{1, 1, "the expression says the same of every bike and every group",
			"name something of bike or group in it, or a circumstance such as wet"}}
	}
	sortIssues(l.issues)
	return l.issues
}

type looker struct {
	*Program
	tree   *ast.AST
	named  bool
	loops  map[string]string // by the name that a loop gives to entries, the list it goes over
	file   map[string]string // what a bike file calls a path
	issues []Issue
}

func (l *looker) refuse(e ast.Expr, message, hint string) {
	at := l.tree.SourceInfo().GetStartLocation(e.ID())
	l.issues = append(l.issues, Issue{max(at.Line(), 1), max(at.Column(), 0) + 1, message, hint})
}

func (l *looker) node(e ast.Expr) {
	switch e.Kind() {
	case ast.IdentKind:
		l.named = l.named || isVariable(e.AsIdent())
		l.readBike = l.readBike || e.AsIdent() == "bike"
	case ast.StructKind:
		l.refuse(e, e.AsStruct().TypeName()+" cannot be made here", "compare the fields one by one")
	case ast.CallKind:
		l.comparison(e)
	case ast.SelectKind:
		l.selection(e)
	case ast.ComprehensionKind:
		name := e.AsComprehension().IterVar()
		l.loops[name] = pathText(e.AsComprehension().IterRange())
		if isVariable(name) || l.env.words[name].enum != nil {
			l.refuse(e, name+" has a meaning already", "give the entries of the list another name, for example l")
		}
	}
}

// entries renames the fields of a list's entries for people: "l.runtime_min" is "runtime_min of one of bike.lights".
func (l *looker) entries() {
	for id, path := range l.paths {
		name, rest, _ := strings.Cut(path, ".")
		if list := l.loops[name]; list != "" {
			_, key, _ := strings.Cut(l.facing[id], ".")
			l.paths[id], l.facing[id] = rest+" of one of "+list, key+" of one of "+cmp.Or(l.file[list], list)
		}
	}
}

// isVariable tells whether a name is bike, group or a circumstance.
func isVariable(name string) bool {
	_, ok := circumstance(name)
	return ok || rootOf(name) != nil
}

// comparison refuses to compare messages as a whole: two that were not declared would be equal.
func (l *looker) comparison(e ast.Expr) {
	switch e.AsCall().FunctionName() {
	case operators.Equals, operators.NotEquals, operators.In:
	default:
		return
	}
	for _, arg := range e.AsCall().Args() {
		t := l.tree.GetType(arg.ID())
		for t.Kind() == types.ListKind && len(t.Parameters()) == 1 {
			t = t.Parameters()[0]
		}
		if t.Kind() == types.StructKind {
			l.refuse(e, kindWord(t.TypeName())+" cannot be compared as a whole", "compare its fields; count a list with size()")
			return
		}
	}
}

// selection notes a field by what the text calls it, and where it stands in bike or group.
func (l *looker) selection(e ast.Expr) {
	l.paths[e.ID()] = pathText(e)
	l.inFile(e)
	l.facing[e.ID()] = l.file[l.paths[e.ID()]]
	var names []string
	at := e
	for ; at.Kind() == ast.SelectKind; at = at.AsSelect().Operand() {
		names = append(names, at.AsSelect().FieldName())
	}
	if at.Kind() != ast.IdentKind || rootOf(at.AsIdent()) == nil {
		return
	}
	slices.Reverse(names)
	found, message := fact{path: l.paths[e.ID()], file: l.facing[e.ID()], root: at.AsIdent()}, rootOf(at.AsIdent())
	for _, name := range names {
		if message == nil {
			return // a loop's own name that hides bike or group, which is refused where the loop is met
		}
		field := message.Fields().ByName(protoreflect.Name(name))
		if field == nil {
			return
		}
		found.fields = append(found.fields, field)
		message = field.Message()
	}
	switch last := found.fields[len(found.fields)-1]; {
	case last.IsList():
		l.lists = append(l.lists, list{found.root, last, maxItems(last)})
	case last.Message() != nil && !isTimestamp(last):
		return
	}
	if !slices.ContainsFunc(l.facts, func(f fact) bool { return f.path == found.path }) {
		l.facts = append(l.facts, found)
	}
}

// pathText writes a selection as the text has it: "bike.tyres.front.width_mm", "l.runtime_min"; "" where its operand is
// more than a name.
func pathText(e ast.Expr) string {
	switch e.Kind() {
	case ast.IdentKind:
		return e.AsIdent()
	case ast.SelectKind:
		if operand := pathText(e.AsSelect().Operand()); operand != "" {
			return operand + "." + e.AsSelect().FieldName()
		}
		return e.AsSelect().FieldName()
	default:
		return ""
	}
}
