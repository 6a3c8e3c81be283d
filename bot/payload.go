package bot

import (
	"setscrew/commands"
	"setscrew/commands/words"
)

// The bodies of requests, as Discord's API describes them. The library's own
// lack fields that are needed here (nonces, alternative texts) and send some
// that are not.

// mentions says whom a message may notify: by default nobody.
type mentions struct {
	Parse []string `json:"parse"`
	Roles []string `json:"roles,omitempty"`
	Users []string `json:"users,omitempty"`
}

var nobody = mentions{Parse: []string{}}

// body is a message as it is sent or edited.
type body struct {
	Content      string       `json:"content"`
	Flags        int          `json:"flags,omitempty"`
	Components   []row        `json:"components"`
	Mentions     mentions     `json:"allowed_mentions"`
	Attachments  []attachment `json:"attachments,omitempty"`
	Nonce        string       `json:"nonce,omitempty"`
	EnforceNonce bool         `json:"enforce_nonce,omitempty"`
}

// The flags of a message.
const (
	flagEphemeral = 1 << 6  // an answer that only who asked sees
	flagSilent    = 1 << 12 // it stands in its channel, and no phone makes a sound
)

type attachment struct {
	ID          string `json:"id"`
	Filename    string `json:"filename"`
	Description string `json:"description"`
}

// row is a row of buttons, or of one text input.
type row struct {
	Type       int    `json:"type"` // 1
	Components []part `json:"components"`
}

// part is a button (type 2) or a text input (type 4).
type part struct {
	Type        int    `json:"type"`
	Style       int    `json:"style"`
	Label       string `json:"label"`
	CustomID    string `json:"custom_id"`
	Value       string `json:"value,omitempty"`
	Placeholder string `json:"placeholder,omitempty"`
	Required    *bool  `json:"required,omitempty"`
	MaxLength   int    `json:"max_length,omitempty"`
}

// answer is an interaction's first answer.
type answer struct {
	Type int `json:"type"`
	Data any `json:"data,omitempty"`
}

// The types of first answers.
const (
	answerMessage       = 4
	answerDeferred      = 5
	answerUpdate        = 7
	answerChoices       = 8
	answerModal         = 9
	answerDeferredPress = 6
)

// The styles of a form's fields.
const (
	fieldShort = 1
	fieldLong  = 2
)

type modal struct {
	Title      string `json:"title"`
	CustomID   string `json:"custom_id"`
	Components []row  `json:"components"`
}

type choices struct {
	Choices []choice `json:"choices"`
}

type choice struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

var buttonStyles = map[commands.Style]int{commands.Plain: 2, commands.Primary: 1, commands.Grave: 4}

// rows lays buttons out, five to a row.
func rows(buttons []commands.Button) []row {
	all := []row{}
	for i, button := range buttons {
		if i%5 == 0 {
			all = append(all, row{Type: 1})
		}
		last := &all[len(all)-1]
		last.Components = append(last.Components,
			part{Type: 2, Style: buttonStyles[button.Style], Label: button.Label, CustomID: button.Custom})
	}
	return all
}

// form is a reply's form.
func form(f *commands.Form) modal {
	opened := modal{Title: f.Title, CustomID: f.Custom}
	for _, field := range f.Fields {
		required := field.Required
		style, most := fieldShort, 100
		if field.Long {
			style, most = fieldLong, 4000
		}
		opened.Components = append(opened.Components,
			row{1, []part{{Type: 4, Style: style, Label: field.Label, CustomID: field.ID, Value: field.Value,
				Placeholder: words.Clean(field.Example), Required: &required, MaxLength: most}}})
	}
	return opened
}

// bodies are a reply as messages: the first answers, the others follow. The
// buttons stand on the last.
func bodies(reply commands.Reply) []body {
	var all []body
	for _, p := range pages(lines(reply)) {
		b := body{Content: p, Components: []row{}, Mentions: nobody}
		if reply.Quiet {
			b.Flags = flagEphemeral
		}
		all = append(all, b)
	}
	all[len(all)-1].Components = rows(reply.Buttons)
	return all
}
