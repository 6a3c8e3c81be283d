package domain

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

// Fact is anything reported: only ever added. A withdrawal voids one and leaves
// it in place.
type Fact struct {
	No        FactNo
	Shop      ShopID
	Machine   MachineID // 0 for the shop's own settings
	At        time.Time // when it happened
	Recorded  time.Time // when it was typed
	By        PersonID  // who typed it; "" for Setscrew
	For       PersonID  // whom it is about, By unless said otherwise
	Hash      string    // the profile text and set-up it was judged by
	SetupRev  int64
	Withdrawn FactNo // the withdrawal that voids it, or 0
	Body      Body
}

// Body is what a fact says. The types in this file are all there are.
type Body interface{ FactKind() Kind }

// Kind names a type of body, as it is stored.
type Kind string

// The kinds of fact.
const (
	KindHours        Kind = "hours"
	KindCounter      Kind = "counter"
	KindReading      Kind = "reading"
	KindInspection   Kind = "inspection"
	KindProblem      Kind = "problem"
	KindMended       Kind = "mended"
	KindFound        Kind = "found"
	KindService      Kind = "service"
	KindPutOff       Kind = "put-off"
	KindTaken        Kind = "taken"
	KindHandover     Kind = "handover"
	KindTakenOver    Kind = "taken-over"
	KindEvent        Kind = "event"
	KindStock        Kind = "stock"
	KindSet          Kind = "blade-set"
	KindVisits       Kind = "visits"
	KindMove         Kind = "move"
	KindMoveAnswer   Kind = "move-said"
	KindTagOut       Kind = "tag-out"
	KindTest         Kind = "test"
	KindTestEnded    Kind = "test-ended"
	KindRelease      Kind = "release"
	KindWithdrawal   Kind = "withdrawal"
	KindConfirmation Kind = "confirmation"
	KindShop         Kind = "shop"
	KindMachine      Kind = "machine"
	KindSetup        Kind = "set-up"
	KindRetired      Kind = "retired"
	KindGauge        Kind = "gauge"
	KindStudy        Kind = "study"
	KindStudyReading Kind = "study-reading"
)

// Hours is time for which the machine ran, in whole seconds.
type Hours struct {
	Seconds int64 `json:"seconds"`
}

// Used is the time as a value.
func (h Hours) Used() quantity.Value { return quantity.New(h.Seconds, 1, quantity.Second) }

// CounterRead is what a machine's hour counter showed. Unlogged is the use since
// the counter was read before that no Hours report told of: with it, the use
// between two readings of the counter is what the counter says.
type CounterRead struct {
	Seconds  int64 `json:"seconds"`            // what it showed
	New      bool  `json:"new,omitempty"`      // a new counter, or one set back: counted from here
	Rolled   bool  `json:"rolled,omitempty"`   // it went past its last digit since it was read before
	Unlogged int64 `json:"unlogged,omitempty"` // filled in by Complete
}

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
	// until somebody says that they are right (a Confirmation of this fact).
	Unconfirmed bool `json:"unconfirmed,omitempty"`
}

// DatumRead is what a check read when another was measured from it: for each
// position of that other, the greatest of the values there.
type DatumRead struct {
	Fact     FactNo           `json:"fact"`
	Greatest []quantity.Value `json:"greatest"`
}

// GaugeUsed freezes the gauge that a reading was taken with.
type GaugeUsed struct {
	Name        string         `json:"name"`
	Assumed     bool           `json:"assumed"` // the check's own, since none was named
	Resolution  quantity.Value `json:"resolution"`
	Uncertainty quantity.Value `json:"uncertainty"` // expanded, or absent with
	Error       quantity.Value `json:"error"`       // maximum permissible error, ±
	Coverage    float64        `json:"coverage"`    // k of Uncertainty
	Zeroed      bool           `json:"zeroed,omitempty"`

	Repeatability quantity.Value `json:"repeatability"` // standard deviation, absent if never studied
	DoF           float64        `json:"dof,omitempty"` // of Repeatability
	Calibrated    time.Time      `json:"calibrated,omitzero"`
	Interval      int            `json:"interval,omitempty"` // days for which a calibration holds
}

// Calibration says when the gauge was last calibrated and how long that holds.
func (g GaugeUsed) Calibration() metrology.Calibration {
	return metrology.Calibration{On: g.Calibrated, Days: g.Interval}
}

