package domain

import (
	"setscrew/domain/quantity"
)

// KindHours is the kind of a Hours.
const KindHours Kind = "hours"

// Hours is time for which the machine ran, in whole seconds.
type Hours struct {
	Seconds int64 `json:"seconds"`
}

// FactKind is KindHours.
func (Hours) FactKind() Kind { return KindHours }

// Used is the time as a value.
func (h Hours) Used() quantity.Value { return quantity.New(h.Seconds, 1, quantity.Second) }

// KindCounter is the kind of a CounterRead.
const KindCounter Kind = "counter"

// CounterRead is what a machine's hour counter showed. Unlogged is the use since
// the counter was read before that no Hours report told of: with it, the use
// between two readings of the counter is what the counter says.
type CounterRead struct {
	Seconds  int64 `json:"seconds"`            // what it showed
	New      bool  `json:"new,omitempty"`      // a new counter, or one set back: counted from here
	Rolled   bool  `json:"rolled,omitempty"`   // it went past its last digit since it was read before
	Unlogged int64 `json:"unlogged,omitempty"` // filled in by Complete
}

// FactKind is KindCounter.
func (CounterRead) FactKind() Kind { return KindCounter }

// Since is how far the counter went on since an earlier reading, in seconds: where
// it rolled over, past the next power of ten of hours.
func (c CounterRead) Since(before CounterRead) int64 {
	went := c.Seconds - before.Seconds
	if c.Rolled {
		full := int64(3600)
		for full <= before.Seconds {
			full *= 10
		}
		went += full
	}
	return went
}

// Shown is what the counter showed, as a value.
func (c CounterRead) Shown() quantity.Value { return quantity.New(c.Seconds, 1, quantity.Second) }
