package domain

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
)

// withdrawing says whether a fact can be taken back.
type withdrawing uint8

// The ways: never, since it is changed by another of its kind or, like a
// withdrawal, not taken back at all; always; only where a person reported it.
const (
	notWithdrawn withdrawing = iota
	withdrawn
	withdrawnIfReported
)

// kindOf is a row of the table of kinds: what the program has to know of the facts
// whose body is a B.
type kindOf[B Body] struct {
	withdrawing withdrawing
	structural  bool           // it changes a shop's settings or its machines
	last        bool           // the last one about each subject is kept at hand, with the use since
	subject     func(B) string // the check, service … it is about, by which it is found again; nil for none
	note        func(B) string // the note that it came with; nil for none
	use         func(B) int64  // the use in seconds that it tells of; nil for none
	doubted     func(B) bool   // it is not believed until it is confirmed; nil for believed at once
}

// factKinds is every kind of fact there is: a fact of a kind without a row can
// neither be stored nor read back.
var factKinds = tableOf(
	kindOf[Hours]{withdrawing: withdrawn, use: func(b Hours) int64 { return b.Seconds }},
	kindOf[CounterRead]{withdrawing: withdrawn, last: true, use: func(b CounterRead) int64 { return b.Unlogged }},
	kindOf[Reading]{withdrawing: withdrawn, subject: func(b Reading) string { return b.Check },
		doubted: func(b Reading) bool { return b.Unconfirmed }},
	kindOf[ReadingConfirmed]{withdrawing: withdrawn},
	kindOf[Inspection]{withdrawing: withdrawn, subject: func(b Inspection) string { return b.Check },
		note: func(b Inspection) string { return b.Note }},
	kindOf[Problem]{withdrawing: withdrawn, subject: problemSubject, note: func(b Problem) string { return b.Note }},
	kindOf[Mended]{withdrawing: withdrawn, last: true, subject: func(b Mended) string { return b.Key },
		note: func(b Mended) string { return b.Note }},
	kindOf[Found]{withdrawing: withdrawn, subject: func(b Found) string { return b.Key }},
	kindOf[ServiceDone]{withdrawing: withdrawn, last: true, subject: func(b ServiceDone) string { return b.Service },
		note: func(b ServiceDone) string { return b.Note }},
	kindOf[EventSeen]{withdrawing: withdrawn, last: true, subject: func(b EventSeen) string { return b.Event },
		note: func(b EventSeen) string { return b.Note }},
	kindOf[PutOff]{withdrawing: withdrawn, last: true, subject: func(b PutOff) string { return b.Service }},
	kindOf[Extended]{withdrawing: withdrawn, last: true, subject: func(b Extended) string { return b.Check }},
	kindOf[Taken]{withdrawing: withdrawn, last: true, subject: func(b Taken) string { return b.Service }},
	kindOf[Handover]{withdrawing: withdrawn, last: true},
	kindOf[TakenOver]{withdrawing: withdrawn, last: true},
	kindOf[Move]{withdrawing: withdrawn, subject: func(b Move) string { return b.Check }},
	kindOf[MoveAnswer]{withdrawing: withdrawn, subject: func(b MoveAnswer) string { return b.Check }},
	kindOf[StockCounted]{withdrawing: withdrawn, subject: func(b StockCounted) string { return Folded(b.Name) }},
	kindOf[SetMoved]{withdrawing: withdrawn, last: true, subject: func(b SetMoved) string { return Folded(b.Set) }},
	kindOf[VisitsPlanned]{withdrawing: withdrawn},
	kindOf[TagOut]{withdrawing: withdrawnIfReported},
	kindOf[Mistake]{},
	kindOf[LockAsked]{withdrawing: withdrawn},
	kindOf[LockKept]{},
	kindOf[LockProcedure]{withdrawing: withdrawn, note: func(b LockProcedure) string { return b.Note }},
	kindOf[LockOff]{withdrawing: withdrawn},
	kindOf[UnderTest]{note: func(b UnderTest) string { return b.Note }},
	kindOf[TestEnded]{note: func(b TestEnded) string { return b.Note }},
	kindOf[TestRenewed]{last: true},
	kindOf[Release]{withdrawing: withdrawn, last: true, note: func(b Release) string { return b.Note }},
	kindOf[Ticked]{withdrawing: withdrawn, last: true, subject: func(b Ticked) string { return b.Tick }},
	kindOf[SeenTo]{withdrawing: withdrawnIfReported, last: true},
	kindOf[Withdrawal]{note: func(b Withdrawal) string { return b.Note }},
	kindOf[ShopSet]{structural: true},
	kindOf[AwaySet]{structural: true},
	kindOf[MachineAdded]{structural: true},
	kindOf[SetupChanged]{structural: true, note: func(b SetupChanged) string { return b.Note }},
	kindOf[LooseningAsked]{withdrawing: withdrawn, last: true, note: func(b LooseningAsked) string { return b.Why }},
	kindOf[MachineRetired]{structural: true},
	kindOf[GaugeSet]{},
	kindOf[StudyBegun]{},
	kindOf[StudyReading]{withdrawing: withdrawn,
		subject: func(b StudyReading) string { return strconv.FormatInt(int64(b.Study), 10) }},
)

