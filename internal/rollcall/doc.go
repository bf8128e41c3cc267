// Package rollcall tells from the marks of a ride who is out and who is home. It is pure: the same set of marks gives the
// same answer in whatever order they came, and the time is handed in.
package rollcall
