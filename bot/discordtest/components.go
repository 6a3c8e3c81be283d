package discordtest

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Discord's types of components.
const (
	typeRow         = 1
	typeButton      = 2
	typeTextSelect  = 3
	typeInput       = 4
	typeUserSelect  = 5
	typeRoleSelect  = 6
	typeWhoSelect   = 7
	typePlaceSelect = 8
	typeSection     = 9
	typeText        = 10
	typeThumbnail   = 11
	typeGallery     = 12
	typeFile        = 13
	typeSeparator   = 14
	typeContainer   = 17
	typeLabel       = 18
	typeUpload      = 19
)

// The flags of messages that are looked at.
const (
	flagEphemeral  = 1 << 6
	flagComponents = 1 << 15 // components of the second version
)

// What components of the second version may hold in one message.
const (
	mostComponents = 40
	mostText       = 4000 // characters, of all texts
)

// component is one component of a message or form, of any type.
type component struct {
	Type        int             `json:"type"`
	CustomID    string          `json:"custom_id"`
	Label       string          `json:"label"`
	Style       int             `json:"style"`
	URL         string          `json:"url"`
	SKU         string          `json:"sku_id"`
	Emoji       json.RawMessage `json:"emoji"`
	Disabled    bool            `json:"disabled"`
	Content     string          `json:"content"`
	Description string          `json:"description"`
	Placeholder string          `json:"placeholder"`
	Value       string          `json:"value"`
	Least       *int            `json:"min_values"`
	Most        *int            `json:"max_values"`
	Shortest    *int            `json:"min_length"`
	Longest     *int            `json:"max_length"`
	Required    *bool           `json:"required"`
	Options     []choosable     `json:"options"`
	Media       *struct {
		URL string `json:"url"`
	} `json:"media"`
	File *struct {
		URL string `json:"url"`
	} `json:"file"`
	Items []struct {
		Media struct {
			URL string `json:"url"`
		} `json:"media"`
		Description string `json:"description"`
	} `json:"items"`
	Accessory  *component  `json:"accessory"`
	Component  *component  `json:"component"`
	Components []component `json:"components"`
}

// choosable is an option of a select.
type choosable struct {
	Label       string `json:"label"`
	Value       string `json:"value"`
	Description string `json:"description"`
}

// components reads a body's components.
func components(parts []any) ([]component, error) {
	text, err := json.Marshal(parts)
	if err != nil {
		return nil, err
	}
	var all []component
	if err := json.Unmarshal(text, &all); err != nil {
		return nil, errForm("components: " + err.Error())
	}
	return all, nil
}

// layout holds the components of one message or form to Discord's rules.
type layout struct {
	ids         map[string]bool
	count, text int
	err         error // the first that was broken
}

// need notes a rule that is broken unless it holds.
func (l *layout) need(holds bool, format string, args ...any) {
	if !holds && l.err == nil {
		l.err = errForm(fmt.Sprintf(format, args...))
	}
}

// within reports whether a text has at least least and at most most characters, and more
// than blanks where it needs any.
func within(text string, least, most int) bool {
	n := utf8.RuneCountInString(text)
	return n >= least && n <= most && (least == 0 || strings.TrimSpace(text) != "")
}

func (l *layout) id(id string) {
	l.need(id != "" && utf8.RuneCountInString(id) <= 100 && !l.ids[id], "custom id %q", id)
	l.ids[id] = true
}

// checkRows holds a message's rows of buttons and selects to Discord's limits.
func checkRows(parts []any) error {
	rows, err := components(parts)
	if err != nil {
		return err
	}
	seen := &layout{ids: map[string]bool{}}
	seen.need(len(rows) <= 5, "more than 5 rows")
	for _, row := range rows {
		seen.need(row.Type == typeRow, "a row of type %d", row.Type)
		seen.row(row)
	}
	return seen.err
}

// checkSecondVersion holds a message of components of the second version to Discord's
// limits.
func checkSecondVersion(parts []any) error {
	all, err := components(parts)
	if err != nil {
		return err
	}
	if len(all) == 0 {
		return refuse(400, 50006, "Cannot send an empty message")
	}
	seen := &layout{ids: map[string]bool{}}
	for _, c := range all {
		seen.block(c, true)
	}
	seen.need(seen.count <= mostComponents, "%d components", seen.count)
	seen.need(seen.text <= mostText, "components with %d characters", seen.text)
	return seen.err
}

