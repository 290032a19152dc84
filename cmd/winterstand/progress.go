package main

import (
	"fmt"
	"io"
	"os"
	"sync"

	"github.com/spf13/cobra"
)

// cores is how much long work does at once.
const cores = 2

// progress shows how far long work has come, on a terminal only. Its methods may
// be called from several goroutines.
type progress struct {
	out   io.Writer // nil: not a terminal
	what  string
	total int

	mu sync.Mutex
	n  int
}

func newProgress(cmd *cobra.Command, what string, total int) *progress {
	p := &progress{what: what, total: total}
	if f, ok := cmd.ErrOrStderr().(*os.File); ok && isTerminal(f) {
		p.out = f
	}
	return p
}

func isTerminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// step counts one more.
func (p *progress) step() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.n++
	if p.out != nil {
		fmt.Fprintf(p.out, "\r%d of %d %s", p.n, p.total, p.what)
	}
}

// done clears the line.
func (p *progress) done() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.out != nil {
		fmt.Fprint(p.out, "\r\033[K")
	}
}
