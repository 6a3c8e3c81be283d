package domain

import (
	"time"
)

// KindService is the kind of a ServiceDone.
const KindService Kind = "service"

// ServiceDone is a service carried out.
type ServiceDone struct {
	Service  string   `json:"service"`
	Surfaces []string `json:"moves,omitempty"` // the checks whose surfaces it moved
	Note     string   `json:"note,omitempty"`
	Asked    bool     `json:"asked,omitempty"` // a problem or a check asked for it; filled in by Complete
	Took     *Took    `json:"took,omitempty"`  // from the shelf; filled in by Complete
}

// FactKind is KindService.
func (ServiceDone) FactKind() Kind { return KindService }

// KindEvent is the kind of an EventSeen.
const KindEvent Kind = "event"

// EventSeen is something that happened to a machine.
type EventSeen struct {
	Event    string   `json:"event"`
	Surfaces []string `json:"moves,omitempty"` // the checks whose surfaces it moved
	Note     string   `json:"note,omitempty"`
	Took     *Took    `json:"took,omitempty"` // from the shelf; filled in by Complete
}

// FactKind is KindEvent.
func (EventSeen) FactKind() Kind { return KindEvent }

// KindHandover is the kind of a Handover.
const KindHandover Kind = "handover"

// Handover is what whoever goes on with unfinished work is to know.
type Handover struct {
	Apart string `json:"apart"`          // what is apart, or open
	Lock  string `json:"lock,omitempty"` // whose lock is on it
	Next  string `json:"next"`           // the next step
	// Surfaces are the checks whose surfaces that moved: read again before it runs.
	Surfaces []string `json:"moves,omitempty"`
}

// FactKind is KindHandover.
func (Handover) FactKind() Kind { return KindHandover }

// KindTakenOver is the kind of a TakenOver.
const KindTakenOver Kind = "taken-over"

// TakenOver says that somebody has taken a handover over.
type TakenOver struct {
	Of FactNo `json:"of"`
}

// FactKind is KindTakenOver.
func (TakenOver) FactKind() Kind { return KindTakenOver }

// KindPutOff is the kind of a PutOff.
const KindPutOff Kind = "put-off"

// PutOff puts a service off, for a reason, until a moment.
type PutOff struct {
	Service string    `json:"service"`
	Until   time.Time `json:"until"`
	Why     string    `json:"why"`
}

// FactKind is KindPutOff.
func (PutOff) FactKind() Kind { return KindPutOff }

// KindExtended is the kind of an Extended.
const KindExtended Kind = "extended"

// Extended moves the late limit of an inspection, for a reason, by a number of days,
// once until it is made again.
type Extended struct {
	Check string `json:"check"`
	Days  int    `json:"days"`
	Why   string `json:"why"`
}

// FactKind is KindExtended.
func (Extended) FactKind() Kind { return KindExtended }

// KindTaken is the kind of a Taken.
const KindTaken Kind = "taken"

// Taken says that somebody will do a service.
type Taken struct {
	Service string `json:"service"`
}

// FactKind is KindTaken.
func (Taken) FactKind() Kind { return KindTaken }
