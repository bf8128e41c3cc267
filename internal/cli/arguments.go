package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// annotationNeeds is where needs keeps the flags of a command that must be given.
const annotationNeeds = "needs"

// needs says which flags must be given.
func needs(cmd *cobra.Command, flags ...string) {
	cmd.Annotations = map[string]string{annotationNeeds: strings.Join(flags, " ")}
}

// missingFlags tells which of the flags that must be given were not.
func missingFlags(cmd *cobra.Command) error {
	var missing []string
	for _, flag := range strings.Fields(cmd.Annotations[annotationNeeds]) {
		if !cmd.Flags().Changed(flag) {
			missing = append(missing, "--"+flag)
		}
	}
	if len(missing) == 0 {
		return nil
	}
	return usagef("%s", missingWords(missing))
}

func missingWords(missing []string) string {
	if len(missing) == 1 {
		return missing[0] + " is missing"
	}
	return strings.Join(missing, ", ") + " are missing"
}

// inWords says in words what check finds wrong with the number of arguments: which one is missing, or too many.
func inWords(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if check == nil || check(cmd, args) == nil {
			return nil
		}
		wanted := placeholders(cmd.Use)
		if len(args) < len(wanted) {
			missing := slices.DeleteFunc(slices.Clone(wanted[len(args):]), func(one string) bool { return strings.HasPrefix(one, "[") }) // may be left out
			return usagef("%s; write: %s %s", missingWords(missing), cmd.CommandPath(),
				strings.Join(wanted, " "))
		}
		return usagef("%q is one word too many; a text of several words stands between quotes", args[len(wanted)])
	}
}

// placeholders are the arguments that a line of usage names before its flags: RIDE and MEMBER... of "mark RIDE MEMBER...".
func placeholders(use string) []string {
	before, _, _ := strings.Cut(use, " --")
	return strings.Fields(before)[1:]
}

// flagWords says in words what is wrong with a flag.
func flagWords(_ *cobra.Command, err error) error {
	var value *pflag.InvalidValueError
	var bare *pflag.ValueRequiredError
	switch {
	case errors.As(err, &value):
		return usagef("--%s %q is not %s", value.GetFlag().Name, value.GetValue(), kindWords(value.GetFlag().Value.Type()))
	case errors.As(err, &bare):
		return usagef("--%s needs a value after it", bare.GetFlag().Name)
	}
	return &usageError{err.Error()}
}

// kindWords tells what a flag of that type takes.
func kindWords(kind string) string {
	words := map[string]string{
		"float64": "a number", "int32": "a whole number", "bool": "true or false",
		"duration": "a time with its unit, for example 5s",
	}
	if known, ok := words[kind]; ok {
		return known
	}
	return fmt.Sprintf("a value that it takes (%s)", kind)
}
