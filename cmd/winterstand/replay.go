package main

import (
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/verdict"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/trial/replay"
	"winterstand/internal/unit"
)

// replayFlags are what replay is asked.
type replayFlags struct {
	bedFlags
	weather, depths, every string
	startC                 float64
	ensemble               bool
}

func newReplay() *cobra.Command {
	f := &replayFlags{}
	cmd := &cobra.Command{
		Use:   "replay --weather FILE",
		Short: "Play one bed over a weather file, as CSV on standard output",
		Long: `Plays one bed over a weather file with the model of the service and prints CSV.
Times are UTC. air_c is the air at the bed, leaf_c its leaves, tolerance_c the
tissue temperature that kills half of what is sold (LT50), kill_fraction the
share injured in the running frost, survival and quality what is alive and what
can be sold, frozen_cm the frozen crust. A root or bulb is judged at its shoulder
in the soil: for it tolerance_c is to be held against the soil's columns.

--every day gives one row a UTC day: the hour with the lowest air, and in it the
day's lowest leaf and soil temperatures, the highest kill_fraction, survival and
quality as the day ends, and whether any hour was workable.

--ensemble adds 10th, 50th and 90th percentiles over ` + strconv.Itoa(verdict.DefaultMembers) + ` members: the same weather
with the error of a forecast of the evening before, the spread of the crop's
tolerance and of the cover's gain, drawn as the service draws them and seeded by
the name of the file.

Files with a day a line are made hourly. Gaps are bridged and named on standard
error; hours without air at the ends are cut off.`,
		Args: only(0, "name the file with --weather"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runReplay(cmd, f) },
	}
	f.bedFlags.add(cmd)
	cmd.Flags().StringVar(&f.weather, "weather", "", "weather file: CSV by the hour or day, or GHCN-Daily (.gz allowed)")
	cmd.Flags().Float64Var(&f.startC, "start-tolerance-c", 0, "LT50 of the sold organ at the first hour, °C (default: usual for place and day)")
	cmd.Flags().StringVar(&f.depths, "depths-cm", "0,5,10,20", "depths at which the soil is read, cm")
	cmd.Flags().StringVar(&f.every, "every", "hour", "hour or day")
	cmd.Flags().BoolVar(&f.ensemble, "ensemble", false, "add percentiles over members")
	return cmd
}

func runReplay(cmd *cobra.Command, f *replayFlags) error {
	file, err := readWeather(cmd, f.weather, "--weather", &f.place)
	if err != nil {
		return err
	}
	bed, err := f.bed(cmd)
	if err != nil {
		return bad(err)
	}
	hours := file.Hours
	if file.Form != weatherfile.Hourly {
		if hours, err = weatherfile.FromDaily(file.Days, f.latitude, f.longitude, time.UTC); err != nil {
			return bad(fmt.Errorf("%s: %w", f.weather, err))
		}
	}
	hours, gaps, err := replay.Hours(hours)
	if err != nil {
		return bad(fmt.Errorf("%s: %w", f.weather, err))
	}
	tellGaps(cmd, f.weather, gaps)
	var members []replay.Member
	if f.ensemble {
		members = replay.Members(verdict.DefaultMembers, filepath.Base(f.weather), hours)
	}
	table := replay.NewTable(cmd.OutOrStdout(), bed.Depths, f.ensemble)
	err = bed.Play(hours, members, func(day []replay.Row) error {
		if f.every == "day" {
			day = []replay.Row{replay.Daily(day)}
		}
		return table.Write(day)
	})
	if err != nil {
		return fmt.Errorf("%s: %w", f.weather, err)
	}
	return nil
}

// bed reads the flags of the bed.
func (f *replayFlags) bed(cmd *cobra.Command) (*replay.Bed, error) {
	if f.every != "hour" && f.every != "day" {
		return nil, fmt.Errorf("--every %q: must be hour or day", f.every)
	}
	c, err := f.oneCrop()
	if err != nil {
		return nil, err
	}
	site, cover, err := f.ground()
	if err != nil {
		return nil, err
	}
	bed := &replay.Bed{
		Class: replay.Plain(site, c, cover, f.mulchCm), Crop: c,
		Limits: bed.Limits{WindChill: farm.DefaultWindChillLimit, CrustCm: bed.UsualCrustCm, SnowCm: bed.UsualSnowCm},
	}
	if cmd.Flags().Changed("start-tolerance-c") {
		bed.Start = unit.Some(unit.Celsius(f.startC))
	}
	for _, text := range strings.Split(f.depths, ",") {
		cm, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil {
			return nil, fmt.Errorf("--depths-cm: %q is not a number; write depths in cm with commas between, like 0,5,10,20", text)
		}
		bed.Depths = append(bed.Depths, cm)
	}
	return bed, bed.Check()
}

// tellGaps says on standard error what of the file could not be used as it is.
func tellGaps(cmd *cobra.Command, name string, g replay.Gaps) {
	say := func(format string, a ...any) { fmt.Fprintf(cmd.ErrOrStderr(), name+": "+format+"\n", a...) }
	if g.CutBefore > 0 {
		say("no air temperature in the first %s: begins at %s", counted(g.CutBefore, "hour"), g.From.Format(time.RFC3339))
	}
	if g.CutAfter > 0 {
		say("no air temperature in the last %s: ends at %s", counted(g.CutAfter, "hour"), g.To.Format(time.RFC3339))
	}
	if g.Bridged > 0 {
		say("air temperature missing in %s between and bridged; %d of them in gaps of more than three hours, where nothing is well known", counted(g.Bridged, "hour"), g.Long)
	}
}
