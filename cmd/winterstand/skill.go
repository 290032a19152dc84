package main

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"winterstand/internal/science/skill"
	"winterstand/internal/service/plan"
	"winterstand/internal/store"
	"winterstand/internal/trial/archive"
	"winterstand/internal/unit"
)

// skillFlags are what skill is asked.
type skillFlags struct {
	archiveFlags
	farm, units string
	asJSON      bool
}

func newSkill() *cobra.Command {
	f := &skillFlags{}
	cmd := &cobra.Command{
		Use:   "skill [--farm NAME]",
		Short: "How the verdicts did, beside simple rules",
		Long: `Scores the service's own verdicts, or with --archive those it would have given
on forecasts issued in the past, against what then happened.

A row is one bed and one coming night as judged at one issue; the loss counts up
to and including that night. The simple rules act when the lowest forecast low up
to that night is at or below their threshold. A bed that is lost is no longer
scored.

--archive names a CSV of forecast lows (station,issued,morning,lead_days,low_f) or
a folder of them; an issue of which only the day is known counts as of noon.
--observations names the days that came (date,tmin_c,tmax_c), or a folder with
one file for each station, STATION.csv. They are the past of each issue, and the
model run on them says what was lost. Maxima that a forecast or the observations
lack are what is usual at that time of the year. The tolerance of the crops is
taken as known, for the truth is the model's own: the forecasts alone are scored.
How far a low is to be believed is learned from the station's own earlier issues;
--as-issued takes it as it was issued, with the usual error of a forecast.`,
		Args: only(0, "skill takes flags only"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runSkill(cmd, f) },
	}
	cmd.Flags().StringVar(&f.farm, "farm", "", "name of the farm (default: all)")
	cmd.Flags().StringVar(&f.units, "units", string(unit.US), "us or metric")
	cmd.Flags().BoolVar(&f.asJSON, "json", false, "JSON instead of a table")
	f.archiveFlags.add(cmd)
	return cmd
}

func runSkill(cmd *cobra.Command, f *skillFlags) error {
	units, err := unit.ParseSystem(f.units)
	if err != nil {
		return bad(err)
	}
	if f.archive == "" && f.observations != "" {
		return bad(errors.New("--observations goes with --archive: name the forecasts that were issued"))
	}
	var report skill.Report
	var lows []archive.LeadError
	if f.archive != "" {
		report, lows, err = f.play(cmd)
	} else {
		report, err = f.own(cmd)
	}
	if err != nil {
		return err
	}
	if f.asJSON {
		enc := json.NewEncoder(cmd.OutOrStdout())
		enc.SetIndent("", "  ")
		return enc.Encode(report)
	}
	fmt.Fprint(cmd.OutOrStdout(), report.Text(units))
	printLows(cmd, units, lows, f.asIssued)
	return nil
}

func printLows(cmd *cobra.Command, units unit.System, lows []archive.LeadError, asIssued bool) {
	if len(lows) == 0 {
		return
	}
	w := cmd.OutOrStdout()
	if asIssued {
		fmt.Fprintln(w, "\nLows were taken as issued, with the usual error of a forecast.")
	} else {
		fmt.Fprintln(w, "\nHow far to believe a low was learned from the earlier issues of its station.")
	}
	fmt.Fprintf(w, "\nIssued lows against observed minima:\n%-14s%10s%14s%14s\n", "days ahead", "cases", "mean error", "rms error")
	for _, l := range lows {
		fmt.Fprintf(w, "%-14d%10d%14s%14s\n", l.LeadDays, l.Cases, units.Difference(l.Bias), units.Difference(l.RMSE))
	}
}

// own is how the verdicts in the service's database did, as GET /v1/skill has it.
func (f *skillFlags) own(cmd *cobra.Command) (r skill.Report, err error) {
	s, err := loadSettings(cmd, false)
	if err != nil {
		return r, err
	}
	book, err := openBook(cmd, s)
	if err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, book.Close()) }()
	var farmID int64
	if f.farm != "" {
		found, err := book.Store.FarmByName(cmd.Context(), f.farm)
		if errors.Is(err, store.ErrNotFound) {
			return r, bad(fmt.Errorf("--farm %q: there is no such farm", f.farm))
		}
		if err != nil {
			return r, err
		}
		farmID = found.ID
	}
	return plan.Reader{Books: book.Store.Reader, Catalogue: book.Catalogue}.Skill(cmd.Context(), farmID)
}