// Metrology is the gauge as the mathematics knows it.
func (g GaugeUsed) Metrology() metrology.Gauge {
	return metrology.Gauge{Resolution: g.Resolution, Error: g.Error, Uncertainty: g.Uncertainty, Coverage: g.Coverage,
		Repeatability: g.Repeatability, DoF: g.DoF, Zeroed: g.Zeroed}
}

// Budget is the budget of one reading with the gauge.
func (g GaugeUsed) Budget() metrology.Budget { return metrology.Evaluate(g.Metrology(), 1, 0, Level) }

// Inspection is a check that passes or does not.
type Inspection struct {
	Check string `json:"check"`
	Pass  bool   `json:"pass"`
	Note  string `json:"note,omitempty"`
	// Confirms is another person's passing inspection that this one confirms, or
	// 0; filled in by Complete.
	Confirms FactNo `json:"confirms,omitempty"`
}

// Problem is a symptom seen, one of the profile's or in free words.
type Problem struct {
	Symptom  string   `json:"symptom,omitempty"` // its id in the profile, or ""
	Name     string   `json:"name"`              // the symptom's name, or the free words
	Note     string   `json:"note,omitempty"`
	Danger   bool     `json:"danger,omitempty"`
	Event    string   `json:"event,omitempty"` // the event that it is at the same time, with
	Surfaces []string `json:"moves,omitempty"` // the checks whose surfaces that moved
	Photo    *Photo   `json:"photo,omitempty"`
	// Returned is the mend that it comes back after, within ReturnHours of use, or 0;
	// filled in by Complete.
	Returned FactNo `json:"returned,omitempty"`
}

// Photo is a picture where the chat keeps it.
type Photo struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	URL  string `json:"url"` // may stop working; ID does not
}

// Key tells problems apart: reports with one key are reports of one thing.
func (p Problem) Key() string {
	if p.Symptom != "" {
		return p.Symptom
	}
	return strings.ToLower(p.Name)
}

// Mended closes the reports of one problem.
type Mended struct {
	Key  string `json:"key"`
	Name string `json:"name"` // as it stood
	Note string `json:"note,omitempty"`
	// Cause is what it was, by its id, or "" where nobody said.
	Cause string `json:"cause,omitempty"`
	// Because is the report that mended it, where Setscrew closed it by itself.
	Because FactNo `json:"because,omitempty"`
}

// Found is the answer to a question about a problem, or what came of looking for one
// of its causes.
type Found struct {
	Key    string `json:"key"`   // the problem's
	About  string `json:"about"` // see QuestionItem and CauseItem
	Answer Answer `json:"answer"`
}

// Answer is an answer in words.
type Answer string

// The answers. A cause that was found settles its problem.
const (
	AnswerYes    Answer = "yes"
	AnswerNo     Answer = "no"
	AnswerUnsure Answer = "unsure"
)

// QuestionItem and CauseItem name what a finding is about.
func QuestionItem(id string) string { return "question:" + id }
func CauseItem(id string) string    { return "cause:" + id }

// ServiceDone is a service carried out.
type ServiceDone struct {
	Service  string   `json:"service"`
	Surfaces []string `json:"moves,omitempty"` // the checks whose surfaces it moved
	Note     string   `json:"note,omitempty"`
	Asked    bool     `json:"asked,omitempty"` // a problem or a check asked for it; filled in by Complete
	Took     *Took    `json:"took,omitempty"`  // from the shelf; filled in by Complete
}

// EventSeen is something that happened to a machine.
type EventSeen struct {
	Event    string   `json:"event"`
	Surfaces []string `json:"moves,omitempty"` // the checks whose surfaces it moved
	Note     string   `json:"note,omitempty"`
	Took     *Took    `json:"took,omitempty"` // from the shelf; filled in by Complete
}

// Handover is what whoever goes on with unfinished work is to know.
type Handover struct {
	Apart string `json:"apart"`          // what is apart, or open
	Lock  string `json:"lock,omitempty"` // whose lock is on it, and where the key is
	Next  string `json:"next"`           // the next step
}

// TakenOver says that somebody has taken a handover over.
type TakenOver struct {
	Of FactNo `json:"of"`
}

// PutOff puts a service off, for a reason, until a moment.
type PutOff struct {
	Service string    `json:"service"`
	Until   time.Time `json:"until"`
	Why     string    `json:"why"`
}

// Taken says that somebody will do a service.
type Taken struct {
	Service string `json:"service"`
}

