package reply

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
)

// Word is what a reply means.
type Word string

// Words. The first four are the answers to a notice; Unknown must be asked
// about, never guessed.
const (
	Harvested Word = farm.Harvested
	Covered   Word = farm.Covered
	LeaveIt   Word = farm.LeaveIt
	Seen      Word = farm.Seen
	Stop      Word = "stop"
	Start     Word = "start"
	Help      Word = "help"
	Unknown   Word = ""
)

var meanings = []Word{Harvested, Covered, LeaveIt, Seen, Stop, Start, Help}

// What else a word may be.
const (
	stopAlone = "stop_alone" // ends messages by itself only: "cancel the harvest" means something else
	filler    = "filler"     // may stand beside a meaning without changing it
	bedWord   = "bed"        // may stand before a bed's name, and must before a mere number
	and       = "and"        // joins names; elsewhere it is not understood
	kilogram  = "kilogram"
	pound     = "pound"
)

// section of the phrase files that lists the words.
const section = "answer_words."

// Vocabulary holds the words of every language: for each what it is, by the
// members of the section. All are understood, whoever writes.
type Vocabulary map[string][]string

// Read takes the words out of the phrase files. It fails when a language has no
// word for a meaning, when one would not be read as a whole, and when one word
// would be two things.
func Read(b *phrase.Book) (Vocabulary, error) {
	v := Vocabulary{}
	others := []string{stopAlone, filler, bedWord, and, kilogram, pound}
	for _, language := range b.Languages() {
		for _, w := range meanings {
			if err := v.learn(string(w), b.Say(language, section+string(w), nil), true); err != nil {
				return nil, fmt.Errorf("phrases %s.toml: %s%s: %w", language, section, w, err)
			}
		}
		for _, key := range others {
			if err := v.learn(key, b.Say(language, section+key, nil), false); err != nil {
				return nil, fmt.Errorf("phrases %s.toml: %s%s: %w", language, section, key, err)
			}
		}
	}
	return v, nil
}

func (v Vocabulary) learn(key, list string, needed bool) error {
	words := strings.Fields(list)
	if needed && len(words) == 0 {
		return errors.New("names no word")
	}
	for _, word := range words {
		tokens := tokenize(word)
		if len(tokens) != 1 || isNumber(tokens[0]) {
			return fmt.Errorf("%q must be one word of letters", word)
		}
		if err := v.add(tokens[0], key); err != nil {
			return err
		}
	}
	return nil
}

// add refuses what a word cannot be beside what it is. ALL may be an answer or
// go with one, BED may go with a name or without.
func (v Vocabulary) add(token, key string) error {
	beside := []string{filler, string(Harvested), bedWord}
	for _, is := range v[token] {
		if is == key {
			return nil
		}
		if is != filler && key != filler || !slices.Contains(beside, is) || !slices.Contains(beside, key) {
			return fmt.Errorf("%s is listed as %q too; a word is one thing in all languages", token, is)
		}
	}
	v[token] = append(v[token], key)
	return nil
}

func (v Vocabulary) is(token, key string) bool { return slices.Contains(v[token], key) }

// meaning of a token as an answer.
func (v Vocabulary) meaning(token string) Word {
	for _, w := range meanings {
		if v.is(token, string(w)) {
			return w
		}
	}
	return Unknown
}

func (v Vocabulary) isUnit(token string) bool { return v.is(token, kilogram) || v.is(token, pound) }
