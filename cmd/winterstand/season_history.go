package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"winterstand/internal/science/season"
	"winterstand/internal/science/weatherfile"
)

// newHistory cuts a file into winters and says what was filled in.
func newHistory(cmd *cobra.Command, name string, file weatherfile.File, at place, zone *time.Location) season.History {
	h := season.HistoryOf(file, at.latitude, at.longitude, zone)
	if h.Filled > 0 {
		fmt.Fprintf(cmd.ErrOrStderr(), "%s: %s without a maximum; what is usual stands in\n", name, counted(h.Filled, "day"))
	}
	return h
}
