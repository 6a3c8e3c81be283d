package domain

import (
	"setscrew/domain/quantity"
)

// KindReading is the kind of a Reading.
const KindReading Kind = "reading"

// Reading is what a gauge said at every position of one check.
type Reading struct {
	Check  string        `json:"check"`
	Values []quantity.At `json:"values"` // in the check's order of positions
	Gauge  GaugeUsed     `json:"gauge"`
	Typed  string        `json:"typed"` // as it was written
	Mode   string        `json:"mode,omitempty"`
	// Datum is what the check that it follows read then, nil where that is not
	// known; filled in by Complete.
	Datum *DatumRead `json:"datum,omitempty"`
	// Unconfirmed marks values ten times off, which are kept but not believed
	// until somebody says that they are right (a ReadingConfirmed of this fact).
	Unconfirmed bool   `json:"unconfirmed,omitempty"`
	Photo       *Photo `json:"photo,omitempty"`
}

// FactKind is KindReading.
func (Reading) FactKind() Kind { return KindReading }

// DatumRead is what a check read when another was measured from it: for each
// position of that other, the greatest of the values there.
type DatumRead struct {
	Fact     FactNo           `json:"fact"`
	Greatest []quantity.Value `json:"greatest"`
}

// KindInspection is the kind of an Inspection.
const KindInspection Kind = "inspection"

// Inspection is a check that passes or does not.
type Inspection struct {
	Check string `json:"check"`
	Pass  bool   `json:"pass"`
	Note  string `json:"note,omitempty"`
	// Confirms is another person's passing inspection that this one confirms, or
	// 0; filled in by Complete.
	Confirms FactNo `json:"confirms,omitempty"`
	// Surfaces are the checks whose surfaces moved when what had failed was put right;
	// filled in by Complete.
	Surfaces []string `json:"moves,omitempty"`
	Photo    *Photo   `json:"photo,omitempty"`
}

// FactKind is KindInspection.
func (Inspection) FactKind() Kind { return KindInspection }

// KindConfirmation is the kind of a ReadingConfirmed.
const KindConfirmation Kind = "confirmation"

// ReadingConfirmed says that the unlikely values of a reading are right.
type ReadingConfirmed struct {
	Of FactNo `json:"of"`
}

// FactKind is KindConfirmation.
func (ReadingConfirmed) FactKind() Kind { return KindConfirmation }

// KindStudy is the kind of a StudyBegun.
const KindStudy Kind = "study"

// StudyBegun begins a study of how a gauge repeats, for one check: a number of
// parts, each read a number of times by every person who takes part. Its number names it.
type StudyBegun struct {
	Gauge   string    `json:"gauge"`
	Machine MachineID `json:"machine"`
	Check   string    `json:"check"` // id
	Name    string    `json:"name"`  // of the check, as it stood
	// high adjust limit - low one; the allowed difference where there are none
	Tolerance quantity.Value `json:"tolerance"`
	Entry     quantity.Unit  `json:"entry"` // what a bare number is in
	Kind      quantity.Kind  `json:"kind"`
	Parts     int            `json:"parts"`
	Trials    int            `json:"trials"`
}

// FactKind is KindStudy.
func (StudyBegun) FactKind() Kind { return KindStudy }

// KindStudyReading is the kind of a StudyReading.
const KindStudyReading Kind = "study-reading"

// StudyReading is one person's readings of one part in a study.
type StudyReading struct {
	Study  FactNo           `json:"study"`
	Part   int              `json:"part"` // from 1
	Values []quantity.Value `json:"values"`
}

// FactKind is KindStudyReading.
func (StudyReading) FactKind() Kind { return KindStudyReading }
