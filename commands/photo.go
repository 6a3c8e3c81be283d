package commands

import (
	"encoding/json"

	"setscrew/commands/words"
	"setscrew/domain"
)

// photoOption is a picture that a report comes with.
var photoOption = Option{Name: "photo", Takes: Attachment}

// photo reads the option that refers to a picture: what the chat says of it, or
// a name.
func photo(option string) *domain.Photo {
	if option == "" {
		return nil
	}
	var p domain.Photo
	if err := json.Unmarshal([]byte(option), &p); err != nil || p.ID == "" {
		return &domain.Photo{ID: words.Clean(option), Name: words.Clean(option)}
	}
	return &domain.Photo{ID: words.Clean(p.ID), Name: words.Clean(p.Name), URL: words.Clean(p.URL)}
}