// Move is a check's adjusters turned, as planned from one reading.
type Move struct {
	Check   string   `json:"check"`
	Also    []string `json:"also,omitempty"` // other checks that they moved
	Reading FactNo   `json:"reading"`
	Turned  []Turns  `json:"turned"`
}

// Turns is one adjuster's move, positive clockwise as seen from the tool's end.
type Turns struct {
	Adjuster string         `json:"adjuster"`
	Turns    quantity.Value `json:"turns"` // of a slide or of shims 0 turns
	// Past is how far it was turned past before it came back; absent for not at all.
	Past quantity.Value `json:"past"`
	// By is how far a slide was moved, positive where readings grow, or how much
	// shim was added; absent for what is turned.
	By quantity.Value `json:"by"`
}

// MoveAnswer answers how a move was made after which readings went the wrong way.
type MoveAnswer struct {
	Of    FactNo    `json:"of"`
	Check string    `json:"check"`
	Said  HowTurned `json:"said"`
}

// HowTurned is what somebody says of a move.
type HowTurned string

// What can be said of a move that went the wrong way.
const (
	TurnedOther  HowTurned = "other-way" // it was turned the other way
	TurnedAsSaid HowTurned = "as-said"   // it was turned as planned: the screw works the other way
)

// TagOut takes a machine out of service.
type TagOut struct {
	Cause   string `json:"cause,omitempty"`   // Cause.Key for one that Assess demanded, "" when a person hung it
	Because FactNo `json:"because,omitempty"` // the report it rests on, or 0
	Reason  Reason `json:"reason"`
	Paper   string `json:"paper,omitempty"` // the paper tag's number, if there is one
}

// UnderTest is a tagged-out machine running for a check by the steward who
// reports it. The return-to-service list was confirmed before.
type UnderTest struct {
	Owner OwnerContact `json:"owner,omitempty"`
	Note  string       `json:"note,omitempty"` // what was found and done
}

// TestEnded ends a test; the machine stays tagged out.
type TestEnded struct {
	Note string `json:"note,omitempty"`
}

// Release lifts every standing tag, ends the test and closes the dangers
// reported.
type Release struct {
	Owner OwnerContact `json:"owner,omitempty"`
	Note  string       `json:"note,omitempty"` // what was found and done
}

// OwnerContact says how the person whose tag is lifted by another was dealt with.
type OwnerContact string

// What a steward can say of a tag's owner.
const (
	OwnerAsked       OwnerContact = "asked"
	OwnerUnreachable OwnerContact = "unreachable"
)

// Withdrawal voids a fact.
type Withdrawal struct {
	Of FactNo `json:"of"`
}

// Confirmation of a reading says that its unlikely values are right.
type ReadingConfirmed struct {
	Of FactNo `json:"of"`
}

// ShopSet is the shop's settings after a change.
type ShopSet struct {
	Shop Shop `json:"shop"`
}

// MachineAdded is a new machine, set up from a profile.
type MachineAdded struct {
	Name  string          `json:"name"`
	Units quantity.System `json:"units,omitempty"`
	Setup Setup           `json:"setup"`
}

// SetupChanged is a machine's set-up after a steward confirmed or changed Item.
type SetupChanged struct {
	Item  string `json:"item"`
	Setup Setup  `json:"setup"`
}

// MachineRetired takes a machine off the books; its facts stay.
type MachineRetired struct{}

// GaugeSet adds one of the shop's own gauges, or changes the one of that name.
type GaugeSet struct {
	Gauge OwnGauge `json:"gauge"`
}

// StudyBegun begins a study of how a gauge repeats, for one check: so many parts,
// each read so many times by every person who takes part. Its number names it.
type StudyBegun struct {
	Gauge     string         `json:"gauge"`
	Machine   MachineID      `json:"machine"`
	Check     string         `json:"check"`     // id
	Name      string         `json:"name"`      // of the check, as it stood
	Tolerance quantity.Value `json:"tolerance"` // high adjust limit - low one; the allowed difference where there are none
	Entry     quantity.Unit  `json:"entry"`     // what a bare number is in
	Kind      quantity.Kind  `json:"kind"`
	Parts     int            `json:"parts"`
	Trials    int            `json:"trials"`
}

// StudyReading is one person's readings of one part in a study.
type StudyReading struct {
	Study  FactNo           `json:"study"`
	Part   int              `json:"part"` // from 1
	Values []quantity.Value `json:"values"`
}

