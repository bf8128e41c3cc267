package policy_test

// beyondSchema lists the kinds of mistake that the published schema cannot refuse, or does not, with the reason, and
// patterns of the files of testdata/policy that make it.
var beyondSchema = map[string][]string{
	"what YAML is read into no longer shows how it was written: anchors, aliases, tags, merge keys": {
		"merge_key", "tag", "yaml_alias_of_rule", "yaml_anchor*", "yaml_merge_key", "yaml_tag_binary", "yaml_tag_map", "yaml_tag_own",
		"yaml_tag_string", "yaml_directive_tag",
	},
	"a schema is about one document, not about others in the same file": {
		"second_document", "yaml_second_document_*", "yaml_two_policies", "yaml_document_end_then_text",
	},
	"a schema does not see comments, blanks and encodings": {
		"utf16", "yaml_utf16_big_endian", "yaml_bidi_isolate_in_comment", "yaml_carriage_return_alone", "yaml_tab_after_key", "yaml_tab_in_comment",
	},
	"characters that do not show are refused in the whole file; no pattern repeats that for each text": {
		"control_in_escape", "rule_because_escape", "yaml_bidi_override", "yaml_delete", "yaml_no_break_space", "yaml_zero_width_space",
	},
	"a number or truth value no longer shows how it was written": {
		"cold_left_exponent", "cold_left_hexadecimal", "cold_left_many_digits", "cold_left_no_zero", "cold_left_plus", "cold_left_underscore",
		"groups_size_min_hexadecimal", "groups_size_min_octal", "groups_size_min_old_octal", "groups_size_min_whole_decimal", "leading_zero",
		"yaml_directive_version_1", "need_*_capital", "need_*_capitals",
	},
	"the length of a span of time is a sum over its units, which no pattern adds up": {
		"dark_margin_above_3h", "dark_margin_huge", "dark_margin_hundred_years", "lights_reserve_above_6h", "declaration_valid_*",
		"need_*_below_1d", "need_*_above_400d", "need_*_above_800d", "privacy_kept_eleven_years", "privacy_rides_kept_six_days",
	},
	"ranges of numbers with units have whole ends in the schema": {"need_chain_wear_below_too_small"},
	"a schema does not compare one value with another": {
		"cold_order", "cold_twice", "cold_first_twice", "size_order", "groups_size_max_below_min", "need_chain_wear_order", "need_chain_wear_speeds_twice",
		"duplicate_id", "rule_id_three_times", "never_applies", "rule_unless_*",
	},
	"limits that are written and ask for nothing, false or 0, are a rule of the protocol in an expression": {
		"need_*_only_nothing", "need_brakes_disc_compound_empty", "need_chain_wear_empty", "need_bearings_which_only",
	},
}
