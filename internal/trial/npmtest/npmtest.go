// Package npmtest runs what other people wrote, from testdata/npm, over what
// winterstand makes: parsers, checkers and reference libraries of the Node
// registry. Tests only; nothing of it is shipped.
package npmtest

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
)

// Required is the variable that turns a missing tool from a skip into a failure.
const Required = "WINTERSTAND_REQUIRE_NPM"

// folder holds the scripts and, after `npm ci`, their libraries.
func folder() string {
	_, here, _, _ := runtime.Caller(0)
	return filepath.Join(filepath.Dir(here), "..", "..", "..", "testdata", "npm")
}

// Need skips the test loudly, or fails it where Required is 1, when Node or its
// libraries are not there.
func Need(t *testing.T) {
	t.Helper()
	_, node := exec.LookPath("node")
	_, libraries := os.Stat(filepath.Join(folder(), "node_modules"))
	if node == nil && libraries == nil {
		return
	}
	const how = "node or testdata/npm/node_modules is missing: install Node and run `npm ci --prefix testdata/npm`"
	if os.Getenv(Required) == "1" {
		t.Fatal(how)
	}
	t.Skipf("NOT CHECKED: %s (%s=1 makes this a failure)", how, Required)
}

// Run gives a value as JSON to a script of testdata/npm and reads its JSON answer.
func Run(t *testing.T, script string, in, out any) {
	t.Helper()
	Need(t)
	body, err := json.Marshal(in)
	if err != nil {
		t.Fatalf("%s: %v", script, err)
	}
	cmd := exec.CommandContext(t.Context(), "node", filepath.Join(folder(), script))
	cmd.Stdin = bytes.NewReader(body)
	var wrong bytes.Buffer
	cmd.Stderr = &wrong
	answer, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", script, err, wrong.String())
	}
	if err := json.Unmarshal(answer, out); err != nil {
		t.Fatalf("%s answered no JSON: %v\n%.500s", script, err, answer)
	}
}