func (StudyBegun) FactKind() Kind       { return KindStudy }
func (StudyReading) FactKind() Kind     { return KindStudyReading }
func (Hours) FactKind() Kind            { return KindHours }
func (CounterRead) FactKind() Kind      { return KindCounter }
func (Mended) FactKind() Kind           { return KindMended }
func (Found) FactKind() Kind            { return KindFound }
func (EventSeen) FactKind() Kind        { return KindEvent }
func (StockCounted) FactKind() Kind     { return KindStock }
func (SetMoved) FactKind() Kind         { return KindSet }
func (VisitsPlanned) FactKind() Kind    { return KindVisits }
func (UnderTest) FactKind() Kind        { return KindTest }
func (TestEnded) FactKind() Kind        { return KindTestEnded }
func (Reading) FactKind() Kind          { return KindReading }
func (Inspection) FactKind() Kind       { return KindInspection }
func (Problem) FactKind() Kind          { return KindProblem }
func (ServiceDone) FactKind() Kind      { return KindService }
func (Handover) FactKind() Kind         { return KindHandover }
func (TakenOver) FactKind() Kind        { return KindTakenOver }
func (PutOff) FactKind() Kind           { return KindPutOff }
func (Taken) FactKind() Kind            { return KindTaken }
func (Move) FactKind() Kind             { return KindMove }
func (MoveAnswer) FactKind() Kind       { return KindMoveAnswer }
func (TagOut) FactKind() Kind           { return KindTagOut }
func (Release) FactKind() Kind          { return KindRelease }
func (Withdrawal) FactKind() Kind       { return KindWithdrawal }
func (ReadingConfirmed) FactKind() Kind { return KindConfirmation }
func (ShopSet) FactKind() Kind          { return KindShop }
func (MachineAdded) FactKind() Kind     { return KindMachine }
func (SetupChanged) FactKind() Kind     { return KindSetup }
func (MachineRetired) FactKind() Kind   { return KindRetired }
func (GaugeSet) FactKind() Kind         { return KindGauge }

// EncodeBody writes a body as JSON, for storage beside its kind.
func EncodeBody(b Body) ([]byte, error) { return json.Marshal(b) }

// DecodeBody reads what EncodeBody wrote for that kind.
func DecodeBody(k Kind, text []byte) (Body, error) {
	switch k {
	case KindHours:
		return decode[Hours](text)
	case KindCounter:
		return decode[CounterRead](text)
	case KindMended:
		return decode[Mended](text)
	case KindFound:
		return decode[Found](text)
	case KindEvent:
		return decode[EventSeen](text)
	case KindStock:
		return decode[StockCounted](text)
	case KindSet:
		return decode[SetMoved](text)
	case KindVisits:
		return decode[VisitsPlanned](text)
	case KindTest:
		return decode[UnderTest](text)
	case KindTestEnded:
		return decode[TestEnded](text)
	case KindReading:
		return decode[Reading](text)
	case KindInspection:
		return decode[Inspection](text)
	case KindProblem:
		return decode[Problem](text)
	case KindService:
		return decode[ServiceDone](text)
	case KindHandover:
		return decode[Handover](text)
	case KindTakenOver:
		return decode[TakenOver](text)
	case KindPutOff:
		return decode[PutOff](text)
	case KindTaken:
		return decode[Taken](text)
	case KindMove:
		return decode[Move](text)
	case KindMoveAnswer:
		return decode[MoveAnswer](text)
	case KindTagOut:
		return decode[TagOut](text)
	case KindRelease:
		return decode[Release](text)
	case KindWithdrawal:
		return decode[Withdrawal](text)
	case KindConfirmation:
		return decode[ReadingConfirmed](text)
	case KindShop:
		return decode[ShopSet](text)
	case KindMachine:
		return decode[MachineAdded](text)
	case KindSetup:
		return decode[SetupChanged](text)
	case KindRetired:
		return decode[MachineRetired](text)
	case KindStudy:
		return decode[StudyBegun](text)
	case KindStudyReading:
		return decode[StudyReading](text)
	case KindGauge:
		return decode[GaugeSet](text)
	}
	return nil, fmt.Errorf("unknown kind of fact %q", k)
}

func decode[B Body](text []byte) (Body, error) {
	var b B
	if err := json.Unmarshal(text, &b); err != nil {
		return nil, fmt.Errorf("fact of kind %s: %w", b.FactKind(), err)
	}
	return b, nil
}
