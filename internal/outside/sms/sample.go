package sms

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"strings"
)

// awkward is what a template must carry unharmed: every sign that JSON, forms,
// addresses and markup treat as their own.
var awkward = fields{
	To: "+15555550123", From: "+15555550100", Key: "sample-key",
	Text: "Bed \"3\" \\ a&b=c d+e%20f #1 <g> 'h'; -6C\nñ @ / ? end",
}

// try renders a sample at start-up and looks whether number and text arrive as
// they were, so that a wrong template is found now and not in the cold night.
func (f form) try() error {
	r, err := f.render(awkward)
	if err != nil {
		return err
	}
	u, err := checkURL(r.url)
	if err != nil {
		return err
	}
	other, err := f.render(fields{To: "+4915555550123", Text: "x", Key: "k", From: "f"})
	if err != nil {
		return err
	}
	if o, err := checkURL(other.url); err != nil || o.Host != u.Host {
		return errors.New("sms url: the host must not depend on the message")
	}
	return arrives(r, u)
}

func checkURL(s string) (*url.URL, error) {
	u, err := url.Parse(s)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || strings.ContainsAny(s, " \"<>\n") {
		return nil, errors.New("sms url: a rendered sample is no http or https address; escape fields in it with {{query …}}")
	}
	return u, nil
}

// arrives reads the sample back the way a gateway would.
func arrives(r request, u *url.URL) error {
	values, err := formValues(u.RawQuery)
	if err != nil {
		return fmt.Errorf("sms url: a rendered sample has a broken query (%w); escape fields in it with {{query …}}", err)
	}
	kind := r.headers.Get("Content-Type")
	hint := "escape it as the body needs"
	switch {
	case r.body == "":
		hint = "write {{query .Text}} into sms url"
	case strings.Contains(kind, "json"):
		hint = "write {{json .Text}}, without quotes around it"
		var v any
		if err := json.Unmarshal([]byte(r.body), &v); err != nil {
			return fmt.Errorf("sms body: a rendered sample is not valid JSON (%w); %s", err, hint)
		}
		values = append(values, jsonStrings(v)...)
	case strings.Contains(kind, "x-www-form-urlencoded"):
		hint = "write {{form .Text}}"
		more, err := formValues(r.body)
		if err != nil {
			return fmt.Errorf("sms body: a rendered sample is no valid form (%w); %s", err, hint)
		}
		values = append(values, more...)
	default:
		return nil // another format: it rendered, more cannot be told
	}
	return carried(values, hint)
}

func carried(values []string, hint string) error {
	text, number := false, false
	for _, v := range values {
		text = text || v == awkward.Text
		number = number || strings.Contains(v, strings.TrimPrefix(awkward.To, "+"))
	}
	if !text {
		return fmt.Errorf("sms body: the text does not arrive as it was, or not at all; %s", hint)
	}
	if !number {
		return errors.New("sms body: the number of the recipient does not arrive; write {{.To}}, escaped like the text")
	}
	return nil
}

func formValues(s string) ([]string, error) {
	parsed, err := url.ParseQuery(s)
	var all []string
	for _, v := range parsed {
		all = append(all, v...)
	}
	return all, err
}

// jsonStrings collects every string in a JSON value.
func jsonStrings(v any) []string {
	var all []string
	switch v := v.(type) {
	case string:
		all = append(all, v)
	case []any:
		for _, e := range v {
			all = append(all, jsonStrings(e)...)
		}
	case map[string]any:
		for _, e := range v {
			all = append(all, jsonStrings(e)...)
		}
	}
	return all
}
