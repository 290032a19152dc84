package inbound

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/outside/sms"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/trial/catcher"
	"winterstand/internal/unit"
)

func TestHarvestedEndsTheBedAndStandsInTheHistory(t *testing.T) {
	l := newLine(t)
	ann, bed := l.ann(), l.bed("A1")
	l.sent(ann, bed)
	assert.Equal(t, "Noted: all of A1 harvested. No more notices about it.", l.says("Harvested"))
	assert.True(t, l.now(bed).ClearedAt.Known())
	answers := l.answers(bed)
	require.Len(t, answers, 1)
	assert.Equal(t, farm.Harvested, answers[0].Answer)
	assert.Equal(t, ann.ID, answers[0].RecipientID)
	assert.Equal(t, "Noted before, nothing changed: A1.", l.says("HARVESTED"))
}

func TestAWeightIsTakenOffOneBed(t *testing.T) {
	l := newLine(t)
	a1, a2 := l.bed("A1"), l.bed("A2")
	l.sent(l.ann(), a1, a2)
	assert.Equal(t, "Which bed? Write its name too, like HARVESTED A1 40 KG. Beds: A1, A2.", l.says("harvested 40 kg"))
	assert.Empty(t, l.answers(a1), "nothing is guessed")
	assert.Equal(t, "Noted: 40 kg harvested of A2, 60 kg still stand and are watched.", l.says("harvested a2 40 kg"))
	assert.Equal(t, unit.Some(60.0), l.now(a2).StandingKg)
	assert.Equal(t, unit.Some(100.0), l.now(a1).StandingKg)
	assert.Equal(t, "Noted: all of A2 harvested. No more notices about it.", l.says("harvested A2 60"))
	assert.True(t, l.now(a2).ClearedAt.Known())
	assert.Contains(t, l.says("harvested 10 kg"), "10 kg harvested of A1, 90 kg", "only one is left")
}

func TestAWordAloneIsAboutAllBedsOfTheLastMessageAndNoOther(t *testing.T) {
	l := newLine(t)
	ann := l.ann()
	old, a1, a2 := l.bed("B1"), l.bed("A1"), l.bed("A2")
	l.sent(ann, old)
	l.sent(ann, a1, a2)
	assert.Contains(t, l.says("covered"), "A1, A2 under light row cover")
	assert.Equal(t, "row_cover_light", l.now(a1).CoverOn("2026-11-16"))
	assert.Equal(t, "Noted: all of A1, A2 harvested. No more notices about it.", l.says("harvested all"))
	assert.Equal(t, "Noted before, nothing changed: A1, A2.", l.says("harvested"), "said twice, the older bed stays")
	assert.False(t, l.now(old).ClearedAt.Known())
	assert.Empty(t, l.answers(old))
	assert.Contains(t, l.says("harvested B1"), "all of B1", "by its name it can be meant")
}

func TestLeaveAndSeen(t *testing.T) {
	l := newLine(t)
	bed := l.bed("A1")
	l.sent(l.ann(), bed)
	assert.Equal(t, "Noted as seen: A1. Nothing else has changed.", l.says("seen"))
	assert.Equal(t, "Noted: A1 left alone until Thu 19 Nov 12:00 CST.", l.says("leave it"))
	assert.True(t, l.now(bed).QuietUntil.Known())
}

func TestSpanishWordsAndWords(t *testing.T) {
	l := newLine(t)
	a, b := l.bed("A1"), l.bed("Ñandú 2")
	ann := l.ann(func(in *commands.RecipientInput) { in.Language = commands.Set("es") })
	l.sent(ann, a, b)
	assert.Contains(t, l.says("Cubierto"), "A1, Ñandu 2 con manta térmica ligera")
	assert.Contains(t, l.says("cosechado nandu 2 12,5 kg"), "12 kg cosechados de Ñandu 2")
	assert.Contains(t, l.says("COSECHÉ bancal A1"), "cosechado todo A1")
	assert.Contains(t, l.says("mañana"), "COSECHADO Ñandu 2")
	assert.Contains(t, l.says("ayuda"), "COSECHADO A1 40 KG")
	assert.Contains(t, l.says("ALTO"), "no recibira mas mensajes")
}

func TestBedsThatAreCalledByNumbersOrAlike(t *testing.T) {
	l := newLine(t)
	ann := l.ann()
	four, five := l.bed("4"), l.bed("5")
	l.sent(ann, four, five)
	assert.Contains(t, l.says("harvested 4"), "HARVESTED BED 4", "a bed or a weight?")
	assert.Contains(t, l.says("harvested bed 4 and 5"), "all of 4, 5 harvested")
	a, b := l.bed("C1"), l.bed("c-1")
	l.sent(ann, a, b)
	assert.Contains(t, l.says("harvested c1"), "More than one bed is called C1")
	assert.False(t, l.now(a).ClearedAt.Known())
	l.sent(ann, b)
	assert.Contains(t, l.says("harvested c1"), "all of c-1", "the one in the last message is meant")
	assert.False(t, l.now(a).ClearedAt.Known())
}

