// Package strictyaml reads one YAML document, written by a person, into a protocol message, and says of everything that
// is wrong with it where it is, what is wrong, and what to write instead.
//
// The message's descriptor is the only schema. A key is the field's name, or the one that its (file) option gives; an
// enum is written in lower case with hyphens; a number that has a unit is written with it; a span of time is written
// "1h30m". What YAML offers beyond that is refused: anchors, aliases, merge keys, tags, several documents, and its many
// spellings of a number or a truth value.
//
// Reading goes in stages: the bytes (text.go), the syntax (syntax.go), the shape (shape.go), the values (message.go,
// scalar.go), the limits of the descriptor (limits.go). A stage reports everything it finds. Text and syntax must be
// sound before the later stages make sense; those three all run.
package strictyaml
