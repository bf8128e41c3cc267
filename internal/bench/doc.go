// Package bench measures the program beside its limits, in one run, and prints a table of the ratios. It is benchmarks
// alone: DEVELOPERS.md has the command. In minimal is the server that the program is measured beside.
package bench
