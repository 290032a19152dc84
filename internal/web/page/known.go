package page

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
)

// known are the facts that a notice was decided on, as they were stored.
func (v *visit) known(n store.Notice, f notice.Facts, s phrase.Speaker) []Fact {
	var out []Fact
	add := func(label, text string) {
		if text != "" {
			out = append(out, Fact{v.say("known." + label), text})
		}
	}
	add("why", v.reasonSaid(f.Why))
	if w := f.Verdict; w != nil {
		add("forecast", notice.ForecastLine(s, w.Forecast, n.IssuedAt))
		if c, ok := w.Tolerance.Get(); ok {
			add("tolerance", s.Temperature(c))
		}
		if c, ok := w.ToleranceThen.Get(); ok {
			add("tolerance_then", s.Temperature(c))
		}
		if c, ok := w.AirLow.Get(); ok {
			add("air_low", s.Temperature(c))
		}
		if c, ok := w.TissueLow.Get(); ok {
			add("tissue_low", s.Temperature(c))
		}
		if p, ok := w.Likelihood.Get(); ok {
			add("likelihood", strconv.FormatFloat(100*p, 'f', 0, 64)+" % ("+s.Chance(p)+")")
		}
		add("cost_loss", strconv.FormatFloat(100*w.CostLoss, 'f', 0, 64)+" %")
		add("cover", v.say("cover."+orNone(w.Cover)))
		if w.MulchCm > 0 {
			add("mulch", s.Units.Depth(w.MulchCm))
		}
		add("members", fmt.Sprint(w.Members))
	}
	if f.LeadHours > 0 {
		add("lead", strconv.FormatFloat(f.LeadHours, 'f', -1, 64)+" h")
		add("moved_step", strconv.FormatFloat(f.MovedStepHours, 'f', -1, 64)+" h")
	}
	if kg, ok := f.StandingKg.Get(); ok {
		add("standing", s.Units.Mass(kg))
	}
	if f.Sight != nil {
		add("missing", notice.Missing(s, f.Sight.Missing))
		add("trouble", strings.Join(notice.Troubles(s, f.Sight.Trouble), "; "))
	}
	return out
}

// reasonSaid says a reason in the reader's words. Notices of before reasons had
// names hold a sentence, which is shown as it is.
func (v *visit) reasonSaid(why notice.Reason) string {
	if key := "why." + string(why); v.speaker.Book.Has(key) {
		return v.say(key)
	}
	return string(why)
}

// answers to a notice, each with who gave it and when.
func (v *visit) answers(n store.Notice, s phrase.Speaker) ([]string, error) {
	list, err := v.books().Answers(v.ctx(), v.farm.ID, n.ID)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, a := range list {
		who := v.say("notices.by_program")
		if a.RecipientID != 0 {
			if r, err := v.books().Recipient(v.ctx(), v.farm.ID, a.RecipientID); err == nil {
				who = r.Name
			}
		}
		text := v.say("reply." + a.Answer)
		if kg, ok := a.HarvestedKg.Get(); ok {
			text += ", " + s.Units.Mass(kg)
		}
		out = append(out, v.say("notices.answer", "answer", text, "who", who, "when", s.When(a.At)))
	}
	return out, nil
}

// messagesLooked is how many of the newest messages are looked through for the
// deliveries of a notice.
const messagesLooked = 2000

// deliveries are the messages that carried a notice.
func (v *visit) deliveries(n store.Notice, s phrase.Speaker) ([]string, error) {
	messages, err := v.books().Messages(v.ctx(), v.farm.ID, store.Page{Limit: messagesLooked})
	if err != nil {
		return nil, err
	}
	names, err := v.names()
	if err != nil {
		return nil, err
	}
	var out []string
	for _, m := range messages {
		if slices.Contains(m.NoticeIDs, n.ID) {
			out = append(out, v.delivery(m, names[m.RecipientID], s))
		}
	}
	return out, nil
}

func (v *visit) names() (map[int64]string, error) {
	recipients, err := v.books().Recipients(v.ctx(), v.farm.ID, store.Page{})
	names := map[int64]string{}
	for _, r := range recipients {
		names[r.ID] = r.Name
	}
	return names, err
}

// delivery says what became of a message.
func (v *visit) delivery(m store.Message, name string, s phrase.Speaker) string {
	if name == "" {
		name = v.say("notices.removed_person")
	}
	when := s.When(m.CreatedAt)
	if t, ok := m.SentAt.Get(); ok {
		when = s.When(t)
	} else if m.State == store.Queued {
		when = s.When(m.NotBefore)
	}
	text := v.say("message."+m.State, "name", name, "channel", v.say("channel."+m.Channel), "when", when)
	if m.LastError != "" {
		text += " " + v.say("message.error", "tries", strconv.Itoa(m.Attempts), "error", m.LastError)
	}
	return text
}
