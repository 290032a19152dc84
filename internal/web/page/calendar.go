package page

import (
	"strings"

	"winterstand/internal/service/commands"
	"winterstand/internal/web/calendar"
)

// calendarPage shows where the farm's calendar can be subscribed to.
type calendarPage struct {
	Address string
	CSRF    string
}

func showCalendar(v *visit) error {
	secret, err := v.Commands.CalendarSecret(v.ctx(), v.farm.ID)
	if err != nil {
		return err
	}
	address := strings.TrimSuffix(v.PublicURL, "/") + calendar.Path(secret)
	return v.show("calendar", v.say("page.calendar"), calendarPage{Address: address, CSRF: v.session.CSRF})
}

func renewCalendar(v *visit) error {
	if _, err := v.Commands.RenewCalendar(v.ctx(), v.farm.ID, commands.Seen{}); err != nil {
		return err
	}
	return v.to("/settings/calendar", "saved")
}