// A text in several parts comes whole; what goes back is two parts at most.
func TestLongTexts(t *testing.T) {
	l := newLine(t)
	ann := l.ann()
	var beds []farm.Bed
	for i := range 12 {
		beds = append(beds, l.bed(fmt.Sprintf("Bed %d by the north wall of the old greenhouse, behind the %s", i, strings.Repeat("é", i))))
	}
	l.sent(ann, beds...)
	assert.Contains(t, l.says("seen"), "Noted as seen: Bed 0 by the north wall")
	assert.Contains(t, l.says("harvested 40 kg"), "Which bed?")
	assert.Contains(t, l.says("nonsense"), "Not understood")
	one := l.bed("A1")
	l.sent(ann, one)
	assert.Contains(t, l.says("Harvested A1, thank you. "+strings.Repeat("thanks, ", 40)+"🥕 40 kg"), "40 kg harvested of A1")
}

func TestARepeatOfTheSameReplyDoesNothing(t *testing.T) {
	l := newLine(t)
	bed := l.bed("A1")
	l.sent(l.ann(), bed)
	for range 3 {
		assert.Equal(t, http.StatusOK, l.post(annPhone, "harvested 30 kg", "same").Code)
		l.clock = l.clock.Add(time.Hour)
	}
	assert.Equal(t, unit.Some(70.0), l.now(bed).StandingKg)
	assert.Len(t, l.caught.Texts(), 1)
	// Without an ID of the gateway's a repeat is the same signed post.
	body, stamp := "from=%2B16125550101&text=harvested+30+kg", fmt.Sprint(l.clock.Unix())
	for range 2 {
		assert.Equal(t, http.StatusOK, l.raw(body, stamp, sms.Sign(secret, stamp, []byte(body))).Code)
	}
	assert.Len(t, l.answers(bed), 1, "the same answer as before, from a new post, is a repeat for the commands")
	assert.Len(t, l.caught.Texts(), 2)
}

func TestWhatIsNotSignedIsNotRead(t *testing.T) {
	l := newLine(t)
	bed := l.bed("A1")
	l.sent(l.ann(), bed)
	body := url.Values{"from": {annPhone}, "text": {"harvested"}, "id": {"x"}}.Encode()
	stamp := fmt.Sprint(l.clock.Unix())
	good := sms.Sign(secret, stamp, []byte(body))
	old := fmt.Sprint(l.clock.Add(-10 * time.Minute).Unix())
	for name, c := range map[string][3]string{
		"no signature":     {body, stamp, ""},
		"another secret":   {body, stamp, sms.Sign("another secret altogether", stamp, []byte(body))},
		"another body":     {body + "&a=b", stamp, good},
		"another time":     {body, fmt.Sprint(l.clock.Unix() + 1), good},
		"too long ago":     {body, old, sms.Sign(secret, old, []byte(body))},
		"half a signature": {body, stamp, good[:32]},
	} {
		assert.Equal(t, http.StatusUnauthorized, l.raw(c[0], c[1], c[2]).Code, name)
	}
	assert.Empty(t, l.answers(bed))
	assert.Equal(t, http.StatusBadRequest, l.raw("text=x", stamp, sms.Sign(secret, stamp, []byte("text=x"))).Code, "signed, but from nobody")
	assert.Equal(t, http.StatusOK, l.raw(body, stamp, "sha256="+good).Code)
}

func TestStrangersAreSlowedDown(t *testing.T) {
	l := newLine(t)
	codes := map[int]int{}
	for range DefaultPerMinute + 10 {
		codes[l.raw("from=1", "0", "").Code]++
	}
	assert.Greater(t, codes[http.StatusTooManyRequests], 0)
	l.ann()
	assert.NotEmpty(t, l.says("help"), "the gateway is not")
}

func TestAnUnknownNumberGetsNothing(t *testing.T) {
	l := newLine(t)
	l.sent(l.ann(), l.bed("A1"))
	for i, text := range []string{"harvested", "STOP", "help", "hello"} {
		assert.Equal(t, http.StatusOK, l.post("+16125550999", text, fmt.Sprint("s", i)).Code)
	}
	assert.Empty(t, l.caught.Texts())
}

