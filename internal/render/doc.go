// Package render shows a roster with its brief, a ride's plan and bikes' assessments to people: as plain text, as one
// HTML page that needs nothing beside it, and as a picture of the light (SVG).
//
// Whatever it is given is first made safe to show ([Clean]): all text in a roster was typed by somebody. Any part may be
// missing; what is not known is left out or said to be not known. Nothing is written after an error, so that there is
// never half a page.
//
// Times are HH:MM in the roster's zone with the seconds dropped, as a watch shows them; minutes before dark are rounded
// down, and minutes in the dark or with lights up: both to the careful side.
package render
