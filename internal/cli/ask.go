package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
)

// confirm asks a question that only "y" or "yes" answers in favour. Without an answer nothing is done.
func (a *app) confirm(question string) error {
	fmt.Fprint(a.io.Err, clean(question), " [y/N] ")
	answer, err := bufio.NewReader(io.LimitReader(a.io.In, 1000)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	if errors.Is(err, io.EOF) {
		fmt.Fprintln(a.io.Err)
	}
	switch strings.ToLower(strings.TrimSpace(answer)) {
	case "y", "yes":
		return nil
	}
	return errors.New("nothing was done\n  next: answer y, or add --yes")
}
