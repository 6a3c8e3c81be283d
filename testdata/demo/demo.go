// Package demo holds the demo shop: invented people, machines and numbers.
package demo

import _ "embed"

// Name is the demo shop's.
const Name = "Quarry Street Commons"

// Script sets the demo shop up: lines of a rehearsal, played quietly before it
// begins.
//
//go:embed quarry-street.script
var Script string
