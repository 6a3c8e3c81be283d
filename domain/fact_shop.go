package domain

import (
	"setscrew/domain/quantity"
)

// KindShop is the kind of a ShopSet.
const KindShop Kind = "shop"

// ShopSet is the shop's settings after a change.
type ShopSet struct {
	Shop Shop `json:"shop"`
}

// FactKind is KindShop.
func (ShopSet) FactKind() Kind { return KindShop }

// KindMachine is the kind of a MachineAdded.
const KindMachine Kind = "machine"

// MachineAdded is a new machine, set up from a profile.
type MachineAdded struct {
	Name  string          `json:"name"`
	Units quantity.System `json:"units,omitempty"`
	Setup Setup           `json:"setup"`
}

// FactKind is KindMachine.
func (MachineAdded) FactKind() Kind { return KindMachine }

// KindSetup is the kind of a SetupChanged.
const KindSetup Kind = "set-up"

// SetupChanged is a machine's set-up after a steward confirmed or changed Item.
type SetupChanged struct {
	Item  Item  `json:"item"`
	Setup Setup `json:"setup"`
	// Loosens is the LooseningAsked that it puts in force, 0 for none.
	Loosens FactNo `json:"loosens,omitempty"`
	Note    string `json:"note,omitempty"`
	Alone   bool   `json:"alone,omitempty"` // no other steward was known
}

// FactKind is KindSetup.
func (SetupChanged) FactKind() Kind { return KindSetup }

// KindLoosening is the kind of a LooseningAsked.
const KindLoosening Kind = "loosening"

// LooseningAsked asks for a change of a machine's set-up that loosens a safety check. It
// waits until it is put in force, or the set-up changes otherwise.
type LooseningAsked struct {
	Item  Item   `json:"item"`
	Setup Setup  `json:"setup"` // as it would be
	Why   string `json:"why"`
	Page  string `json:"page,omitempty"` // of the maker's manual
	Photo *Photo `json:"photo,omitempty"`
	Alone bool   `json:"alone,omitempty"` // no other steward was known
	// Loosens is what it loosens; filled in by Complete.
	Loosens []Loosening `json:"loosens"`
}

// FactKind is KindLoosening.
func (LooseningAsked) FactKind() Kind { return KindLoosening }

// KindRetired is the kind of a MachineRetired.
const KindRetired Kind = "retired"

// MachineRetired takes a machine off the books; its facts stay.
type MachineRetired struct{}

// FactKind is KindRetired.
func (MachineRetired) FactKind() Kind { return KindRetired }

// KindGauge is the kind of a GaugeSet.
const KindGauge Kind = "gauge"

// GaugeSet adds one of the shop's own gauges, or changes the one of that name.
type GaugeSet struct {
	Gauge OwnGauge `json:"gauge"`
}

// FactKind is KindGauge.
func (GaugeSet) FactKind() Kind { return KindGauge }
