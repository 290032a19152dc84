package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"winterstand/internal/trial/validation"
	"winterstand/internal/unit"
)

func newValidate() *cobra.Command {
	var folder, snow string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "validate --observations FOLDER",
		Short: "Score the soil column against measured soil temperatures",
		Long: `Runs the soil column over each station's own weather and prints how far it was
off from December to March (June to September in the south), by winter and depth.

The folder holds ` + validation.SitesFile + ` (site,file,latitude,longitude,elevation_m,soil,surface)
and a file of hours for each site: time, air_c, soil_5cm_c and other depths, and
dew_point_c or humidity_fraction, wind_ms, cloud_fraction, precip_mm, snow_depth_cm
and shortwave_wm2 as they are known; .gz allowed. surface is bare, stand, grass or
litter. The first year of a record is run once before, to start from a soil of the
place.`,
		Args: only(0, "name the folder with --observations"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			opt := validation.Options{SnowGiven: snow == "given", SpinUp: true}
			switch {
			case folder == "":
				return bad(errors.New("--observations is missing: name a folder with " + validation.SitesFile))
			case snow != "given" && snow != "modelled":
				return bad(fmt.Errorf("--snow %q: must be given or modelled", snow))
			}
			return validate(cmd, folder, opt, asJSON)
		},
	}
	cmd.Flags().StringVar(&folder, "observations", "", "folder of stations")
	cmd.Flags().StringVar(&snow, "snow", "given", "given: the station's snow depth; modelled: the model's own, from precipitation")
	cmd.Flags().BoolVar(&asJSON, "json", false, "JSON instead of a table")
	return cmd
}

func validate(cmd *cobra.Command, folder string, opt validation.Options, asJSON bool) error {
	stations, err := validation.Load(os.DirFS(folder))
	if err != nil {
		return bad(fmt.Errorf("%s: %w", folder, err))
	}
	bar := newProgress(cmd, "stations", len(stations))
	scores := make([][]validation.Line, len(stations))
	var group errgroup.Group
	group.SetLimit(cores)
	for i, st := range stations {
		group.Go(func() (err error) {
			defer bar.step()
			scores[i], err = validation.Score(st, opt)
			return err
		})
	}
	err = group.Wait()
	bar.done()
	if err != nil {
		return bad(fmt.Errorf("%s: %w", folder, err)) // only the stations' own data can stop it
	}
	var lines []validation.Line
	for _, s := range scores {
		lines = append(lines, s...)
	}
	if len(lines) == 0 {
		return bad(fmt.Errorf("%s: no hour of a winter has both air and a soil temperature", folder))
	}
	if asJSON {
		return printJSON(cmd.OutOrStdout(), scored(lines))
	}
	return validation.WriteTable(cmd.OutOrStdout(), lines)
}

// score is a line of the table for programs.
type score struct {
	Site        string       `json:"site"`
	Winter      string       `json:"winter"`
	DepthCm     float64      `json:"depth_cm"`
	Hours       int          `json:"hours"`
	Bias        unit.Kelvins `json:"bias_k"` // modelled minus observed
	RMSE        unit.Kelvins `json:"rmse_k"`
	MinModelled unit.Celsius `json:"min_modelled_c"`
	MinObserved unit.Celsius `json:"min_observed_c"`
}

func scored(lines []validation.Line) []score {
	out := make([]score, len(lines))
	for i, l := range lines {
		out[i] = score{l.Site, l.Winter, l.DepthCm, l.N, l.Bias, l.RMSE, l.MinModelled, l.MinObserved}
	}
	return out
}
