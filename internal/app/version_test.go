package app

import (
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestABuildIsCalledAfterItsCommit(t *testing.T) {
	info := &debug.BuildInfo{Settings: []debug.BuildSetting{{Key: "vcs", Value: "git"}, {Key: "vcs.revision", Value: "0123456789abcdef"}, {Key: "vcs.modified", Value: "false"}}}
	assert.Equal(t, "dev-0123456", fromBuild(info, true))
	info.Settings[2].Value = "true"
	assert.Equal(t, "dev-0123456+", fromBuild(info, true))
	assert.Equal(t, "dev", fromBuild(&debug.BuildInfo{}, true))
	assert.Equal(t, "dev", fromBuild(nil, false))
}
