package page

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/message/link"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

var answerScreen = Screen{Routes: func(s *Site, r chi.Router) {
	r.Get("/a/{token}", s.open(showAnswer))
	r.Post("/a/{token}", s.open(takeAnswer))
	r.Post("/a/{token}/undo", s.open(undoAnswer))
}}

// answerPage is what a link in a message leads to; nobody has to sign in.
type answerPage struct {
	Cards  []*answerCard
	Others []string // notices of the message that want no answer
	Done   string   // what the answer did
	Wrong  string
	Undo   *undo
}

// answerCard is one bed with its buttons.
type answerCard struct {
	Action, CSRF    string
	NoticeID        int64
	Bed, Crop       string
	Head, Told      string
	Standing, Unit  string
	Covers          []Choice
	Ended, Answered string
	Look            string   // the night that is asked about; empty: none is
	Shares          []Choice // of the bed that may have been lost
	Folded          bool     // other answers than the first are folded away: there are several beds
}

// message reads a signed link: the message that it came with.
func (v *visit) message() (store.Message, string, error) {
	token := chi.URLParam(v.r, "token")
	parts, err := v.Signer.Read(deliver.AnswerLink, token, v.now)
	if err != nil || len(parts) != 1 {
		return store.Message{}, "", link.ErrNotSigned
	}
	id, _ := strconv.ParseInt(parts[0], 36, 64) // signed by us
	m, err := v.books().Message(v.ctx(), id)
	if errors.Is(err, store.ErrNotFound) {
		return m, "", link.ErrNotSigned
	}
	if err != nil {
		return m, "", err
	}
	return m, token, v.addressed(m)
}

// addressed takes over the person to whom a message went.
func (v *visit) addressed(m store.Message) error {
	who, err := v.books().Recipient(v.ctx(), m.FarmID, m.RecipientID)
	if errors.Is(err, store.ErrNotFound) || err == nil && who.RemovedAt.Known() {
		return link.ErrNotSigned
	}
	if err != nil {
		return err
	}
	owner, err := v.books().Farm(v.ctx(), m.FarmID)
	if err != nil {
		return err
	}
	v.session = store.Session{} // the link counts, not who else is signed in here
	return v.greet(owner, who)
}

// formSecret shows that a POST came from the page that the link leads to: a
// program that follows links, or posts to them blindly, does not answer.
func (v *visit) formSecret(token string) string {
	return v.Signer.Token("answer-form", v.now.Add(formFor), commands.HashToken(token))
}

func (v *visit) ownAnswer(token string) error {
	if err := v.readForm(); err != nil {
		return err
	}
	parts, err := v.Signer.Read("answer-form", v.r.PostForm.Get("csrf"), v.now)
	if err != nil || !same(parts[0], commands.HashToken(token)) {
		return errForeignForm
	}
	return nil
}

func showAnswer(v *visit) error {
	m, token, err := v.message()
	if err != nil {
		return err
	}
	return v.answerPage(http.StatusOK, m, token, answerPage{})
}

func (v *visit) answerPage(status int, m store.Message, token string, d answerPage) error {
	seen := map[int64]bool{}
	for i := len(m.NoticeIDs) - 1; i >= 0; i-- { // of two about one bed the later counts
		n, err := v.books().Notice(v.ctx(), m.FarmID, m.NoticeIDs[i])
		if err != nil {
			return err
		}
		if n.BedID == 0 || seen[n.BedID] {
			if n.BedID == 0 {
				line, _, err := v.noticeLine(n)
				if err != nil {
					return err
				}
				d.Others = append([]string{line.Text}, d.Others...)
			}
			continue
		}
		seen[n.BedID] = true
		card, err := v.answerCard(n, "/a/"+token, v.formSecret(token))
		if err != nil {
			return err
		}
		d.Cards = append([]*answerCard{card}, d.Cards...)
	}
	for _, c := range d.Cards {
		c.Folded = len(d.Cards) > 1
	}
	v.write(status, "answer", v.say("page.answer"), d)
	return nil
}

// answerCard says what was told about a bed, what holds now, and takes an answer.
func (v *visit) answerCard(n store.Notice, action, csrf string) (*answerCard, error) {
	f, err := v.facts(n)
	if err != nil {
		return nil, err
	}
	j, err := v.oneBed(n.BedID)
	if err != nil {
		return nil, err
	}
	s := v.at(farm.ZoneTold(f.Zone))
	c := &answerCard{Action: action, CSRF: csrf, NoticeID: n.ID, Bed: j.bed.Name, Crop: v.cropName(j.bed.Crop, j.bed.Variety),
		Told: notice.Words(s, f, v.now).Body[0], Unit: massIn(v.speaker.Units).unit}
	for _, choice := range v.choices("cover.kind", "cover", "") {
		if choice.Value != "none" {
			c.Covers = append(c.Covers, choice)
		}
	}
	if kg, ok := j.bed.StandingKg.Get(); ok && kg > 0 {
		c.Standing = v.say("answer.standing", "mass", v.speaker.Units.Mass(kg))
	}
	if t, ok := j.bed.ClearedAt.Get(); ok {
		c.Ended = v.say("bed.cleared", "when", s.When(t))
		return c, nil
	}
	c.Head = v.say("state.unknown") + ". " + v.unseenWhy(j)
	if !j.unseen() {
		c.Head = v.headline(j, j.verdict)
	}
	if n.Kind == notice.Inspect || n.Kind == notice.StandDown && f.Passed {
		c.Look, c.Shares = s.Night(n.Night), v.shares()
	}
	if n.Answer != "" {
		c.Answered = v.say("answer.before", "answer", v.say("reply."+n.Answer))
	}
	return c, nil
}

