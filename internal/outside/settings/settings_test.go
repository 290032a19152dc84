package settings

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func write(t *testing.T, text string) string {
	t.Helper()
	p := filepath.Join(t.TempDir(), "winterstand.toml")
	require.NoError(t, os.WriteFile(p, []byte(text), 0o600))
	return p
}

const contacts = "[forecast.nws]\ncontact = \"grower@example.org\"\n[forecast.metno]\ncontact = \"grower@example.org\"\n"

func TestUnknownKeyIsNamedWithItsLine(t *testing.T) {
	_, err := Load(write(t, "database = \"sqlite:x.db\"\nlissten = \":8080\"\n"), true, nil)
	require.Error(t, err)
	assert.Contains(t, err.Error(), "winterstand.toml:2: unknown key \"lissten\"")
}

func TestWrongTypeIsNamedWithItsLine(t *testing.T) {
	_, err := Load(write(t, "[mail]\nport = \"many\"\n"), true, nil)
	require.Error(t, err)
	assert.Contains(t, err.Error(), "winterstand.toml:2:")
}

func TestEnvironmentOverridesAndSecretsComeFromFiles(t *testing.T) {
	secret := filepath.Join(t.TempDir(), "pw")
	require.NoError(t, os.WriteFile(secret, []byte("s3cret\n"), 0o600))
	s, err := Load(write(t, contacts), true, []string{
		"WINTERSTAND_FORECAST_NWS_BASE_URL=http://127.0.0.1:9/", "WINTERSTAND_MAIL_PORT=2525",
		"WINTERSTAND_FORECAST_SOURCES=metno", "WINTERSTAND_MAIL_PASSWORD_FILE=" + secret, "HOME=/",
	})
	require.NoError(t, err)
	assert.Equal(t, "http://127.0.0.1:9/", s.Forecast.NWS.BaseURL)
	assert.Equal(t, 2525, s.Mail.Port)
	assert.Equal(t, []string{"metno"}, s.Forecast.Sources)
	assert.Equal(t, "s3cret", s.Mail.Password)
	assert.NotContains(t, strings.Join(s.Print(), "\n"), "s3cret")
}

func TestUnknownEnvironmentIsAnError(t *testing.T) {
	_, err := Load(write(t, contacts), true, []string{"WINTERSTAND_LISTN=:1"})
	assert.ErrorContains(t, err, "WINTERSTAND_LISTN: no such setting")
}

func TestEveryBadValueIsNamed(t *testing.T) {
	s, err := Load(write(t, "database = \"mysql://x\"\nlisten = \"8080\"\npublic_url = \"here\"\n[service]\nstop_within = \"soon\"\n[schedule]\npoll = \"often\"\n"), true, nil)
	require.NoError(t, err)
	err = s.Validate()
	for _, want := range []string{"database", "listen", "public_url", "service.stop_within", "forecast.nws.contact", "schedule.poll"} {
		assert.ErrorContains(t, err, "settings "+want)
	}
}