// block is one component of the second version; top says that it stands in no container.
func (l *layout) block(c component, top bool) {
	l.count++
	switch c.Type {
	case typeRow:
		l.count += len(c.Components)
		l.row(c)
	case typeText:
		l.display(c)
	case typeSection:
		l.need(len(c.Components) >= 1 && len(c.Components) <= 3, "a section of %d texts", len(c.Components))
		for _, text := range c.Components {
			l.count++
			l.need(text.Type == typeText, "a section holds type %d", text.Type)
			l.display(text)
		}
		l.count++
		switch {
		case c.Accessory == nil:
			l.need(false, "a section without an accessory")
		case c.Accessory.Type == typeButton:
			l.button(*c.Accessory)
		case c.Accessory.Type == typeThumbnail:
			l.need(c.Accessory.Media != nil && c.Accessory.Media.URL != "", "a thumbnail of nothing")
		default:
			l.need(false, "an accessory of type %d", c.Accessory.Type)
		}
	case typeGallery:
		l.need(len(c.Items) >= 1 && len(c.Items) <= 10, "a gallery of %d", len(c.Items))
		for _, item := range c.Items {
			l.need(item.Media.URL != "" && within(item.Description, 0, 1024), "a gallery's item %q", item.Media.URL)
		}
	case typeFile:
		l.need(c.File != nil && strings.HasPrefix(c.File.URL, "attachment://"), "a file that is not attached")
	case typeSeparator:
	case typeContainer:
		l.need(top, "a container in a container")
		l.need(len(c.Components) > 0, "an empty container")
		for _, inner := range c.Components {
			l.block(inner, false)
		}
	default:
		l.need(false, "a component of type %d", c.Type)
	}
}

// display is a text that is shown.
func (l *layout) display(c component) {
	l.need(within(c.Content, 1, mostText), "a text of %d characters", utf8.RuneCountInString(c.Content))
	l.text += utf8.RuneCountInString(c.Content)
}

// row is a row of buttons or of one select.
func (l *layout) row(row component) {
	count := len(row.Components)
	l.need(count >= 1 && count <= 5, "a row of %d parts", count)
	for _, part := range row.Components {
		if part.Type == typeButton {
			l.button(part)
			continue
		}
		l.need(count == 1, "a row of %d parts, one of type %d", count, part.Type)
		l.selects(part)
	}
}

// button is one that is answered by an interaction, or leads to a page.
func (l *layout) button(b component) {
	named := within(b.Label, 1, 80) || b.Label == "" && len(b.Emoji) > 0
	switch {
	case b.Style >= 1 && b.Style <= 4:
		l.id(b.CustomID)
		l.need(named, "button label %q", b.Label)
		l.need(b.URL == "" && b.SKU == "", "button %q leads to %s%s", b.Label, b.URL, b.SKU)
	case b.Style == 5:
		l.need(named, "button label %q", b.Label)
		leads := slices.ContainsFunc([]string{"http://", "https://", "discord://"},
			func(scheme string) bool { return strings.HasPrefix(b.URL, scheme) && len(b.URL) > len(scheme) })
		l.need(leads && len(b.URL) <= 512 && b.CustomID == "" && b.SKU == "", "link button %q to %q, id %q", b.Label,
			b.URL, b.CustomID)
	case b.Style == 6:
		l.need(snowflake.MatchString(b.SKU) && b.CustomID == "" && b.URL == "" && b.Label == "", "premium button")
	default:
		l.need(false, "button style %d", b.Style)
	}
}

// or is a number, or another where there is none.
func or(n *int, other int) int {
	if n == nil {
		return other
	}
	return *n
}

