package cli

import (
	"regexp"
	"strconv"
	"strings"

	"github.com/spf13/pflag"
)

// fieldFlags says which flag, or which argument in capitals, gives a field of a request. A path is without its indices;
// what is not in the table belongs to the nearest path above it. Commands differ in their flags, so a path may have
// several.
var fieldFlags = map[string][]string{
	"ride.title": {"title"}, "ride.leader": {"leader"}, "ride.start_local": {"start"}, "start_local": {"start"}, "found": {"FOUND"}, "fixed": {"FOUND"}, "ride.meeting_point": {"meet"},
	"ride.groups": {"group"}, "ride.stops": {"stop"}, "ride.hazards": {"hazard"}, "ride.ways_out": {"way-out"},
	"ride.places": {"places"}, "ride.signup_opens_at": {"signup-opens"}, "ride.signup_closes_at": {"signup-closes"}, "ride.reason": {"reason"},
	"ride.single_file": {"single-file"}, "ride.leader_phone": {"phone"}, "route_gpx": {"gpx"},
	"ride.conditions.later": {"later"}, "ride.conditions.source": {"source"},
	"ride.conditions.start.temperature_c": {"temperature"}, "ride.conditions.start.wind_kmh": {"wind"},
	"ride.conditions.start.wind_from_deg": {"wind-from"}, "ride.conditions.start.gust_kmh": {"gust"},
	"ride.conditions.start.humidity_pct": {"humidity"}, "ride.conditions.start.visibility_m": {"visibility"},
	"ride.conditions.start.dew_point_c": {"dew-point"}, "file": {"file"},
	"member.display_name": {"name"}, "member.pace_min_kmh": {"pace"}, "member.pace_max_kmh": {"pace"},
	"member.email": {"email"}, "member.roles": {"roles"}, "member.guardian": {"guardian"},
	"member.name_public": {"name-public"}, "member.may_lead": {"may-lead"}, "member.may_mark_back": {"may-mark-back"},
	"member.junior": {"junior"}, "member.name": {"MEMBER"},
	"invite.display_name": {"NAME"}, "invite.roles": {"role"}, "invite.for_member": {"device-for"}, "invite.for_ride": {"ride"}, "display_name": {"NAME"},
	"preferred_group": {"group"}, "party": {"party"}, "device_title": {"device"}, "code": {"CODE"},
	"bike_id": {"id"}, "facts": {"FILE.yaml"}, "lit_min": {"lit"}, "days_ahead": {"ahead"},
	"effective_from": {"from"}, "note": {"note"}, "most": {"most"}, "content": {"FILE"},
	"signup.bike": {"bike"}, "signup.preferred_group": {"group"}, "signup.party": {"party"}, "signup.member": {"member"},
	"reason": {"reason"}, "override_reason": {"override"}, "group": {"group"}, "member": {"member"}, "basis": {"basis"}, "groups": {"group"},
	"entry.work": {"WORK"}, "entry.done_on": {"on"}, "entry.odometer_km": {"odometer"}, "entry.end": {"end"},
	"entry.bearing": {"bearing"}, "entry.wear_pct": {"wear"}, "entry.thickness_mm": {"thickness"},
	"entry.note": {"note"}, "entry.strikes": {"strikes"}, "entry.label": {"label"}, "measured_again": {"measured-again"},
	"marks.member": {"MEMBER..."}, "marks.what": {"WHAT"}, "marks.at": {"at"}, "marks.note": {"note"},
	"incident.kind": {"kind"}, "incident.injured": {"injured"}, "incident.happened_local": {"at"}, "incident.at_distance_m": {"km"},
	"incident.lat_deg": {"place"}, "incident.lon_deg": {"place"}, "incident.where": {"where"}, "incident.concerned": {"concerned"},
	"incident.saw": {"saw"}, "incident.account": {"what"}, "incident.done": {"done"}, "incident.photographs": {"photo"},
	"reported_on": {"on"}, "need_not_be": {"need-not"}, "text": {"what"}, "photographs": {"photo"},
	"from": {"from"}, "to": {"to"},
	"bike": {"BIKE"}, "ride": {"ride"},
}

// partWords are the parts of what a flag holds, and other fields that messages speak of, in words.
var partWords = map[string]string{
	"pace_kmh": "pace in km/h", "min_size": "min", "max_size": "max", "start_offset_min": "after",
	"back_marker": "back-marker", "at_distance_m": "distance in m", "from_local": "time", "temperature_c": "temperature",
	"wind_kmh": "wind", "wind_from_deg": "wind-from", "gust_kmh": "gust", "humidity_pct": "humidity",
	"visibility_m": "visibility in m", "display_name": "name", "pace_min_kmh": "lower pace", "pace_max_kmh": "upper pace",
	"for_member": "--device-for", "dew_point_c": "dew-point",
}

