package inbound

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"winterstand/internal/message/gsm7"
	"winterstand/internal/message/phrase"
)

// words are sentences for one text, the most important first.
type words []string

func (w words) fit() string { return gsm7.Fit(w...) }

func (t *turn) say(key string, args phrase.Args) words {
	return words{t.speaker(t.reader(), t.reader().zone).Say("text."+key, args)}
}

// unclearMost is how often in an hour a number is told that it was not
// understood: two programs that answer each other must come to an end.
const unclearMost = 5

func (t *turn) unclear(ctx context.Context) (words, error) {
	if t.muted() {
		return nil, nil
	}
	sum := sha256.Sum256([]byte(t.reply.From))
	hour := t.now.Truncate(time.Hour)
	for i := range unclearMost {
		key := fmt.Sprintf("unclear:%s:%d:%d", hex.EncodeToString(sum[:8]), hour.Unix(), i)
		first, err := t.w.UseOnce(ctx, key, hour.Add(2*time.Hour))
		if err != nil {
			return nil, err
		}
		if first {
			return t.notUnderstood(), nil
		}
	}
	return nil, nil
}

func (t *turn) notUnderstood() words {
	for _, a := range t.asked {
		if a.standing() {
			s := t.speaker(a.person, a.person.zone)
			return t.say("unclear", phrase.Args{"bed": t.example(s, a.bed.Name)})
		}
	}
	return t.say("nothing", nil)
}
