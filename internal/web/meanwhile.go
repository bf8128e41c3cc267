package web

import (
	"net/url"
	"slices"
	"strings"

	"gritward/internal/fault"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// part is what of a form was changed or not as one: a field, or fields that say something together only.
type part struct {
	fields []string
	// told is what stands in them, in words.
	told func(values url.Values) string
}

// values are what stands in the fields of a part, each with something before its name, as it is kept: a browser ends lines in its own
// way, and space around what was typed is not kept.
func (p part) values(form url.Values, before string) (all []string) {
	for _, field := range p.fields {
		all = append(all, strings.TrimSpace(strings.ReplaceAll(form.Get(before+field), "\r\n", "\n")))
	}
	return all
}

// wasPrefix stands before the name of a field in the name of one that remembers what stood there when the form was opened.
const wasPrefix = "was."

// rememberWas notes in a form what it goes on from.
func rememberWas(form, now url.Values, parts []part) {
	for _, p := range parts {
		for _, field := range p.fields {
			form.Set(wasPrefix+field, now.Get(field))
		}
	}
}

// Was are the hidden fields of a form that remember what stood in it when it was opened.
func (f Form) Was() (kept []Field) {
	for _, name := range sortedKeys(f.Values) {
		if strings.HasPrefix(name, wasPrefix) {
			kept = append(kept, Field{Name: name, Value: f.Value(name)})
		}
	}
	return kept
}

// metIn tells what of a record was changed since its form was opened, and has the form go on from the record as it is now: with what
// was typed, and with what stands now where nothing was. What is there already as it was typed is not told. None: there was no record
// when the form was opened.
func metIn(typed, now url.Values, parts []part, none bool, save string) (met []fault.Field) {
	for _, p := range parts {
		was, mine, stands := p.values(typed, wasPrefix), p.values(typed, ""), p.values(now, "")
		if slices.Equal(stands, was) && !none || slices.Equal(stands, mine) {
			continue
		}
		what := "now " + p.told(now)
		if slices.Equal(mine, was) {
			what += "; it is taken over below"
			for i, field := range p.fields {
				typed.Set(field, stands[i])
			}
		} else {
			what += "; yours stands below, and takes its place when you " + save
		}
		met = append(met, fault.Field{Path: p.fields[0], What: what})
	}
	rememberWas(typed, now, parts)
	return met
}

// alone is a part of one field.
func alone(field string, words func(value string) string) part {
	return part{[]string{field}, func(values url.Values) string { return "“" + words(values.Get(field)) + "”" }}
}

// asTyped is what stands in a field, as it was typed.
func asTyped(value string) string { return phrase.FirstOf(value, "nothing") }

// changedOn says that a record of one's own was changed since its form was opened, where, and in what.
func changedOn(where string, met []fault.Field) error {
	return &fault.Error{Reason: pb.Reason_CHANGED_MEANWHILE, Fields: met, Message: "this was changed while the page was open, on another device of yours" +
		where + "; nothing you typed is lost. Look at what changed, then keep it"}
}
