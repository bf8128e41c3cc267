// Package settings reads how a program of this project is set up, from what counts least to what counts most: defaults,
// a YAML file, environment variables beginning with GRITWARD_, and flags. A file is read strictly, before anything is
// merged: an unknown key, a key given twice or a value of the wrong kind is an error with its line and column. Every
// error lists all that is wrong.
package settings