var (
	indexPart  = regexp.MustCompile(`\[(\d+)\]`)
	cannotSet  = regexp.MustCompile(`^"(\w+)" cannot be changed here; what can: (.*)$`)
	placeAhead = regexp.MustCompile(`^\d+:\d+: `)
	pathInText = regexp.MustCompile(`\b(?:ride|invite|member|facts|signup|entry|marks(?:\[\d+\])?)(?:\.[a-z]+(?:_[a-z0-9]+)*(?:\[\d+\])?)+`)
)

// fieldLine tells what is wrong with a field of a request by what was typed: "--group steady:240: pace in km/h: ...".
func (a *app) fieldLine(path, what string) string {
	if path == "update_mask" {
		return a.maskLine(what)
	}
	what = pathInText.ReplaceAllStringFunc(what, func(other string) string { return strings.TrimSuffix(a.fieldLine(other, ""), ": ") })
	index := -1
	if found := indexPart.FindStringSubmatch(path); found != nil {
		index, _ = strconv.Atoi(found[1]) // digits, as the pattern has it
	}
	plain := indexPart.ReplaceAllString(path, "")
	for above := plain; above != ""; above = parentPath(above) {
		for _, name := range fieldFlags[above] {
			typed := a.typed(name, index)
			if typed == "" {
				continue
			}
			if placeAhead.MatchString(what) { // line and column of a file
				return typed + ":" + what
			}
			return typed + ": " + partOf(strings.TrimPrefix(plain[len(above):], ".")) + told(what)
		}
	}
	return suffixed(pathWords(path), ": ") + told(what)
}

// pathWords tells a field that this command has no flag for: "ride.groups[1].back_marker" is "group 2: back-marker".
func pathWords(path string) string {
	parts := strings.Split(path, ".")
	if len(parts) > 1 && !indexPart.MatchString(parts[0]) { // the first one is the record that the command is about
		parts = parts[1:]
	}
	for i, part := range parts {
		if found := indexPart.FindStringSubmatch(part); found != nil {
			index, _ := strconv.Atoi(found[1]) // digits, as the pattern has it
			part = strings.TrimSuffix(indexPart.ReplaceAllString(part, ""), "s")
			parts[i] = strings.ReplaceAll(part, "_", " ") + " " + strconv.Itoa(index+1)
			continue
		}
		parts[i] = strings.TrimSuffix(partOf(part), ": ")
	}
	return strings.Join(parts, ": ")
}

// typed is a flag or an argument as it was typed; "" when this command has no such thing.
func (a *app) typed(name string, index int) string {
	if strings.ToUpper(name[:1]) == name[:1] {
		return a.typedArgument(name, index)
	}
	flag := a.cmd.Flags().Lookup(name)
	switch {
	case flag == nil:
		return ""
	case !flag.Changed:
		return "--" + name
	case name == "gpx":
		return flag.Value.String()
	}
	if list, ok := flag.Value.(pflag.SliceValue); ok {
		if values := list.GetSlice(); index >= 0 && index < len(values) {
			return "--" + name + " " + values[index]
		}
		return "--" + name
	}
	return "--" + name + " " + flag.Value.String()
}

func (a *app) typedArgument(name string, index int) string {
	for i, wanted := range placeholders(a.cmd.Use) {
		if strings.Trim(wanted, "[]") != name {
			continue
		}
		if strings.HasSuffix(name, "...") {
			i += max(index, 0)
		}
		if i < len(a.args) && a.args[i] != "" {
			return a.args[i]
		}
		return strings.TrimSuffix(name, "...")
	}
	return ""
}

// partOf tells the rest of a path below what a flag gives, with a colon after it; "" for nothing.
func partOf(rest string) string {
	if rest == "" {
		return ""
	}
	last := rest[strings.LastIndexByte(rest, '.')+1:]
	if words, ok := partWords[last]; ok {
		return words + ": "
	}
	return strings.ReplaceAll(last, "_", " ") + ": "
}

// maskLine tells which flag may not be used, and which may.
func (a *app) maskLine(what string) string {
	found := cannotSet.FindStringSubmatch(what)
	if found == nil {
		return "nothing to change was given"
	}
	flagOf := func(field string) string {
		for _, record := range []string{"member.", "ride."} {
			for _, name := range fieldFlags[record+field] {
				if a.cmd.Flags().Lookup(name) != nil {
					return "--" + name
				}
			}
		}
		return ""
	}
	var can []string
	for field := range strings.SplitSeq(found[2], ", ") {
		if flag := flagOf(field); flag != "" && (len(can) == 0 || can[len(can)-1] != flag) { // one flag may give two fields
			can = append(can, flag)
		}
	}
	return flagOf(found[1]) + ": is not yours to change; you can change " + strings.Join(can, ", ")
}

func parentPath(path string) string { return path[:max(strings.LastIndexByte(path, '.'), 0)] }
