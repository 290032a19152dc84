package commands

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// FindingInput is what the grower saw after a freeze, as handed in.
type FindingInput struct {
	BedID        Optional[int64]   `json:"bed_id,omitzero" doc:"The bed that was looked at"`
	Night        Optional[string]  `json:"night,omitzero" format:"date" doc:"The night that did it, named by the evening on which it began" example:"2026-11-14"`
	LostFraction Optional[float64] `json:"lost_fraction,omitzero" doc:"Share of the bed that was lost; 0: it came through" example:"0.3"`
	Note         Optional[string]  `json:"note,omitzero" doc:"Anything else that was seen"`
}

// AddFinding enters a finding and asks for a new verdict. Errors: *Invalid.
func (d Service) AddFinding(ctx context.Context, farmID int64, in FindingInput) (f farm.Finding, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		var c check
		var p place
		f = farm.Finding{FarmID: farmID, CreatedAt: d.now()}
		c.needs("finding", in)
		applyFinding(&c, in, &f)
		if p, err = d.findingPlace(ctx, w.Reader, &c, &f); err != nil {
			return err
		}
		if err = c.err(); err != nil {
			return err
		}
		if f.ID, err = w.AddFinding(ctx, f); err != nil {
			return err
		}
		return judgeField(ctx, w, p.Field)
	})
	return f, err
}

func applyFinding(c *check, in FindingInput, f *farm.Finding) {
	accept(c, "bed_id", in.BedID, anID, &f.BedID, same[int64])
	accept(c, "night", in.Night, aDay, &f.Night, day)
	accept(c, "lost_fraction", in.LostFraction, within("finding.lost_fraction"), &f.LostFraction, same[float64])
	acceptOr(c, "note", in.Note, aNote, &f.Note, same[string], "")
}

// findingPlace looks the bed up and refuses a night that has not passed there.
func (d Service) findingPlace(ctx context.Context, r store.Reader, c *check, f *farm.Finding) (place, error) {
	if f.BedID == 0 {
		return place{}, nil
	}
	b, err := r.Bed(ctx, f.FarmID, f.BedID)
	if err != nil {
		return place{}, c.known("bed_id", "bed", f.BedID, err)
	}
	p, err := d.place(ctx, r, f.FarmID, b.FieldID)
	if err != nil {
		return place{}, err
	}
	if today := p.today(d.now()); f.Night >= today {
		c.bad("night", "night_to_come", "day", today.Add(-1))
	}
	return p, nil
}
