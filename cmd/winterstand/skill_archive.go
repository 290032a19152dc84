package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/skill"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/trial/archive"
)

// archiveFlags say which forecasts of the past are to be played.
type archiveFlags struct {
	place
	archive, observations, crops, soil, zone string
	spread, asIssued                         bool
}

// needs says what an issue must have to be played.
const needs = "it takes observed days before the issue, a low for the next morning, and 20 days with both minimum and maximum around each date"

// archiveCrops span tender to tough leaves and a root.
const archiveCrops = "lettuce-head,chard,kale-curly,spinach,carrot"

func (f *archiveFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.archive, "archive", "", "CSV of issued forecast lows, or a folder of them")
	cmd.Flags().StringVar(&f.observations, "observations", "", "CSV of observed days, or a folder with one for each station")
	cmd.Flags().StringVar(&f.crops, "crop", archiveCrops, "with --archive: crops, commas between")
	cmd.Flags().StringVar(&f.soil, "soil", string(microclimate.Loam), "with --archive: "+joined(microclimate.Soils()))
	cmd.Flags().StringVar(&f.zone, "time-zone", "", "with --archive: IANA zone of its days (default: that of the place)")
	cmd.Flags().BoolVar(&f.spread, "tolerance-spread", false, "with --archive: let the members' crops differ as the service does; the truth knows one tolerance")
	cmd.Flags().BoolVar(&f.asIssued, "as-issued", false, "with --archive: do not learn from the station's own earlier issues")
	f.place.add(cmd)
}

// play judges the archive's forecasts.
func (f *archiveFlags) play(cmd *cobra.Command) (score skill.Report, lows []archive.LeadError, err error) {
	opt, err := f.options()
	if err != nil {
		return score, nil, bad(err)
	}
	stations, err := f.stations(cmd)
	if err != nil {
		return score, nil, err
	}
	bar := newProgress(cmd, "issues", issues(stations))
	opt.Played = bar.step
	r, err := archive.Replay(stations, opt)
	bar.done()
	if err != nil {
		return score, nil, bad(err) // only what is in the files can stop it
	}
	if r.Issues == 0 {
		return score, nil, bad(fmt.Errorf("%s: none of %s could be played: %s", f.archive, counted(r.Short, "issue"), needs))
	}
	if r.Short > 0 {
		fmt.Fprintf(cmd.ErrOrStderr(), "%s: %s left out: %s\n", f.archive, counted(r.Short, "issue"), needs)
	}
	score, err = skill.Score(r.Rows, skill.DefaultOptions())
	return score, r.Errors, err
}

func (f *archiveFlags) options() (archive.Options, error) {
	soil, err := microclimate.ParseSoil(f.soil)
	if err != nil {
		return archive.Options{}, fmt.Errorf("--soil: %w", err)
	}
	crops, err := cropsOf(f.crops)
	if err != nil {
		return archive.Options{}, err
	}
	zone, err := f.place.zoneOf(f.zone)
	if err != nil {
		return archive.Options{}, err
	}
	site := f.place.site(soil)
	return archive.Options{Site: site, Zone: zone, Crops: crops, Workers: cores, Spread: f.spread, Learn: !f.asIssued}, site.Check()
}

// stations reads the archive and the days that came at each station.
func (f *archiveFlags) stations(cmd *cobra.Command) ([]archive.Station, error) {
	if f.observations == "" {
		return nil, bad(errors.New("--observations is missing: name the days that came, date,tmin_c,tmax_c"))
	}
	lows, err := f.lows(cmd)
	if err != nil {
		return nil, err
	}
	var out []archive.Station
	for _, l := range lows {
		i := slices.IndexFunc(out, func(s archive.Station) bool { return s.Name == l.Station })
		if i < 0 {
			i, out = len(out), append(out, archive.Station{Name: l.Station})
		}
		out[i].Lows = append(out[i].Lows, l)
	}
	for i := range out {
		if out[i].Days, err = f.days(cmd, out[i].Name, len(out)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// lows reads every file of the archive.
func (f *archiveFlags) lows(cmd *cobra.Command) ([]weatherfile.Low, error) {
	files, err := filesOf(f.archive)
	if err != nil {
		return nil, bad(fmt.Errorf("--archive: %w", err))
	}
	var all []weatherfile.Low
	for _, name := range files {
		lows, skipped, err := readLows(name)
		if err != nil {
			return nil, err
		}
		if skipped > 0 {
			fmt.Fprintf(cmd.ErrOrStderr(), "%s: %s without a low left out\n", name, counted(skipped, "line"))
		}
		all = append(all, lows...)
	}
	return all, nil
}

func readLows(name string) ([]weatherfile.Low, int, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, 0, bad(fmt.Errorf("--archive: %w", err))
	}
	defer file.Close()
	lows, skipped, err := weatherfile.ReadLows(file, name)
	return lows, skipped, readFault(err)
}

// filesOf is a file, or the CSV files of a folder by name.
func filesOf(path string) ([]string, error) {
	info, err := os.Stat(path)
	if err != nil || !info.IsDir() {
		return []string{path}, err
	}
	var out []string
	err = filepath.WalkDir(path, func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && isTable(name) {
			out = append(out, name)
		}
		return err
	})
	if err == nil && len(out) == 0 {
		err = fmt.Errorf("%s: no .csv or .csv.gz in the folder", path)
	}
	return out, err
}

func isTable(name string) bool {
	return strings.HasSuffix(name, ".csv") || strings.HasSuffix(name, ".csv.gz")
}

// days reads what was observed at one station.
func (f *archiveFlags) days(cmd *cobra.Command, station string, stations int) ([]weatherfile.Day, error) {
	name, err := f.observed(station, stations)
	if err != nil {
		return nil, bad(err)
	}
	file, err := readWeather(cmd, name, "--observations", &f.place)
	if err != nil {
		return nil, err
	}
	if file.Form == weatherfile.Hourly {
		return nil, bad(fmt.Errorf("%s: has a line for each hour; write one for each day, %s", name, strings.Join(weatherfile.DailyColumns, ",")))
	}
	return file.Days, nil
}

// observed names the file of a station's days.
func (f *archiveFlags) observed(station string, stations int) (string, error) {
	info, err := os.Stat(f.observations)
	if err != nil {
		return "", fmt.Errorf("--observations: %w", err)
	}
	if !info.IsDir() {
		if stations > 1 {
			return "", fmt.Errorf("--observations %s: the archive holds %d stations; name a folder with one file for each, STATION.csv", f.observations, stations)
		}
		return f.observations, nil
	}
	for _, ending := range []string{".csv", ".csv.gz"} {
		name := filepath.Join(f.observations, filepath.Base(station)+ending)
		if _, err := os.Stat(name); err == nil {
			return name, nil
		}
	}
	return "", fmt.Errorf("--observations %s: no file %s.csv for that station", f.observations, station)
}

// issues counts them, for the progress.
func issues(stations []archive.Station) int {
	type key struct {
		station string
		at      int64
		on      string
	}
	seen := map[key]bool{}
	for _, s := range stations {
		for _, l := range s.Lows {
			k := key{station: s.Name, on: string(l.IssuedOn)}
			if at, ok := l.Issued.Get(); ok {
				k.at, k.on = at.Unix(), ""
			}
			seen[k] = true
		}
	}
	return len(seen)
}