// answerGiven reads the buttons.
func (v *visit) answerGiven() (commands.AnswerInput, error) {
	in := commands.AnswerInput{Answer: commands.Set(v.field("answer"))}
	switch v.field("answer") {
	case "some":
		kg, err := v.amount("amount", massIn(v.speaker.Units))
		if err != nil {
			return in, err
		}
		in.Answer, in.HarvestedKg = commands.Set(farm.Harvested), commands.Set(kg)
	case farm.Covered:
		in.Cover = commands.Set(v.field("cover"))
	}
	return in, nil
}

// shares are what people can tell apart in a bed after a frost.
func (v *visit) shares() []Choice {
	var out []Choice
	for _, share := range []string{"0", "0.1", "0.3", "0.5", "0.8", "1"} {
		out = append(out, Choice{share, v.say("lost." + strings.ReplaceAll(share, ".", "_"))})
	}
	return out
}

// takeFinding enters what was found after the night of a notice.
func (v *visit) takeFinding(m store.Message, id int64, token string) error {
	n, err := v.books().Notice(v.ctx(), m.FarmID, id)
	if err != nil {
		return err
	}
	share, err := strconv.ParseFloat(v.field("lost"), 64)
	in := commands.FindingInput{BedID: commands.Set(n.BedID), Night: commands.Set(string(n.Night)), LostFraction: commands.Set(share)}
	var wrong *commands.Invalid
	if err == nil {
		_, err = v.Commands.AddFinding(v.ctx(), m.FarmID, in)
	}
	if errors.As(err, &wrong) || errors.Is(err, strconv.ErrSyntax) || errors.Is(err, strconv.ErrRange) {
		return v.answerPage(http.StatusUnprocessableEntity, m, token, answerPage{Wrong: v.say("form.refused")})
	}
	if err != nil {
		return err
	}
	return v.answerPage(http.StatusOK, m, token, answerPage{Done: v.say("did.found")})
}

func takeAnswer(v *visit) error {
	m, token, err := v.message()
	if err != nil {
		return err
	}
	if err := v.ownAnswer(token); err != nil {
		return err
	}
	d, id := answerPage{}, number(v.field("notice"))
	if !slices.Contains(m.NoticeIDs, id) {
		return store.ErrNotFound
	}
	if v.field("answer") == "found" {
		return v.takeFinding(m, id, token)
	}
	in, err := v.answerGiven()
	var stood unit.Maybe[float64]
	if err == nil {
		stood, err = v.standingOf(m.FarmID, id)
	}
	var out commands.Answered
	if err == nil {
		out, err = v.Commands.Answer(v.ctx(), m.FarmID, id, m.RecipientID, in)
	}
	var said *saidWrong
	var wrong *commands.Invalid
	switch {
	case errors.As(err, &said):
		d.Wrong = said.text
	case errors.As(err, &wrong):
		d.Wrong = v.say("form.refused")
	case err != nil:
		return err
	}
	if d.Wrong != "" {
		return v.answerPage(http.StatusUnprocessableEntity, m, token, d)
	}
	d.Done = v.didAnswer(out)
	d.Undo = v.undoOf(token, id, out, stood)
	return v.answerPage(http.StatusOK, m, token, d)
}

// didAnswer says plainly what an answer changed.
func (v *visit) didAnswer(out commands.Answered) string {
	b, ok := out.Bed.Get()
	if out.Repeat || !ok {
		return v.say("did.repeat")
	}
	zone := v.speaker.Zone
	if f, err := v.books().Field(v.ctx(), b.FarmID, b.FieldID); err == nil {
		if at, err := store.PlaceOf(v.ctx(), v.books(), f); err == nil {
			zone = at.Zone
		}
	}
	switch out.Answer.Answer {
	case farm.Harvested:
		return v.didHarvest(out, b)
	case farm.Covered:
		return v.say("did.covered", "bed", b.Name, "cover", v.say("cover."+b.CoverOn(farm.DayOf(v.now, zone))))
	case farm.LeaveIt:
		until, _ := b.QuietUntil.Get()
		return v.say("did.leave_it", "bed", b.Name, "until", v.at(zone).When(until))
	}
	return v.say("did.seen", "bed", b.Name)
}

func (v *visit) didHarvest(out commands.Answered, b farm.Bed) string {
	if b.ClearedAt.Known() {
		return v.say("did.ended", "bed", b.Name)
	}
	kg, _ := out.Answer.HarvestedKg.Get()
	left, known := b.StandingKg.Get()
	if !known {
		return v.say("did.some_unknown", "bed", b.Name, "mass", v.speaker.Units.Mass(kg))
	}
	return v.say("did.some", "bed", b.Name, "mass", v.speaker.Units.Mass(kg), "left", v.speaker.Units.Mass(left))
}
