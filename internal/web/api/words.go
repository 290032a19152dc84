package api

import (
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/validation"

	"winterstand/internal/message/phrase"
)

// huma keeps its error type and its words in package variables; they are ours
// for the whole program, set before the first route.
var speakPlainly = sync.OnceFunc(func() {
	huma.NewError = fromHuma
	huma.ValidateStrictCasing = true
	for words, l := range humasWords() {
		*words = l.String()
	}
})

// humasWords are those of huma's sentences that are said in ours; it fills
// %v, %d and %s itself.
func humasWords() map[*string]phrase.Line {
	return map[*string]phrase.Line{
		&validation.MsgUnexpectedProperty:       because("unknown_member"),
		&validation.MsgExpectedRFC3339DateTime:  because("time"),
		&validation.MsgExpectedRFC3339Date:      phrase.Of("wrong.day"),
		&validation.MsgExpectedBoolean:          because("boolean"),
		&validation.MsgExpectedNumber:           because("number"),
		&validation.MsgExpectedInteger:          because("whole"),
		&validation.MsgExpectedString:           because("text"),
		&validation.MsgExpectedArray:            because("list"),
		&validation.MsgExpectedObject:           because("object"),
		&validation.MsgExpectedMinimumNumber:    because("least", "limit", "%v"),
		&validation.MsgExpectedMaximumNumber:    because("most", "limit", "%v"),
		&validation.MsgExpectedMaxLength:        because("longest", "limit", "%d"),
		&validation.MsgExpectedMaxItems:         because("most_entries", "limit", "%d"),
		&validation.MsgExpectedRequiredProperty: because("member_missing", "field", "%s"),
	}
}
