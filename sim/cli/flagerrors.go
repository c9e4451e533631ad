package cli

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// flagError says in plain words what is wrong with a flag.
func flagError(cmd *cobra.Command, err error) error {
	var (
		unknown *pflag.NotExistError
		lacking *pflag.ValueRequiredError
		wrong   *pflag.InvalidValueError
		form    *pflag.InvalidSyntaxError
	)
	switch {
	case errors.As(err, &unknown):
		return usagef("%s has no flag %s", cmd.Name(), dashed(unknown.GetSpecifiedName(), unknown.GetSpecifiedShortnames()))
	case errors.As(err, &lacking):
		return usagef("--%s needs %s", lacking.GetFlag().Name, wanted(lacking.GetFlag()))
	case errors.As(err, &wrong):
		return usagef("--%s %q: expected %s", wrong.GetFlag().Name, wrong.GetValue(), wanted(wrong.GetFlag()))
	case errors.As(err, &form):
		return usagef("%q is not a flag", form.GetSpecifiedFlag())
	}
	return usagef("%s", err)
}

// namesSomething refuses a file or folder whose name is empty, as of a variable that a
// script has not set: nothing would be written there, and nobody would see it.
func namesSomething(cmd *cobra.Command) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		switch kind, _ := pflag.UnquoteUsage(f); kind {
		case "FILE", "DIR", "PATH":
			if f.Value.String() == "" {
				err = usagef("--%s is empty: it takes a %s", f.Name, kind)
			}
		}
	})
	return err
}

// dashed is a flag as it was typed; group is the letters that it stood among.
func dashed(name, group string) string {
	if group != "" {
		return "-" + name
	}
	return "--" + name
}

// wanted is what a flag takes.
func wanted(f *pflag.Flag) string {
	switch f.Value.Type() {
	case "bool":
		return "true or false"
	case "uint64":
		return "a whole number from 0"
	case "int":
		return "a whole number"
	case "float64":
		return "a number"
	case "duration":
		return `a time with its unit, such as "90s" or "1m30s"`
	}
	what, _ := pflag.UnquoteUsage(f)
	return fmt.Sprintf("a value: %s", what)
}
