package strictyaml

import (
	"strings"

	yaml "go.yaml.in/yaml/v4"

	pb "gritward/proto/gritward/v1"
)

// Positions tells where in a file each key and value stands. Paths are in the file's own keys: "rules[2].need.front".
type Positions struct {
	file   string
	lines  []string
	places map[string]place
}

// place is where a path stands: its key, and its value. An entry of a list has no key; both are its value then.
type place struct{ keyLine, keyColumn, line, column int }

func newPositions(file string, data []byte) *Positions {
	text := string(data[:min(len(data), MaxBytes)])
	return &Positions{file: file, lines: strings.Split(text, "\n"), places: map[string]place{}}
}

// Lines are the lines of the file, without their ends; what is empty after the last end is none. Do not change them.
func (p *Positions) Lines() []string {
	if n := len(p.lines); n > 0 && p.lines[n-1] == "" {
		return p.lines[:n-1]
	}
	return p.lines
}

// Has tells whether the file holds the path.
func (p *Positions) Has(path string) bool {
	_, ok := p.places[path]
	return ok
}

// Line gives the line, from 1, on which the path's key, or its entry of a list, begins. For a path that the file does
// not hold it is the line of the nearest part of the structure around it.
func (p *Positions) Line(path string) int { return p.nearest(path).keyLine }

// At gives line and column, from 1, of the path's value, or of its key where the value begins on a later line. For a
// path that the file does not hold it is where the nearest part of the structure around it begins.
func (p *Positions) At(path string) (line, column int) {
	at := p.nearest(path)
	if !p.Has(path) || at.line > at.keyLine {
		return at.keyLine, at.keyColumn
	}
	return at.line, at.column
}

// Problem makes a problem at the path.
func (p *Positions) Problem(severity pb.Problem_Severity, path, message, hint string) *pb.Problem {
	line, column := p.At(path)
	problem := p.problemAt(line, column, path, message, hint)
	problem.Severity = severity
	problem.Excerpt = p.excerpt(line, column)
	return problem
}

// problemAt makes an error without an excerpt.
func (p *Positions) problemAt(line, column int, path, message, hint string) *pb.Problem {
	return &pb.Problem{
		File: p.file, Line: int32(line), Column: int32(column), Severity: pb.Problem_ERROR,
		Path: path, Message: message, Hint: hint,
	}
}

// nearest finds the place of the path or of the closest part around it; the start of the file where there is none.
func (p *Positions) nearest(path string) place {
	for {
		if at, ok := p.places[path]; ok {
			return at
		}
		if path == "" {
			return place{1, 1, 1, 1}
		}
		path = parent(path)
	}
}

func (p *Positions) put(path string, key, value *yaml.Node) {
	p.places[path] = place{key.Line, key.Column, value.Line, value.Column}
}

// parent cuts the last key or index off a path.
func parent(path string) string {
	return path[:max(0, strings.LastIndexAny(path, ".["))]
}

// join adds a key to a path.
func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}
