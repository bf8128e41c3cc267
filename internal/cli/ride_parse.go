package cli

import (
	"strconv"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// none is what a repeated flag is given to empty a list.
const none = "none"

// stopOf reads KM:MIN:TITLE.
func stopOf(text string) (*pb.Stop, error) {
	kmText, rest, _ := strings.Cut(text, ":")
	minText, title, _ := strings.Cut(rest, ":")
	atM, kmErr := metresOf(kmText)
	minutes, minErr := strconv.ParseInt(minText, 10, 32)
	if kmErr != nil || minErr != nil || title == "" {
		return nil, usagef("--stop %q is not KM:MIN:TITLE; for example 32.5:30:Mill cafe", text)
	}
	return &pb.Stop{AtDistanceM: atM, Minutes: int32(minutes), Title: title}, nil
}

// placeOf reads KM:TEXT.
func placeOf(flag, text string) (*pb.PlaceNote, error) {
	kmText, what, _ := strings.Cut(text, ":")
	atM, err := metresOf(kmText)
	if err != nil || what == "" {
		return nil, usagef("--%s %q is not KM:TEXT; for example 12.4:Ford under water", flag, text)
	}
	return &pb.PlaceNote{AtDistanceM: atM, What: what}, nil
}

// parseAll reads every value of a repeated flag; the word none alone is an empty list.
func parseAll[T any](values []string, parse func(string) (T, error)) ([]T, error) {
	if len(values) == 1 && values[0] == none {
		return nil, nil
	}
	list := make([]T, 0, len(values))
	for _, value := range values {
		parsed, err := parse(value)
		if err != nil {
			return nil, err
		}
		list = append(list, parsed)
	}
	return list, nil
}
