package reply

import "slices"

// takeBeds takes the names of beds out of the tokens, the longest first where
// several fit. Not ok: a number may be a name or a weight.
func (v Vocabulary) takeBeds(tokens, beds []string) (rest []string, named [][]int, ok bool) {
	names := v.bedNames(beds)
	after := false // a word for beds began this list of names
	for i := 0; i < len(tokens); {
		n := longest(tokens[i:], names)
		bare := n == 1 && isNumber(tokens[i])
		weight := bare && i+1 < len(tokens) && v.isUnit(tokens[i+1])
		switch {
		case n == 0 || weight:
			after = v.is(tokens[i], bedWord) || after && v.is(tokens[i], and)
			rest = append(rest, tokens[i])
			i++
			continue
		case bare && !after:
			return nil, nil, false
		}
		if same := called(tokens[i:i+n], names); !slices.ContainsFunc(named, func(have []int) bool { return have[0] == same[0] }) {
			named = append(named, same)
		}
		i += n
	}
	if len(named) > 0 {
		rest = slices.DeleteFunc(rest, func(t string) bool { return v.is(t, and) })
	}
	return rest, named, true
}

// bedNames are the tokens of each name; a name that consists of words which mean
// something else cannot be told from them and is left out.
func (v Vocabulary) bedNames(beds []string) [][]string {
	names := make([][]string, len(beds))
	for i, b := range beds {
		if tokens := tokenize(b); slices.ContainsFunc(tokens, v.ownWord) {
			names[i] = tokens
		}
	}
	return names
}

func (v Vocabulary) ownWord(t string) bool { return len(v[t]) == 0 }

func longest(tokens []string, names [][]string) (n int) {
	for _, name := range names {
		if len(name) > n && len(name) <= len(tokens) && slices.Equal(name, tokens[:len(name)]) {
			n = len(name)
		}
	}
	return n
}

func called(name []string, names [][]string) (at []int) {
	for i := range names {
		if slices.Equal(names[i], name) {
			at = append(at, i)
		}
	}
	return at
}

func isNumber(token string) bool { return token[0] >= '0' && token[0] <= '9' }
