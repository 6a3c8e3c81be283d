package words

import (
	"embed"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/nicksnyder/go-i18n/v2/i18n/template"
	"golang.org/x/text/language"
)

//go:embed *.yaml
var files embed.FS

// D is the data that a message's placeholders take.
type D = map[string]any

// Catalogue is every message in every language that there is a file for.
type Catalogue struct {
	bundle *i18n.Bundle
	keys   map[string]bool

	// Missing is told of a key that does not exist or whose placeholders were
	// not all given; Said of every key that was. Both may be nil.
	Missing func(key string, err error)
	Said    func(key string)
}

// Load reads the embedded message files, one a language.
func Load() (*Catalogue, error) {
	cat := &Catalogue{bundle: i18n.NewBundle(language.English), keys: map[string]bool{}}
	cat.bundle.RegisterUnmarshalFunc("yaml", yaml.Unmarshal)
	names, err := fs.Glob(files, "*.yaml")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		f, err := cat.bundle.LoadMessageFileFS(files, name)
		if err != nil {
			return nil, fmt.Errorf("read the words of %s: %w", name, err)
		}
		for _, m := range f.Messages {
			cat.keys[m.ID] = true
		}
	}
	return cat, nil
}

// Has reports whether a message of that key exists.
func (c *Catalogue) Has(key string) bool { return c.keys[key] }

// Keys lists every message's key in order.
func (c *Catalogue) Keys() []string {
	return slices.Sorted(maps.Keys(c.keys))
}

// Speaker says messages in one language.
type Speaker struct {
	c *Catalogue
	l *i18n.Localizer
}

// In is a speaker of the given languages, first choice first, with English
// behind them.
func (c *Catalogue) In(languages ...string) Speaker {
	return Speaker{c, i18n.NewLocalizer(c.bundle, languages...)}
}

// Say is the message of that key with its placeholders filled in. A data value
// N chooses the plural form. Text in data that a person wrote must be guarded
// with User. A key that does not exist says itself, and Missing is told.
func (s Speaker) Say(key string, data D) string {
	if s.c.Said != nil {
		s.c.Said(key)
	}
	if data == nil {
		data = D{}
	}
	cfg := &i18n.LocalizeConfig{MessageID: key, TemplateData: data,
		TemplateParser: &template.TextParser{Option: "missingkey=error"}}
	if n, ok := data["N"]; ok {
		cfg.PluralCount = n
	}
	text, err := s.l.Localize(cfg)
	if err != nil {
		if s.c.Missing != nil {
			s.c.Missing(key, err)
		}
		return key
	}
	return strings.TrimSpace(text)
}
