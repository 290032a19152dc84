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
