package row

import "winterstand/internal/farm"

// FarmValues are name, units, language, time_zone, currency, notice_lead_s,
// moved_step_s, blind_after_s, wind_chill_limit_c, still_watching, crew,
// wanted, calendar_secret.
func FarmValues(f farm.Farm) ([]any, error) {
	return values(
		text("name", f.Name), text("units", f.Units), text("language", f.Language),
		text("time_zone", f.TimeZone), text("currency", f.Currency),
		seconds(f.NoticeLead), seconds(f.MovedStep), seconds(f.BlindAfter),
		number("wind_chill_limit_c", f.WindChillLimit), f.StillWatching,
		list("crew", f.Crew), list("wanted", f.Wanted), textOrNull("calendar_secret", f.CalendarSecret),
	)
}

// ScanFarm reads id, the columns of FarmValues, created_at, version.
func ScanFarm(scan Scan) (f farm.Farm, err error) {
	err = scan(&f.ID, &f.Name, &f.Units, &f.Language, &f.TimeZone, &f.Currency,
		duration{&f.NoticeLead}, duration{&f.MovedStep}, duration{&f.BlindAfter},
		&f.WindChillLimit, &f.StillWatching, nestedOf(&f.Crew), nestedOf(&f.Wanted),
		orEmpty{&f.CalendarSecret}, instant{&f.CreatedAt}, &f.Version)
	return f, err
}

// TokenValues are hash, farm_id, scope, created_at, revoked_at.
func TokenValues(t farm.Token) ([]any, error) {
	return values(text("hash", t.Hash), t.FarmID, text("scope", t.Scope),
		Instant(t.CreatedAt), maybeInstant(t.RevokedAt))
}

// ScanToken reads the columns of TokenValues.
func ScanToken(scan Scan) (t farm.Token, err error) {
	err = scan(&t.Hash, &t.FarmID, &t.Scope, instant{&t.CreatedAt}, maybeAt{&t.RevokedAt})
	return t, err
}

// RecipientValues are name, email, phone, language, units, quiet_from,
// quiet_to, kinds, muted_sms, muted_mail, removed_at.
func RecipientValues(r farm.Recipient) ([]any, error) {
	return values(
		text("name", r.Name), text("email", r.Email), text("phone", r.Phone),
		text("language", r.Language), text("units", r.Units),
		text("quiet_from", r.QuietFrom), text("quiet_to", r.QuietTo), list("kinds", r.Kinds),
		r.MutedSMS, list("muted_mail", r.MutedMail), maybeInstant(r.RemovedAt),
	)
}

// ScanRecipient reads id, farm_id, the columns of RecipientValues, created_at, version.
func ScanRecipient(scan Scan) (r farm.Recipient, err error) {
	err = scan(&r.ID, &r.FarmID, &r.Name, &r.Email, &r.Phone, &r.Language, &r.Units,
		&r.QuietFrom, &r.QuietTo, nestedOf(&r.Kinds), &r.MutedSMS, nestedOf(&r.MutedMail),
		maybeAt{&r.RemovedAt}, instant{&r.CreatedAt}, &r.Version)
	return r, err
}
