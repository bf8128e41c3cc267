package cli

import (
	"regexp"
	"strings"

	"gritward/internal/names"
)

// What the server says is made of the protocol's names. Here they become what a person typed or reads.

var (
	resourceName = regexp.MustCompile(`\bclubs/[a-z0-9-]+(/[a-z]+/[a-z0-9-]+)*`)
	civilTime    = regexp.MustCompile(`\b(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2})\b`)
	noMember     = regexp.MustCompile(`there is no member "?[a-z0-9-]+"?`)
	fieldWord    = regexp.MustCompile(`\b[a-z]+(_[a-z0-9]+)+\b`)
)

// told is a text of the server in the words of the client.
func told(text string) string {
	text = resourceName.ReplaceAllStringFunc(text, record)
	text = noMember.ReplaceAllString(text, "$0 (yet): an invited person is one after accepting")
	text = fieldWord.ReplaceAllStringFunc(text, func(word string) string {
		if part, ok := partWords[word]; ok {
			return part
		}
		return word
	})
	return spaced(text)
}

// spaced writes civil times with a space, as people type them.
func spaced(text string) string { return civilTime.ReplaceAllString(text, "$1 $2") }

// record tells a resource name in words: "ride 2026-12-13-moors", "bike ida-holm/blue".
func record(name string) string {
	part := func(collection string) string { return names.Part(name, collection) }
	kind := strings.Split(name, "/")
	switch kind[len(kind)-2] {
	case "clubs":
		return "club " + part("clubs")
	case "members":
		return "member " + part("members")
	case "bikes":
		return "bike " + part("members") + "/" + part("bikes")
	case "declarations":
		return "declaration " + part("declarations") + " of bike " + part("members") + "/" + part("bikes")
	case "care":
		return "entry " + part("care") + " in the care log of " + part("members") + "/" + part("bikes")
	case "devices":
		return "device " + part("devices") + " of " + part("members")
	case "invites":
		return "invite " + part("invites")
	case "policies":
		return "policy " + part("policies")
	case "rides":
		return "ride " + part("rides")
	case "signups":
		return "sign-up of " + part("signups") + " for ride " + part("rides")
	case "rosters":
		return "issue " + part("rosters") + " of ride " + part("rides")
	case "incidents":
		return "incident " + part("incidents") + " of ride " + part("rides")
	case "marks":
		return "mark " + part("marks") + " of ride " + part("rides")
	}
	return name
}