// Each setting alone is wrong and is named with what would be right.
func TestEachWrongSettingIsNamedWithWhatIsRight(t *testing.T) {
	for _, c := range []struct {
		name  string
		wrong func(*Settings)
		says  string
	}{
		{"a database file without a name", func(s *Settings) { s.Database = "sqlite:" }, "settings database: must be sqlite:PATH"},
		{"no source", func(s *Settings) { s.Forecast.Sources = nil }, "settings forecast.sources: needs at least one"},
		{"an unknown source", func(s *Settings) { s.Forecast.Sources = []string{"nws", "frogs"} }, `settings forecast.sources: "frogs" is not one of`},
		{"nws without its address", func(s *Settings) { s.Forecast.NWS.BaseURL = "api" }, "settings forecast.nws.base_url"},
		{"metno without a contact", func(s *Settings) { s.Forecast.MetNo.Contact = " " }, "settings forecast.metno.contact"},
		{"openmeteo without a contact", func(s *Settings) { s.Forecast.Sources, s.Forecast.OpenMeteo.Contact = []string{"openmeteo"}, "" }, "settings forecast.openmeteo.contact"},
		{"mail from nobody", func(s *Settings) { s.Mail.Host, s.Mail.From = "mail.example.org", "" }, "settings mail.from: must be the sender's address"},
		{"mail with half a lock", func(s *Settings) { s.Mail.Host, s.Mail.From, s.Mail.TLS = "mail.example.org", "w@example.org", "some" }, `settings mail.tls: "some" must be`},
		{"a short secret", func(s *Settings) { s.SMS.InboundSecret = "fifteen letters" }, "settings sms.inbound_secret: has 15 characters; it must have at least 16"},
		{"a gateway without http", func(s *Settings) { s.SMS.URL = "ftp://gateway.example.org" }, "settings sms.url"},
		{"an address without a host", func(s *Settings) { s.PublicURL = "https://" }, "settings public_url"},
		{"never weekly", func(s *Settings) { s.Schedule.Weekly = "sundays" }, "settings schedule.weekly"},
		{"never daily", func(s *Settings) { s.Schedule.Daily = "" }, "settings schedule.daily"},
		{"never swept", func(s *Settings) { s.Schedule.Sweep = "x" }, "settings schedule.sweep"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Load(write(t, contacts), true, nil)
			require.NoError(t, err)
			require.NoError(t, s.Validate())
			c.wrong(&s)
			err = s.Validate()
			require.ErrorContains(t, err, c.says)
			assert.NotContains(t, err.Error(), "\n", "nothing else is wrong")
		})
	}
}

// A gateway's secret of sixteen characters will do, and what is not used is not asked for.
func TestWhatIsNotUsedNeedsNoSettings(t *testing.T) {
	s, err := Load(write(t, contacts), true, nil)
	require.NoError(t, err)
	s.SMS.InboundSecret = "sixteen letters!"
	s.Mail.Host, s.Mail.From, s.Mail.TLS = "", "", "some"
	s.Forecast.Sources, s.Forecast.MetNo.Contact = []string{"nws"}, ""
	assert.NoError(t, s.Validate())
}

func TestStopWithinIsATimeAboveZero(t *testing.T) {
	d, err := Default().Service.StopTime()
	require.NoError(t, err)
	assert.Equal(t, time.Minute, d)
	s, err := Load(write(t, contacts), true, []string{"WINTERSTAND_SERVICE_STOP_WITHIN=2m"})
	require.NoError(t, err)
	d, err = s.Service.StopTime()
	require.NoError(t, err)
	assert.Equal(t, 2*time.Minute, d)
	for _, bad := range []string{"", "0s", "-1s", "60", "soon"} {
		_, err := Service{StopWithin: bad}.StopTime()
		assert.ErrorContains(t, err, "like 60s", bad)
	}
	_, err = Load(write(t, "[service]\nstop_within = 60\n"), true, nil)
	assert.ErrorContains(t, err, "winterstand.toml:2:", "a number is no time")
}

func TestPasswordInADatabaseURLIsHidden(t *testing.T) {
	s := Default()
	s.Database = "postgres://grower:s3cret@db/winterstand"
	assert.NotContains(t, strings.Join(s.Print(), "\n"), "s3cret")
}

func TestTheClockStartsWhereItIsToldAndRunsOn(t *testing.T) {
	now, err := Now([]string{"WINTERSTAND_NOW=2024-01-11T17:15:00Z"})
	require.NoError(t, err)
	start := time.Date(2024, 1, 11, 17, 15, 0, 0, time.UTC)
	assert.WithinDuration(t, start, now(), time.Minute)
	_, err = Now([]string{"WINTERSTAND_NOW=yesterday"})
	assert.ErrorContains(t, err, "must be a time like")
}

func TestTheExampleIsReadStrictlyAndWorks(t *testing.T) {
	s, err := Load(filepath.Join("..", "..", "..", "config", "winterstand.example.toml"), true, nil)
	require.NoError(t, err)
	require.NoError(t, s.Validate())
}