// row is the row with functions of any body: those that a kind lacks give nothing.
func (k kindOf[B]) row() kindRow {
	var zero B
	kind := zero.FactKind()
	return kindRow{kind: kind, withdrawing: k.withdrawing, structural: k.structural, last: k.last, uses: k.use != nil,
		subject: ofAny(k.subject), note: ofAny(k.note), use: ofAny(k.use), doubted: ofAny(k.doubted),
		decode: func(text []byte) (Body, error) {
			var b B
			if err := json.Unmarshal(text, &b); err != nil {
				return nil, fmt.Errorf("read a fact of kind %s: %w", kind, err)
			}
			return b, nil
		}}
}

// ofAny is a function of one type of body as one of any body, which gives the zero
// value for others and where there is no function.
func ofAny[B Body, V any](f func(B) V) func(Body) V {
	return func(body Body) (v V) {
		if b, ok := body.(B); ok && f != nil {
			v = f(b)
		}
		return v
	}
}

// kindRow is a row of the table, whatever the type of its bodies.
type kindRow struct {
	kind                   Kind
	withdrawing            withdrawing
	structural, last, uses bool
	subject, note          func(Body) string
	use                    func(Body) int64
	doubted                func(Body) bool
	decode                 func(text []byte) (Body, error)
}

// kindTable is the rows by kind, and the kinds in the table's order.
type kindTable struct {
	order []Kind
	rows  map[Kind]kindRow
}

// tableOf puts rows into a table. It panics where two rows are of one kind.
func tableOf(all ...interface{ row() kindRow }) kindTable {
	table := kindTable{rows: map[Kind]kindRow{}}
	for _, one := range all {
		row := one.row()
		if _, twice := table.rows[row.kind]; twice {
			panic("domain: two kinds of fact called " + string(row.kind))
		}
		table.rows[row.kind] = row
		table.order = append(table.order, row.kind)
	}
	return table
}

// of is the row of a body.
func (t kindTable) of(b Body) kindRow {
	row, known := t.rows[b.FactKind()]
	if !known {
		panic("domain: a fact of kind " + string(b.FactKind()) + " without a row in the table of kinds")
	}
	return row
}

// where lists the kinds for which a condition holds, in the table's order.
func (t kindTable) where(holds func(kindRow) bool) []Kind {
	return slices.DeleteFunc(slices.Clone(t.order), func(k Kind) bool { return !holds(t.rows[k]) })
}

// Kinds lists every kind of fact.
func Kinds() []Kind { return slices.Clone(factKinds.order) }

// KindsWithdrawn lists the kinds of fact that can be withdrawn, those among them
// that can be so only where a person reported them.
func KindsWithdrawn() []Kind {
	return factKinds.where(func(r kindRow) bool { return r.withdrawing != notWithdrawn })
}

// KindsKeptLast lists the kinds of fact of which the last one about each subject is kept
// at hand.
func KindsKeptLast() []Kind { return factKinds.where(func(r kindRow) bool { return r.last }) }

// KindsOfUse lists the kinds of fact that tell of use.
func KindsOfUse() []Kind { return factKinds.where(func(r kindRow) bool { return r.uses }) }

// Withdrawable reports whether a fact can be taken back at all.
func (f Fact) Withdrawable() bool {
	switch factKinds.of(f.Body).withdrawing {
	case withdrawn:
		return true
	case withdrawnIfReported:
		return f.By != ""
	}
	return false
}

// Structural reports whether a body changes a shop's settings or its machines.
func Structural(b Body) bool { return factKinds.of(b).structural }

// KeptLast reports whether the last fact of a body's kind about its subject is kept
// at hand, with the use since.
func KeptLast(b Body) bool { return factKinds.of(b).last }

// Subject is the check, service, event … that a body is about, by which facts are
// found again; "" for none.
func Subject(b Body) string { return factKinds.of(b).subject(b) }

// Note is the note that a report came with, "" for none.
func Note(b Body) string { return factKinds.of(b).note(b) }

// UseTold is the use in seconds that a body tells of.
func UseTold(b Body) int64 { return factKinds.of(b).use(b) }

// Believed reports whether a body is believed before anybody confirms it.
func Believed(b Body) bool { return !factKinds.of(b).doubted(b) }

// problemSubject is the subject of a problem: only one that came back has one.
func problemSubject(p Problem) string {
	if p.Returned == 0 {
		return ""
	}
	return ReturnedSubject(p.Key())
}

// ReturnedSubject is the subject of the reports that say that a problem came back
// after it was mended.
func ReturnedSubject(key string) string { return "returned:" + key }

// EncodeBody writes a body as JSON, for storage beside its kind.
func EncodeBody(b Body) ([]byte, error) { return json.Marshal(b) }

// DecodeBody reads what EncodeBody wrote for that kind.
func DecodeBody(k Kind, text []byte) (Body, error) {
	row, known := factKinds.rows[k]
	if !known {
		return nil, fmt.Errorf("unknown kind of fact %q", k)
	}
	return row.decode(text)
}
