package notice

import "winterstand/internal/farm"

// over ends an event with its night. Ground that froze shut has hurt nothing
// yet, so there is nothing to look at, and no more to say while it stays shut; a
// night that by the model did no harm is stood down, unless the next danger is in
// sight already.
func (m Moment) over() Decision {
	switch {
	case m.Event.Cause == farm.GroundFrozen && m.Verdict.State == farm.TooLate:
		return m.because(GroundShut)
	case m.Event.Cause == farm.GroundFrozen:
		return m.because(GroundOver)
	case !m.harmless():
		return m.because(NightBeen)
	case m.Verdict.State == farm.Holds:
		return m.because(NightHarmless)
	}
	return m.because(NextDanger)
}

// leastHarm is the share of market quality from whose loss on people are asked
// to look; own default, well under what anyone can see.
const leastHarm = 0.02

// harmless: the model saw the night, and next to nothing was lost in it. What is
// kept for its crown is always worth a look.
func (m Moment) harmless() bool {
	v := m.Verdict
	left, known := m.Event.Left.Get()
	return known && m.Event.Cause != farm.CrownFreeze && v.State != farm.Unknown && !v.AlreadyLost && v.SoldLeft > left-leastHarm
}

// lost: by the model a night took it. That is asked about once, when it is light.
func (m Moment) lost() Decision {
	switch {
	case m.Verdict.Night <= m.Event.Inspected:
		return m.because(AskedAlready)
	case !nightOver(m.Verdict.Night, m.Rules.Zone, m.Now):
		return m.because(Waiting)
	}
	return m.because(NightTook)
}
