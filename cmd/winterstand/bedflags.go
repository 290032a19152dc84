package main

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/unit"
)

// place is where a weather file was measured.
type place struct{ latitude, longitude, elevation float64 }

// bedFlags say what stands where, for the commands that work on files.
type bedFlags struct {
	place
	crop, soil, cover string
	mulchCm           float64
}

func (f *bedFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.crop, "crop", "chard", "a crop of the catalogue")
	cmd.Flags().StringVar(&f.cover, "cover", string(microclimate.NoCover), "what lies over the bed: "+joined(microclimate.Covers()))
	cmd.Flags().Float64Var(&f.mulchCm, "mulch-cm", 0, "straw as it was laid, cm")
	cmd.Flags().StringVar(&f.soil, "soil", string(microclimate.Loam), joined(microclimate.Soils()))
	f.place.add(cmd)
}

// The defaults of the place are those of the contract: the western end of the
// Great Lakes.
func (p *place) add(cmd *cobra.Command) {
	cmd.Flags().Float64Var(&p.latitude, "latitude", 46, "degrees north")
	cmd.Flags().Float64Var(&p.longitude, "longitude", -92, "degrees east, west negative")
	cmd.Flags().Float64Var(&p.elevation, "elevation-m", 300, "metres above the sea")
}

// oneCrop finds the crop in the catalogue.
func (f *bedFlags) oneCrop() (crop.Crop, error) {
	crops, err := cropsOf(f.crop)
	if err == nil && len(crops) != 1 {
		err = fmt.Errorf("--crop %q: name one crop", f.crop)
	}
	if err != nil {
		return crop.Crop{}, err
	}
	return crops[0], nil
}

// cropsOf finds the named crops, commas between; empty: all of the catalogue.
func cropsOf(names string) ([]crop.Crop, error) {
	catalogue, err := crop.Default()
	if err != nil {
		return nil, err
	}
	if names == "" {
		return catalogue.All(), nil
	}
	var out []crop.Crop
	for _, name := range strings.Split(names, ",") {
		c, err := catalogue.Find(strings.TrimSpace(name))
		if err != nil {
			return nil, fmt.Errorf("--crop: %w", err)
		}
		out = append(out, c)
	}
	return out, nil
}

// ground is the place and what lies over it.
func (f *bedFlags) ground() (microclimate.Site, microclimate.Cover, error) {
	soil, err := microclimate.ParseSoil(f.soil)
	if err != nil {
		return microclimate.Site{}, "", fmt.Errorf("--soil: %w", err)
	}
	cover, err := microclimate.ParseCover(f.cover)
	if err != nil {
		return microclimate.Site{}, "", fmt.Errorf("--cover: %w", err)
	}
	return f.site(soil), cover, nil
}

func (p *place) site(soil microclimate.Soil) microclimate.Site {
	return microclimate.Site{Latitude: p.latitude, Longitude: p.longitude, ElevationM: p.elevation, Soil: soil}
}

// zoneOf is the named zone, else that of the place.
func (p *place) zoneOf(name string) (*time.Location, error) {
	if name == "" {
		return farm.PlaceOf(farm.Field{Latitude: p.latitude, Longitude: p.longitude}, unit.None[farm.Point]()).Zone, nil
	}
	zone, err := farm.ParseZone(name)
	if err != nil {
		return nil, fmt.Errorf("--time-zone: %w", err)
	}
	return zone, nil
}

// readWeather reads a weather file. Where the file says its place and the flags
// do not, the place is the file's.
func readWeather(cmd *cobra.Command, name, flag string, p *place) (weatherfile.File, error) {
	if name == "" {
		return weatherfile.File{}, bad(fmt.Errorf("%s is missing: name a weather file", flag))
	}
	f, err := os.Open(name)
	if err != nil {
		return weatherfile.File{}, bad(fmt.Errorf("%s: %w", flag, err))
	}
	defer f.Close()
	file, err := weatherfile.Read(f, name, weatherfile.Options{})
	if err != nil {
		return file, readFault(err)
	}
	p.believe(cmd, name, file)
	return file, nil
}

// readFault: what is wrong in a file is the user's to mend, a disk is not.
func readFault(err error) error {
	var fault *weatherfile.Fault
	if errors.As(err, &fault) {
		return bad(err)
	}
	return err
}

func (p *place) believe(cmd *cobra.Command, name string, file weatherfile.File) {
	for _, q := range []struct {
		flag string
		says unit.Maybe[float64]
		to   *float64
	}{{"latitude", file.Latitude, &p.latitude}, {"longitude", file.Longitude, &p.longitude}, {"elevation-m", file.Elevation, &p.elevation}} {
		if v, ok := q.says.Get(); ok && !cmd.Flags().Changed(q.flag) {
			*q.to = v
			fmt.Fprintf(cmd.ErrOrStderr(), "%s: --%s %g is the file's own\n", name, q.flag, v)
		}
	}
	if file.Reordered > 0 {
		fmt.Fprintf(cmd.ErrOrStderr(), "%s: %s stood out of order and put in place\n", name, counted(file.Reordered, "day"))
	}
	for reason, n := range file.Dropped {
		fmt.Fprintf(cmd.ErrOrStderr(), "%s: %s left out: %s\n", name, counted(n, "value"), reason)
	}
}

func joined[T ~string](keys []T) string {
	words := make([]string, len(keys))
	for i, k := range keys {
		words[i] = string(k)
	}
	return strings.Join(words, ", ")
}

// counted writes a number with its noun: "1 hour", "3 hours".
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
