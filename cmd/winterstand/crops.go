package main

import (
	"encoding/json"

	"github.com/spf13/cobra"

	"winterstand/internal/crop"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

func newCrops() *cobra.Command {
	var units, language string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "crops [NAME]",
		Short: "List the catalogue, or one crop with every figure and its source",
		Args:  only(1, "name one crop, or none for the list"),
		RunE: func(cmd *cobra.Command, args []string) error {
			system, err := unit.ParseSystem(units)
			if err != nil {
				return bad(err)
			}
			catalogue, err := crop.Default()
			if err != nil {
				return err
			}
			chosen := catalogue.All()
			if len(args) == 1 {
				c, err := catalogue.Find(args[0])
				if err != nil {
					return bad(err)
				}
				chosen = []crop.Crop{c}
			}
			switch {
			case asJSON:
				return printCrops(cmd, chosen)
			case len(args) == 1:
				return crop.Detail(cmd.OutOrStdout(), system, language, chosen[0])
			}
			return crop.Table(cmd.OutOrStdout(), system, chosen)
		},
	}
	cmd.Flags().StringVar(&units, "units", string(unit.US), "us or metric")
	cmd.Flags().StringVar(&language, "language", phrase.Fallback, joined(phrase.Languages()))
	cmd.Flags().BoolVar(&asJSON, "json", false, "JSON instead of a table")
	return cmd
}

func printCrops(cmd *cobra.Command, cs []crop.Crop) error {
	enc := json.NewEncoder(cmd.OutOrStdout())
	enc.SetIndent("", "  ")
	views := make([]crop.View, len(cs))
	for i, c := range cs {
		views[i] = c.View()
	}
	return enc.Encode(views)
}
