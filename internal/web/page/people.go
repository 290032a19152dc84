package page

import (
	"fmt"
	"strings"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

var recipientsScreen = Screen{Path: "/recipients", Name: "page.recipients", Routes: func(s *Site, r chi.Router) {
	r.Get("/recipients", s.signed(showRecipients))
	form(s, r, "/recipients/new", newRecipient, addRecipient)
	form(s, r, "/recipients/{id}/change", changeRecipientForm, changeRecipient)
	r.Post("/recipients/{id}/test", s.change(testRecipient))
	r.Post("/recipients/{id}/resume", s.change(resumeMail))
	r.Post("/recipients/{id}/remove", s.change(removeRecipient))
}}

type people struct {
	Mute []string
	All  []person
}

type person struct {
	ID        int64
	Name      string
	Facts     []Fact
	Troubles  []string
	MailMuted bool
}

func showRecipients(v *visit) error {
	recipients, err := v.books().Recipients(v.ctx(), v.farm.ID, store.Page{})
	if err != nil {
		return err
	}
	d := people{}
	if d.Mute, err = v.unheard(); err != nil {
		return err
	}
	for _, r := range recipients {
		d.All = append(d.All, v.person(r))
	}
	return v.show("people", v.say("page.recipients"), d)
}

func (v *visit) person(r farm.Recipient) person {
	p := person{ID: r.ID, Name: r.Name}
	add := func(label, text string) {
		if text != "" {
			p.Facts = append(p.Facts, Fact{v.say("label." + label), text})
		}
	}
	add("email", r.Email)
	add("phone", r.Phone)
	add("language", v.Phrases.Say(r.Language, "language.name", nil))
	add("units", v.say("units."+string(r.Units)))
	if r.QuietFrom != "" {
		add("quiet", r.QuietFrom+"–"+r.QuietTo)
	}
	add("kinds", v.kindNames(r.Kinds, "people.all_kinds"))
	if r.MutedSMS {
		p.Troubles = append(p.Troubles, v.say("people.stopped"))
	}
	if len(r.MutedMail) > 0 {
		p.MailMuted = true
		p.Troubles = append(p.Troubles, v.say("people.muted", "kinds", v.kindNames(r.MutedMail, "")))
	}
	return p
}

func (v *visit) kindNames(kinds []string, none string) string {
	if len(kinds) == 0 && none != "" {
		return v.say(none)
	}
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = v.kind(k)
	}
	return strings.Join(names, ", ")
}

func (v *visit) kind(k string) string { return v.say("kind." + strings.ReplaceAll(k, "-", "_")) }

func (v *visit) recipientForm(r farm.Recipient) *Sheet {
	kinds := v.ask(ticksBox, "kinds", "kinds").from(v.choices("recipient.kinds", "kind", ""))
	kinds.Values = r.Kinds
	email, phone := v.ask(emailBox, "email", "email").with(r.Email), v.ask(telBox, "phone", "phone").with(r.Phone)
	email.Complete, phone.Complete = "email", "tel"
	boxes := []*Box{
		v.ask(textBox, "name", "person_name").must().with(r.Name), email, phone,
		v.ask(choiceBox, "language", "language").from(v.languages("form.like_farm")).with(r.Language),
		v.ask(choiceBox, "units", "units").from(v.choices("farm.units", "units", "form.like_farm")).with(string(r.Units)),
		v.ask(clockBox, "quiet_from", "quiet_from").or("right.quiet").with(r.QuietFrom),
		v.ask(clockBox, "quiet_to", "quiet_to").or("right.quiet").with(r.QuietTo),
		kinds,
	}
	if r.ID == 0 {
		return v.sheet("/recipients/new", "add", boxes...)
	}
	sheet := v.sheet(fmt.Sprintf("/recipients/%d/change", r.ID), "save", boxes...)
	sheet.Version, sheet.Cancel = fmt.Sprint(r.Version), "/recipients"
	return sheet
}

func (s *Sheet) recipient() commands.RecipientInput {
	in := commands.RecipientInput{Name: s.text("name"), Email: s.text("email"), Phone: s.text("phone"), Language: s.text("language"),
		Units: s.text("units"), QuietFrom: s.text("quiet_from"), QuietTo: s.text("quiet_to"), Kinds: s.ticks("kinds")}
	if kinds, ok := in.Kinds.Get(); ok && len(kinds) == 0 {
		in.Kinds = commands.Clear[[]string]()
	}
	return in
}

func newRecipient(v *visit) error {
	return v.show("sheet", v.say("page.new_recipient"), v.recipientForm(farm.Recipient{}))
}

func addRecipient(v *visit) error {
	sheet := v.recipientForm(farm.Recipient{})
	return submit(sheet, v.say("page.new_recipient"), sheet.recipient, func(in commands.RecipientInput) (string, error) {
		_, err := v.Commands.AddRecipient(v.ctx(), v.farm.ID, in)
		return "/recipients?done=recipient_added", err
	})
}

func (v *visit) recipientToChange() (farm.Recipient, error) {
	id, err := v.id()
	if err != nil {
		return farm.Recipient{}, err
	}
	return v.books().Recipient(v.ctx(), v.farm.ID, id)
}

func changeRecipientForm(v *visit) error {
	r, err := v.recipientToChange()
	if err != nil {
		return err
	}
	return v.show("sheet", v.say("page.change", "what", r.Name), v.recipientForm(r))
}

func changeRecipient(v *visit) error {
	r, err := v.recipientToChange()
	if err != nil {
		return err
	}
	sheet := v.recipientForm(r)
	return submit(sheet, v.say("page.change", "what", r.Name), sheet.recipient, func(in commands.RecipientInput) (string, error) {
		_, err := v.Commands.ChangeRecipient(v.ctx(), v.farm.ID, r.ID, sheet.seen(), in)
		return "/recipients?done=saved", err
	})
}

func testRecipient(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	if _, err := v.Commands.SendTest(v.ctx(), v.farm.ID, id); err != nil {
		return err
	}
	return v.to("/recipients", "test_sent")
}

func removeRecipient(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	if err := v.Commands.RemoveRecipient(v.ctx(), v.farm.ID, id, unit.None[int64]()); err != nil {
		return err
	}
	return v.to("/recipients", "removed")
}

// resumeMail takes back every kind of mail that the person had stopped. What
// was stopped by text message only they can take back.
func resumeMail(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	err = v.Commands.Store.Write(v.ctx(), func(w store.Writer) error {
		r, err := w.Recipient(v.ctx(), v.farm.ID, id)
		if err != nil || len(r.MutedMail) == 0 {
			return err
		}
		r.MutedMail = nil
		return w.UpdateRecipient(v.ctx(), r)
	})
	if err != nil {
		return err
	}
	return v.to("/recipients", "resumed")
}
