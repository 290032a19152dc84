package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"winterstand/internal/crop"
	"winterstand/internal/message/phrase"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/season"
	"winterstand/internal/unit"
)

// seasonFlags are what season is asked.
type seasonFlags struct {
	place
	history, crops, covers, soil, units, zone, language string
	mulchCm                                             float64
	asJSON                                              bool
}

// coversCompared: without cover, and the warmest that is put over a bed by hand.
var coversCompared = string(microclimate.NoCover) + "," + string(microclimate.LowTunnelFabric)

func newSeason() *cobra.Command {
	f := &seasonFlags{}
	cmd := &cobra.Command{
		Use:   "season --history FILE",
		Short: "From past winters: by which day each crop had to be out",
		Long: `Plays every winter of a history (1 August to 31 May) with the model of the
service and says for each crop, without and with a cover, by which day it had to
be out in one, five and nine winters of ten, how many weeks it stood past the
first frost, and how many notices a winter brings. In hindsight: without forecast
error. A missing daily maximum is filled in from what is usual in the file; a
winter with a missing minimum is named and does not count.`,
		Args: only(0, "name the file with --history"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runSeason(cmd, f) },
	}
	cmd.Flags().StringVar(&f.history, "history", "", "weather file: CSV by the day or hour, or GHCN-Daily (.gz allowed)")
	cmd.Flags().StringVar(&f.crops, "crop", "", "crops, commas between (default: all of the catalogue)")
	cmd.Flags().StringVar(&f.covers, "cover", coversCompared, "what lies over the beds all winter, several with commas between: "+joined(microclimate.Covers()))
	cmd.Flags().Float64Var(&f.mulchCm, "mulch-cm", 0, "straw as it was laid, cm")
	cmd.Flags().StringVar(&f.soil, "soil", string(microclimate.Loam), joined(microclimate.Soils()))
	cmd.Flags().StringVar(&f.units, "units", string(unit.US), "us or metric")
	cmd.Flags().StringVar(&f.zone, "time-zone", "", "IANA zone of the file's days (default: that of the place)")
	cmd.Flags().StringVar(&f.language, "language", phrase.Fallback, "for the names of crops: "+joined(phrase.Languages()))
	cmd.Flags().BoolVar(&f.asJSON, "json", false, "JSON instead of a table")
	f.place.add(cmd)
	return cmd
}

func runSeason(cmd *cobra.Command, f *seasonFlags) error {
	units, err := unit.ParseSystem(f.units)
	if err != nil {
		return bad(err)
	}
	crops, err := cropsOf(f.crops)
	if err != nil {
		return bad(err)
	}
	file, err := readWeather(cmd, f.history, "--history", &f.place)
	if err != nil {
		return err
	}
	zone, err := f.place.zoneOf(f.zone)
	if err != nil {
		return bad(err)
	}
	beds, err := f.beds(zone)
	if err != nil {
		return bad(err)
	}
	past := newHistory(cmd, f.history, file, f.place, zone)
	if len(past.Years) == 0 {
		return bad(fmt.Errorf("%s: no winter from 1 August to 31 May lies whole within the file; give a longer history", f.history))
	}
	bar := newProgress(cmd, "winters", len(past.Years))
	play := func(w season.Winter) ([]season.Outcome, error) { return playAll(beds, crops, w) }
	outcomes, err := season.Run(past.Years, cores, past.Load, play, func(int) { bar.step() })
	bar.done()
	if err != nil {
		return bad(fmt.Errorf("%s: %w", f.history, err)) // winters come from the file alone
	}
	return f.print(cmd, units, crops, season.Summarise(outcomes))
}

func playAll(beds []season.Bed, crops []crop.Crop, w season.Winter) ([]season.Outcome, error) {
	var all []season.Outcome
	for _, b := range beds {
		got, err := b.Play(crops, w)
		if err != nil {
			return nil, err
		}
		all = append(all, got...)
	}
	return all, nil
}

func (f *seasonFlags) print(cmd *cobra.Command, units unit.System, crops []crop.Crop, o season.Outlook) error {
	if f.asJSON {
		enc := json.NewEncoder(cmd.OutOrStdout())
		enc.SetIndent("", "  ")
		return enc.Encode(o)
	}
	title := func(name string) string {
		i := slices.IndexFunc(crops, func(c crop.Crop) bool { return c.Name == name })
		return crops[i].Title(f.language)
	}
	_, err := fmt.Fprint(cmd.OutOrStdout(), o.Text(units, title))
	return err
}

// beds is one for each cover.
func (f *seasonFlags) beds(zone *time.Location) ([]season.Bed, error) {
	soil, err := microclimate.ParseSoil(f.soil)
	if err != nil {
		return nil, fmt.Errorf("--soil: %w", err)
	}
	site := f.place.site(soil)
	if err := site.Check(); err != nil {
		return nil, err
	}
	var out []season.Bed
	for _, name := range strings.Split(f.covers, ",") {
		cover, err := microclimate.ParseCover(strings.TrimSpace(name))
		if err != nil {
			return nil, fmt.Errorf("--cover: %w", err)
		}
		on := microclimate.Dressing{Cover: cover, MulchCm: f.mulchCm}
		if err := on.Check(); err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(out, func(b season.Bed) bool { return b.Dressing.Cover == cover }) {
			out = append(out, season.Bed{Site: site, Dressing: on, Zone: zone})
		}
	}
	return out, nil
}
