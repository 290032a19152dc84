// Command winterstand watches standing beds and says by when each must be
// harvested. One file a command.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // zones also where the system has none

	"github.com/spf13/cobra"

	"winterstand/internal/app"
)

// Exit codes of the contract.
const (
	exitFailure  = 1
	exitBadInput = 2
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // who asks a second time does not want to wait
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run is main without the process around it.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return 0
	}
	fmt.Fprintln(errOut, "winterstand:", err)
	var bad *badInput
	if errors.As(err, &bad) {
		return exitBadInput
	}
	return exitFailure
}

// badInput is an error that the user can mend by asking differently.
type badInput struct{ error }

func (b *badInput) Unwrap() error { return b.error }

// bad marks an error as the user's to mend; nil stays nil.
func bad(err error) error {
	if err == nil {
		return nil
	}
	return &badInput{err}
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:           "winterstand",
		Short:         "Says by when each standing bed must be harvested, and why",
		SilenceUsage:  true,
		SilenceErrors: true,
		Version:       app.Version,
	}
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return bad(err) })
	root.PersistentFlags().StringP("settings", "s", defaultSettings, "settings file (TOML)")
	root.AddCommand(newServe(), newDemo(), newRound(), newToken(), newCrops(), newCheck(), newMigrate(), newVersion())
	root.AddCommand(newReplay(), newSeason(), newSkill(), newValidate(), newCompletion())
	completeValues(root)
	explain(root)
	return root
}

// only refuses arguments that a command does not take.
func only(n int, what string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) > n {
			return bad(fmt.Errorf("%q is one argument too many; %s", args[n], what))
		}
		return nil
	}
}
