package commands

import "winterstand/internal/unit"

// WhatIfInput is what would be done to a bed, as handed in.
type WhatIfInput struct {
	Cover           Optional[string]  `json:"cover,omitzero" doc:"Another cover"`
	MulchCm         Optional[float64] `json:"mulch_cm,omitzero" doc:"Straw, cm" example:"10"`
	HarvestFraction Optional[float64] `json:"harvest_fraction,omitzero" doc:"Share of what stands that would be harvested now" example:"0.5"`
}

// WhatIf is the question when it is right; what is missing stays as it is.
type WhatIf struct {
	Cover           unit.Maybe[string]
	MulchCm         unit.Maybe[float64]
	HarvestFraction unit.Maybe[float64]
}

// Ask checks a what-if. Errors: *Invalid.
func (in WhatIfInput) Ask() (q WhatIf, err error) {
	var c check
	acceptMaybe(&c, "cover", in.Cover, oneOf("cover.kind"), &q.Cover, same[string])
	acceptMaybe(&c, "mulch_cm", in.MulchCm, within("whatif.mulch_cm"), &q.MulchCm, same[float64])
	acceptMaybe(&c, "harvest_fraction", in.HarvestFraction, within("whatif.harvest_fraction"), &q.HarvestFraction, same[float64])
	return q, c.err()
}