func TestWhatIsNotUnderstoodIsAskedABoundedNumberOfTimes(t *testing.T) {
	l := newLine(t)
	l.sent(l.ann(), l.bed("A1"))
	asked := 0
	for range 12 {
		if back := l.says("what do you mean?"); back != "" {
			asked++
			assert.Contains(t, back, "Not understood. Write HARVESTED, COVERED, LEAVE or SEEN")
		}
	}
	assert.Equal(t, unclearMost, asked)
	l.clock = l.clock.Add(2 * time.Hour)
	assert.NotEmpty(t, l.says("what?"))
}

func TestAWeekLaterThereIsNothingToAnswer(t *testing.T) {
	l := newLine(t)
	bed := l.bed("A1")
	l.sent(l.ann(), bed)
	l.clock = l.clock.Add(askedFor)
	assert.Contains(t, l.says("harvested"), "no open notice")
	assert.False(t, l.now(bed).ClearedAt.Known())
}

func TestStopAndStartOnAllFarms(t *testing.T) {
	l := newLine(t)
	l.ann(func(in *commands.RecipientInput) { in.Email = commands.Set("ann@farm.test") })
	first := l.farmID
	l.farmID, l.fieldID = l.farm("Valley Farm")
	l.ann()
	other, err := l.box.Commands.AddRecipient(l.Context(), l.farmID, commands.RecipientInput{Name: commands.Set("Bo"), Email: commands.Set("bo@farm.test"), Kinds: commands.Set([]string{notice.Undelivered})})
	require.NoError(t, err)
	back := l.says("STOP")
	assert.Contains(t, back, "Hill Farm, Valley Farm: no more texts to you.")
	assert.Contains(t, back, "Nobody on Valley Farm gets harvest-before notices now.")
	assert.NotContains(t, back, "Nobody on Hill Farm", "her mail is left there")
	for _, id := range []int64{first, l.farmID} {
		all, err := l.store.Recipients(t.Context(), id, store.Page{})
		require.NoError(t, err)
		assert.True(t, all[0].MutedSMS)
	}
	told, err := l.store.Messages(t.Context(), l.farmID, store.Page{})
	require.NoError(t, err)
	require.Len(t, told, 1, "who can still be reached is told")
	assert.Equal(t, other.ID, told[0].RecipientID)
	assert.Equal(t, store.Email, told[0].Channel)
	assert.Empty(t, l.says("STOP"), "confirmed once")
	assert.Empty(t, l.says("hello?"), "and then silence")
	assert.Contains(t, l.says("START"), "texts are on again")
	one, err := l.store.Recipient(t.Context(), l.farmID, all0(t, l).ID)
	require.NoError(t, err)
	assert.False(t, one.MutedSMS)
}

func all0(t *testing.T, l *line) farm.Recipient {
	all, err := l.store.Recipients(t.Context(), l.farmID, store.Page{})
	require.NoError(t, err)
	return all[0]
}

func TestAnAnswerOfOneWhoHasStoppedCountsInSilence(t *testing.T) {
	l := newLine(t)
	bed := l.bed("A1")
	l.sent(l.ann(), bed)
	l.says("STOP")
	assert.Empty(t, l.says("harvested"))
	assert.True(t, l.now(bed).ClearedAt.Known())
}

// A reply is noted whatever becomes of the text about it, and that text comes
// when the gateway is back, once.
func TestATextBackOutlivesAGatewayThatIsDown(t *testing.T) {
	l := newLine(t)
	bed := l.bed("A1")
	l.sent(l.ann(), bed)
	l.caught.FailTexts(2, catcher.Later)
	l.box.Texter = failing{}
	assert.Empty(t, l.says("harvested"))
	assert.True(t, l.now(bed).ClearedAt.Known())
	l.box.Texter = l.fresh()
	for range 4 {
		require.NoError(t, l.box.Sweep(t.Context()))
		l.box.Texter = l.fresh()
		l.clock = l.clock.Add(2 * time.Minute)
	}
	require.Len(t, l.caught.Texts(), 1)
	assert.True(t, strings.HasPrefix(l.caught.Texts()[0].Key, "re-"))
	require.NoError(t, l.box.Sweep(t.Context()))
	assert.Len(t, l.caught.Texts(), 1)
}

func TestAStaleTextBackIsNotSent(t *testing.T) {
	l := newLine(t)
	l.sent(l.ann(), l.bed("A1"))
	l.box.Texter = failing{}
	assert.Empty(t, l.says("seen"))
	l.box.Texter = l.fresh()
	l.clock = l.clock.Add(staleAfter)
	require.NoError(t, l.box.Sweep(t.Context()))
	assert.Empty(t, l.caught.Texts())
	waiting, err := l.store.Memos(t.Context(), memoKind)
	require.NoError(t, err)
	assert.Empty(t, waiting)
}
