package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"winterstand/internal/service/round"
)

func newRound() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
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
			o, err := service.Runner.Round(cmd.Context())
			err = errors.Join(err, service.Drain(cmd.Context()))
			err = errors.Join(err, printRound(cmd, o, asJSON))
			if o.Blind > 0 { // a timer must notice
				err = errors.Join(err, fmt.Errorf("%d fields cannot be seen; their people have been told", o.Blind))
			}
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "JSON instead of lines")
	return cmd
}

func printRound(cmd *cobra.Command, o round.Outcome, asJSON bool) error {
	out := cmd.OutOrStdout()
	if asJSON {
		return printJSON(out, map[string]any{"cells": o.Cells, "fields": o.Fields, "beds": o.Beds, "notices": len(o.Notices),
			"fields_blind": o.Blind, "trouble": append([]string{}, o.Trouble...)})
	}
	fmt.Fprintf(out, "%d cells, %d fields, %d beds looked at; %d notices; %d fields cannot be seen\n",
		o.Cells, o.Fields, o.Beds, len(o.Notices), o.Blind)
	for _, t := range o.Trouble {
		fmt.Fprintln(out, wrapped("trouble: "+t, "", columns))
	}
	return nil
}
