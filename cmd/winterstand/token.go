package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"winterstand/internal/farm"
)

func newToken() *cobra.Command {
	var name, scope string
	cmd := &cobra.Command{
		Use:   "token --farm NAME",
		Short: "Make a token for a farm, and the farm if it is new",
		Args:  only(0, "give the farm with --farm"),
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			s, err := loadSettings(cmd, false)
			if err != nil {
				return err
			}
			book, err := openBook(cmd, s)
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, book.Close()) }()
			made, err := book.MakeToken(cmd.Context(), name, scope)
			if err != nil {
				return bad(err)
			}
			if made.NewFarm {
				fmt.Fprintf(cmd.ErrOrStderr(), "Farm %q made.\n", made.Farm.Name)
			}
			fmt.Fprintln(cmd.ErrOrStderr(), "The token is shown only now; use it as: Authorization: Bearer TOKEN")
			fmt.Fprintln(cmd.OutOrStdout(), made.Token)
			return nil
		},
	}
	cmd.Flags().StringVar(&name, "farm", "", "name of the farm")
	cmd.Flags().StringVar(&scope, "scope", farm.ScopeWrite, "read or write")
	return cmd
}
