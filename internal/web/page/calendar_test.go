package page

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTheCalendarsAddressIsShownAndCanBeRenewed(t *testing.T) {
	w := newWorld(t)
	g := w.grower()
	g.get("/settings").is(200).says("Calendar")
	page := g.get("/settings/calendar").is(200)
	before, err := w.store.Farm(w.ctx(), w.farmID)
	require.NoError(t, err)
	page.says("/calendar/" + before.CalendarSecret + ".ics")
	g.post("/settings/calendar", page.form("/settings/calendar")).is(303)
	after, err := w.store.Farm(w.ctx(), w.farmID)
	require.NoError(t, err)
	assert.NotEqual(t, before.CalendarSecret, after.CalendarSecret)
	g.get("/settings/calendar").says("/calendar/" + after.CalendarSecret + ".ics").silent(before.CalendarSecret)
}
