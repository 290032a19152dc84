package calendar

import (
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
)

// What a strand is about.
type theme int

const (
	harvest theme = iota
	blind
	stores
)

// strand is what was told about one event, in the order in which it was told.
type strand struct {
	kind    theme
	subject string // "bed:7", "field:3", "lot:2"
	notices []store.Notice
	closed  bool
}

func (s strand) first() store.Notice { return s.notices[0] }
func (s strand) last() store.Notice  { return s.notices[len(s.notices)-1] }

// step is what a kind of notice does to the strand of its subject.
type step struct {
	kind   theme
	starts bool // always begins a strand
	joins  bool // goes into the open one, or begins one
	ends   bool // nothing after it belongs to the same event
	quiet  bool // ends it, and is no part of it
}

var steps = map[notice.Kind]step{
	notice.HarvestBefore: {kind: harvest, starts: true},
	notice.Moved:         {kind: harvest, joins: true},
	notice.LastCall:      {kind: harvest, joins: true},
	notice.StandDown:     {kind: harvest, ends: true},
	notice.Inspect:       {kind: harvest, ends: true, quiet: true},
	notice.Blind:         {kind: blind, joins: true},
	notice.SightAgain:    {kind: blind, ends: true},
	notice.UseBy:         {kind: stores, joins: true},
}

// cut makes strands of notices that come in the order in which they were told.
func cut(notices []store.Notice) []strand {
	var all []*strand
	open := map[string]*strand{}
	for _, n := range notices {
		st, ok := steps[n.Kind]
		if !ok {
			continue
		}
		s := open[n.Subject]
		if s == nil || st.starts {
			if !st.starts && !st.joins {
				continue // the end of what began too long ago to be shown
			}
			s = &strand{kind: st.kind, subject: n.Subject}
			all, open[n.Subject] = append(all, s), s
		}
		if !st.quiet {
			s.notices = append(s.notices, n)
		}
		if st.ends {
			s.closed = true
			delete(open, n.Subject)
		}
	}
	out := make([]strand, len(all))
	for i, s := range all {
		out[i] = *s
	}
	return out
}
