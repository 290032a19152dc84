package app

import (
	"context"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/keeping"
)

// tellPlan writes a plan out in a farm's language and units.
func (s *Service) tellPlan(p plan.Plan, f farm.Farm) string { return p.Text(s.speaker(f, p.Zone)) }

// tellNote says a note on a lot or room in a farm's language and units; such
// notes name no time.
func (s *Service) tellNote(n keeping.Note, f farm.Farm) string {
	return plan.Say(s.speaker(f, time.UTC), n, s.titles(f.Language))
}

// titles gives crops their names in a language.
func (s *Service) titles(language string) func(string) string {
	return func(key string) string {
		c, err := s.Catalogue.Find(key)
		if err != nil {
			return key
		}
		return c.Title(language)
	}
}

// planFor is how many beds must be due in one mail before the plan stands under
// them: for a single bed its own notice says all. Own default.
const planFor = 2

// annex puts the lifting plan under a mail that tells of several beds.
func (s *Service) annex(ctx context.Context, farmID int64, facts []notice.Facts, to phrase.Speaker) (string, error) {
	due := 0
	for _, f := range facts {
		if (f.Kind == notice.HarvestBefore || f.Kind == notice.Moved || f.Kind == notice.LastCall) && f.Verdict != nil && f.Verdict.HarvestBefore.Known() {
			due++
		}
	}
	if due < planFor {
		return "", nil
	}
	p, err := s.Plans.Plan(ctx, farmID)
	if err != nil || len(p.Beds) == 0 {
		return "", err
	}
	return to.Say("plan.in_mail", nil) + "\n" + strings.TrimSpace(p.Text(to)), nil
}