// selects is a select.
func (l *layout) selects(c component) {
	kinds := []int{typeTextSelect, typeUserSelect, typeRoleSelect, typeWhoSelect, typePlaceSelect}
	l.need(slices.Contains(kinds, c.Type), "a part of type %d", c.Type)
	l.id(c.CustomID)
	l.need(within(c.Placeholder, 0, 150), "placeholder over 150 characters")
	least, most := or(c.Least, 1), or(c.Most, 1)
	l.need(least >= 0 && least <= 25 && most >= 1 && most <= 25 && least <= max(most, 1), "a select of %d to %d", least,
		most)
	if c.Type != typeTextSelect {
		l.need(len(c.Options) == 0, "options of a select of type %d", c.Type)
		return
	}
	n := len(c.Options)
	l.need(n >= 1 && n <= 25 && most <= n, "a select of %d options, %d at most chosen", n, most)
	values := map[string]bool{}
	for _, option := range c.Options {
		l.need(within(option.Label, 1, 100) && within(option.Value, 1, 100) && within(option.Description, 0, 100) &&
			!values[option.Value], "option %q of value %q", option.Label, option.Value)
		values[option.Value] = true
	}
}

// input is a text input; one in a row has its own label, one in a label has not.
func (l *layout) input(c component, labelled bool) {
	l.id(c.CustomID)
	if labelled {
		l.need(c.Label == "", "a text input with a label in a label")
	} else {
		l.need(within(c.Label, 1, 45), "text input label %q", c.Label)
	}
	l.need(c.Style == 1 || c.Style == 2, "text input style %d", c.Style)
	l.need(within(c.Placeholder, 0, 100), "placeholder over 100 characters")
	shortest, longest := or(c.Shortest, 0), or(c.Longest, 4000)
	l.need(shortest >= 0 && shortest <= longest && longest >= 1 && longest <= 4000, "text input of %d to %d characters",
		shortest, longest)
	l.need(within(c.Value, 0, longest), "text input's value of %d characters", utf8.RuneCountInString(c.Value))
}

// checkModal holds a form to Discord's limits.
func checkModal(data map[string]any) error {
	title, _ := data["title"].(string)
	id, _ := data["custom_id"].(string)
	all, err := components(list(data, "components"))
	if err != nil {
		return err
	}
	seen := &layout{ids: map[string]bool{}}
	seen.need(within(title, 1, 45) && id != "" && utf8.RuneCountInString(id) <= 100 && len(all) >= 1 && len(all) <= 5,
		"modal %q with %d components", title, len(all))
	for _, one := range all {
		switch one.Type {
		case typeRow:
			seen.need(len(one.Components) == 1 && one.Components[0].Type == typeInput,
				"a form's row takes one text input")
			for _, part := range one.Components {
				seen.input(part, false)
			}
		case typeLabel:
			seen.need(within(one.Label, 1, 45) && within(one.Description, 0, 100), "label %q", one.Label)
			switch {
			case one.Component == nil:
				seen.need(false, "label %q of nothing", one.Label)
			case one.Component.Type == typeInput:
				seen.input(*one.Component, true)
			case one.Component.Type == typeUpload:
				seen.id(one.Component.CustomID)
				least, most := or(one.Component.Least, 1), or(one.Component.Most, 1)
				seen.need(least >= 0 && least <= most && most >= 1 && most <= 10, "an upload of %d to %d", least, most)
			default:
				seen.need(!one.Component.Disabled, "a select that is disabled")
				seen.selects(*one.Component)
			}
		case typeText:
			seen.display(one)
		default:
			seen.need(false, "a form's component of type %d", one.Type)
		}
	}
	return seen.err
}

// Button is one button of a reply.
type Button struct {
	Label, ID string
	URL       string // that it leads to; it has no ID then
	Disabled  bool
}

// buttons are a message's, wherever they stand in it.
func buttons(m *Message) (all []Button) {
	var parts []component
	if json.Unmarshal(m.Components, &parts) != nil {
		return nil
	}
	var collect func(list []component)
	collect = func(list []component) {
		for _, one := range list {
			if one.Type == typeButton {
				all = append(all, Button{one.Label, one.CustomID, one.URL, one.Disabled})
			}
			collect(one.Components)
			if one.Accessory != nil {
				collect([]component{*one.Accessory})
			}
		}
	}
	collect(parts)
	return all
}
