package main

import (
	"errors"

	"github.com/spf13/cobra"
)

func newServe() *cobra.Command {
	return &cobra.Command{
		Use:   "serve",
		Short: "Run the service: polling, judging, sending, HTTP API, pages",
		Args:  only(0, "serve takes none"),
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			s, err := loadSettings(cmd, true)
			if err != nil {
				return err
			}
			log := newLog(cmd)
			service, err := openService(cmd.Context(), s, log)
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, service.Close()) }()
			if err := service.Listen(); err != nil {
				return err
			}
			log.Info("serving", "address", "http://"+service.Address())
			return service.Run(cmd.Context())
		},
	}
}
