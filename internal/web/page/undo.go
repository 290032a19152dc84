package page

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// undoFor is how long a bed that was ended by one press can be put back: gloves
// press the wrong button, and a bed that has ended is watched by nobody.
const undoFor = time.Hour

// undo puts back a bed that an answer has ended.
type undo struct{ Action, CSRF, Label, Proof string }

const undoPurpose = "undo"

// unknownKg stands in a proof for a weight that nobody knew.
const unknownKg = "-"

func (v *visit) standingOf(farmID, noticeID int64) (unit.Maybe[float64], error) {
	n, err := v.books().Notice(v.ctx(), farmID, noticeID)
	if err != nil || n.BedID == 0 {
		return unit.None[float64](), err
	}
	b, err := v.books().Bed(v.ctx(), farmID, n.BedID)
	return b.StandingKg, err
}

// undoOf offers to put back a bed that this very answer has ended; stood is what
// it held before.
func (v *visit) undoOf(token string, noticeID int64, out commands.Answered, stood unit.Maybe[float64]) *undo {
	b, ok := out.Bed.Get()
	if out.Repeat || !ok || !b.ClearedAt.Known() {
		return nil
	}
	kg := unknownKg
	if v, ok := stood.Get(); ok {
		kg = strconv.FormatInt(int64(v*1000+0.5), 36) // grams: a proof holds no dot
	}
	proof := v.Signer.Token(undoPurpose, v.now.Add(undoFor), strconv.FormatInt(noticeID, 36), strconv.FormatInt(b.ID, 36),
		strconv.FormatInt(b.Version, 36), kg)
	return &undo{Action: "/a/" + token + "/undo", CSRF: v.formSecret(token), Label: v.say("answer.undo", "bed", b.Name), Proof: proof}
}

func undoAnswer(v *visit) error {
	m, token, err := v.message()
	if err != nil {
		return err
	}
	if err := v.ownAnswer(token); err != nil {
		return err
	}
	name, err := v.putBack(m)
	if err != nil {
		return err
	}
	return v.answerPage(http.StatusOK, m, token, answerPage{Done: v.say("did.undone", "bed", name)})
}

// putBack lets a bed stand again as it did, if nothing else has touched it since.
// The answer is followed by another, so that the last word is not that it is out.
func (v *visit) putBack(m store.Message) (name string, err error) {
	parts, err := v.Signer.Read(undoPurpose, v.r.PostForm.Get("proof"), v.now)
	if err != nil || len(parts) != 4 {
		return "", errUndo
	}
	var ids [3]int64
	for i := range ids {
		ids[i], _ = strconv.ParseInt(parts[i], 36, 64) // signed by us
	}
	if !slices.Contains(m.NoticeIDs, ids[0]) {
		return "", errUndo
	}
	err = v.Commands.Store.Write(v.ctx(), func(w store.Writer) error {
		b, err := w.Bed(v.ctx(), m.FarmID, ids[1])
		if err != nil {
			return err
		}
		if b.Version != ids[2] || !b.ClearedAt.Known() {
			return errUndo
		}
		name, b.ClearedAt, b.StandingKg = b.Name, unit.None[time.Time](), kgOf(parts[3])
		if err := w.UpdateBed(v.ctx(), b); err != nil {
			return err
		}
		seen := farm.Answer{FarmID: m.FarmID, NoticeID: ids[0], BedID: b.ID, RecipientID: m.RecipientID, Answer: farm.Seen, At: v.now}
		if _, err := w.AddAnswer(v.ctx(), seen); err != nil {
			return err
		}
		return v.judgeAgain(w, m.FarmID, b.FieldID)
	})
	if err != nil {
		return "", fmt.Errorf("put back bed %d: %w", ids[1], err)
	}
	return name, nil
}

func kgOf(part string) unit.Maybe[float64] {
	grams, err := strconv.ParseInt(part, 36, 64)
	if err != nil {
		return unit.None[float64]()
	}
	return unit.Some(float64(grams) / 1000)
}

func (v *visit) judgeAgain(w store.Writer, farmID, fieldID int64) error {
	f, err := w.Field(v.ctx(), farmID, fieldID)
	if err != nil {
		return err
	}
	if f.CellID == 0 {
		return w.Enqueue(v.ctx(), store.Job{FieldID: f.ID})
	}
	return w.Enqueue(v.ctx(), store.Job{CellID: f.CellID})
}
