package web

import (
	"encoding/binary"
	"net/url"
	"strconv"
	"strings"

	"gritward/internal/fault"
)

// Form is what is filled in on a page. A field is called by its path in the request that the form becomes, as
// "facts.guards.front.kind", so that what the server says about a field stands beside it.
type Form struct {
	Values url.Values
	// Wrong says what is wrong with a field, by its path.
	Wrong map[string]string
	// Once tells one filling-in from another: what is sent twice is done once.
	Once string
	// labels are what the fields of the page are called, as far as it is made; nil: nobody asks.
	labels map[string]string
}

// newForm holds what came, and what is wrong with it.
func (v *visit) newForm(problem *fault.Error) Form {
	f := Form{Values: url.Values{}, Wrong: map[string]string{}, Once: newOnce(), labels: map[string]string{}}
	if v.r.PostForm != nil {
		f.Values = v.r.PostForm
		if once := f.Values.Get("once"); once != "" && len(once) <= 64 && problem != nil {
			f.Once = once
		}
	}
	if problem != nil {
		for _, field := range problem.Fields {
			f.Wrong[field.Path] = field.What
		}
	}
	return f
}

// with fills in what is not filled in yet.
func (f *Form) with(values url.Values) {
	if len(f.Values) > 0 {
		return
	}
	f.Values = values
}

// Field is one thing to fill in.
type Field struct {
	// Name is the path of the field, Label what it is called, Hint what helps to fill it in.
	Name, Label, Hint string
	// Kind is the type of the HTML input: text, number, date, time, email...
	Kind string
	// Value is what is filled in, Wrong what is wrong with it.
	Value, Wrong string
	// Unit stands behind the field.
	Unit string
	// Choices are what to choose from; none: it is written.
	Choices []Choice
	// Min, Max and Step bound a number; Most is the longest text.
	Min, Max, Step string
	Most           int
	// Accept are the kinds of file that are proposed.
	Accept string
	// Needed: it cannot be left out.
	Needed bool
}

// Choice is one of several.
type Choice struct {
	Value, Label string
	Chosen       bool
}

// idOf makes of a path what an id can be.
var idOf = strings.NewReplacer(".", "-", "[", "-", "]", "")

// ID is the id of the field's element.
func (f Field) ID() string {
	return "f-" + idOf.Replace(f.Name)
}

// usual tells whether nothing in a field is one person's alone: no words were typed into it, and nothing in it is wrong.
func (f Field) usual() bool {
	switch f.Kind {
	case "radio", "select", "check", "number", "date":
		return f.Wrong == ""
	}
	return f.Wrong == "" && f.Value == ""
}

// Whole is all of a field in one string.
func (f Field) Whole() (string, error) {
	if !f.usual() {
		return "", nil
	}
	return f.whole(), nil
}

// whole is Whole, whosever it is.
func (f Field) whole() string { return string(f.wholeAfter(make([]byte, 0, 512))) }

// wholeAfter puts all of a field after other things: how many choices it has, and then each part with its length before it.
func (f Field) wholeAfter(all []byte) []byte {
	all = binary.AppendUvarint(binary.AppendUvarint(all, uint64(len(f.Choices))), uint64(f.Most))
	all = strconv.AppendBool(all, f.Needed)
	all = after(all, f.Name, f.Label, f.Hint, f.Kind, f.Value, f.Wrong, f.Unit, f.Min, f.Max, f.Step, f.Accept)
	for _, choice := range f.Choices {
		all = strconv.AppendBool(after(all, choice.Value, choice.Label), choice.Chosen)
	}
	return all
}

// Described are the ids of what describes the field, for aria-describedby.
func (f Field) Described() string {
	var ids []string
	if f.Hint != "" {
		ids = append(ids, f.ID()+"-hint")
	}
	if f.Wrong != "" {
		ids = append(ids, f.ID()+"-wrong")
	}
	return strings.Join(ids, " ")
}

func (f Form) field(kind, name, label, hint string) Field {
	if f.labels != nil {
		f.labels[name] = label
	}
	return Field{Name: name, Label: label, Hint: hint, Kind: kind, Value: f.Values.Get(name), Wrong: f.Wrong[name]}
}

// Value is what is filled in for a field, for those that nobody sees.
func (f Form) Value(name string) string { return f.Values.Get(name) }

// Text is a line of text.
func (f Form) Text(name, label, hint string, most int) Field {
	made := f.field("text", name, label, hint)
	made.Most = most
	return made
}

// Needed is a field that cannot be left out.
func (f Form) Needed(field Field) Field {
	field.Needed = true
	return field
}

// Area is text of several lines.
func (f Form) Area(name, label, hint string, most int) Field {
	made := f.field("area", name, label, hint)
	made.Most = most
	return made
}

// Number is a number with its unit, within limits.
func (f Form) Number(name, label, hint, unit, least, most, step string) Field {
	made := f.field("number", name, label, hint)
	made.Unit, made.Min, made.Max, made.Step = unit, least, most, step
	return made
}

// File is a file; accept are its kinds as the HTML attribute has them.
func (f Form) File(name, label, hint, accept string) Field {
	made := f.field("file", name, label, hint)
	made.Value, made.Accept = "", accept
	return made
}

// Date is a day.
func (f Form) Date(name, label, hint string) Field { return f.field("date", name, label, hint) }

// Time is a time of day.
func (f Form) Time(name, label, hint string) Field { return f.field("time", name, label, hint) }

// Select is one of several, pulled down. What to choose comes as value, label, value, label...
func (f Form) Select(name, label, hint string, pairs ...string) Field {
	made := f.field("select", name, label, hint)
	made.Choices = f.choices(name, pairs)
	return made
}

// Radio is one of several, all to be seen.
func (f Form) Radio(name, label, hint string, pairs ...string) Field {
	made := f.Select(name, label, hint, pairs...)
	made.Kind = "radio"
	return made
}

// Check is one thing that is so or is not: "true" when it is.
func (f Form) Check(name, label, hint string) Field {
	made := f.field("check", name, label, hint)
	return made
}

func (f Form) choices(name string, pairs []string) []Choice {
	made, chosen := make([]Choice, 0, len(pairs)/2), f.Values.Get(name)
	for i := 0; i+1 < len(pairs); i += 2 {
		made = append(made, Choice{pairs[i], pairs[i+1], chosen == pairs[i]})
	}
	return made
}
