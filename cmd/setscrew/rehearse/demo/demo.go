// Package demo holds the demo shop: invented people, machines and numbers.
package demo

import (
	"embed"
	"path"
	"strings"
)

// Name is the demo shop's.
const Name = "Quarry Street Commons"

// Script sets the demo shop up: lines of a rehearsal, played quietly before it
// begins.
//
//go:embed quarry-street.script
var Script string

//go:embed kinds/*.yaml
var kinds embed.FS

// Kinds lists the small kinds for trying plans out, by name.
func Kinds() []string {
	entries, err := kinds.ReadDir("kinds")
	if err != nil {
		panic(err) // they are embedded
	}
	var all []string
	for _, e := range entries {
		all = append(all, strings.TrimSuffix(path.Base(e.Name()), ".yaml"))
	}
	return all
}

// Kind is the profile's text of one of them; fs.ErrNotExist if there is none.
func Kind(name string) ([]byte, error) { return kinds.ReadFile("kinds/" + name + ".yaml") }
