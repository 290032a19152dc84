package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"
)

func newRound() *cobra.Command {
	return &cobra.Command{
		Use:   "round",
		Short: "Do one round (fetch, judge, record, send) and exit: for a timer",
		Args:  only(0, "round takes none"),
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			s, err := loadSettings(cmd, true)
			if err != nil {
				return err
			}
			service, err := openService(cmd.Context(), s, newLog(cmd))
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, service.Close()) }()
			o, err := service.Watcher.Round(cmd.Context())
			err = errors.Join(err, service.Drain(cmd.Context()))
			fmt.Fprintf(cmd.OutOrStdout(), "%d cells, %d fields, %d beds judged; %d notices; %d fields cannot be seen\n",
				o.Cells, o.Fields, o.Beds, len(o.Notices), o.Blind)
			for _, t := range o.Trouble {
				fmt.Fprintln(cmd.OutOrStdout(), "trouble:", t)
			}
			return err
		},
	}
}
