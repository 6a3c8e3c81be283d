package domain

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"regexp"
	"strings"
)

// personKeys are the keys under which people's ids stand in what is stored as JSON: of
// facts, set-ups, settings and notices. A test holds them against the types.
var personKeys = map[string]bool{
	"by": true, "Call": true, "person": true, "deputy": true,
	"taken": true, "people": true, "seen": true, "second": true,
}

// mention is how a chat mentions a person in a text.
var mention = regexp.MustCompile(`<@!?([0-9A-Za-z_-]+)>`)

// PeopleIn lists, each once, the ids of people that stand in stored JSON, as such or as
// mentions in its texts.
func PeopleIn(text []byte) (all []PersonID, err error) {
	known := map[PersonID]bool{"": true}
	add := func(id string) {
		if p := PersonID(id); !known[p] {
			known[p], all = true, append(all, p)
		}
	}
	_, err = walkStrings(text, func(key, value string) string {
		if personKeys[key] {
			add(value)
		}
		for _, found := range mention.FindAllStringSubmatch(value, -1) {
			add(found[1])
		}
		return value
	})
	return all, err
}

// RenamePerson is stored JSON with another id in place of a person's; mentions in its texts
// become FormerMember. Everything else stays as it is, to the byte.
func RenamePerson(text []byte, p, former PersonID) ([]byte, error) {
	return walkStrings(text, func(key, value string) string {
		if personKeys[key] && value == string(p) {
			return string(former)
		}
		return unmentioned(value, p)
	})
}

// unmentioned is a text with FormerMember in place of a person's mentions.
func unmentioned(text string, p PersonID) string {
	return mention.ReplaceAllStringFunc(text, func(found string) string {
		if mention.FindStringSubmatch(found)[1] == string(p) {
			return FormerMember
		}
		return found
	})
}

// RenameTyped is a command as it was given, with another id in place of a person's where it
// is an option's value, and FormerMember in place of mentions.
func RenameTyped(typed string, p, former PersonID) string {
	typed = unmentioned(typed, p)
	option := regexp.MustCompile(`(\b(?:for|deputy|call):"?@?)` + regexp.QuoteMeta(string(p)) + `("|\s|$)`)
	return option.ReplaceAllString(typed, "${1}"+string(former)+"${2}")
}

// jsonLevel is an object or an array that is open.
type jsonLevel struct {
	object bool
	key    string // of the value that is read; an array's is that under which it stands
	value  bool   // of an object: a value comes next, not a key
}

// walkStrings is JSON with each string value replaced by what visit makes of it, given the
// key under which it stands; what visit leaves alone stays as it is written.
func walkStrings(text []byte, visit func(key, value string) string) ([]byte, error) {
	reader := json.NewDecoder(bytes.NewReader(text))
	var out bytes.Buffer
	var open []jsonLevel
	copied := int64(0) // how far the text is in out
	for {
		token, err := reader.Token()
		if errors.Is(err, io.EOF) && len(open) == 0 {
			break
		}
		if err != nil {
			return nil, err
		}
		var at *jsonLevel
		if len(open) > 0 {
			at = &open[len(open)-1]
		}
		key := ""
		if at != nil {
			key = at.key
		}
		switch token := token.(type) {
		case json.Delim:
			if token == '}' || token == ']' {
				open = open[:len(open)-1]
				continue
			}
			if at != nil && at.object {
				at.value = false
			}
			open = append(open, jsonLevel{object: token == '{', key: key})
			continue
		case string:
			if at != nil && at.object && !at.value {
				at.key, at.value = token, true
				continue
			}
			if now := visit(key, token); now != token {
				written, err := json.Marshal(now)
				if err != nil {
					return nil, err
				}
				end := reader.InputOffset()
				// The string's own quotes: it ends where the reader stands.
				begin := beginOfString(text[:end])
				out.Write(text[copied:begin])
				out.Write(written)
				copied = end
			}
		}
		if at != nil && at.object {
			at.value = false
		}
	}
	if copied == 0 {
		return text, nil
	}
	out.Write(text[copied:])
	return out.Bytes(), nil
}

// beginOfString is where the string begins that a text ends with.
func beginOfString(text []byte) int64 {
	i := len(text) - 2
	for ; i >= 0; i-- {
		if text[i] != '"' {
			continue
		}
		// A quote after an odd number of backslashes is part of it.
		slashes := len(text[:i]) - len(strings.TrimRight(string(text[:i]), `\`))
		if slashes%2 == 0 {
			break
		}
	}
	return int64(i)
}
